"""What was assumed: numbers with units, shown in the person's units and written for programs as it always was."""

from __future__ import annotations

import pytest

from backwave.assess import assess, check_json
from backwave.finding import Assumed, Ledger, Message, value_words, words
from backwave.job import loads
from backwave.job.starter import starter


@pytest.mark.parametrize(
    ("one", "program", "metric", "us"),
    [
        (Assumed("skin", 0.8, "mm", "x"), "0.8 mm", "0.8 mm", "0.031 in"),
        (Assumed("frame", 168.0, "mm", "x", 1), "168.0 mm", "168.0 mm", "6.614 in"),
        (Assumed("leak", 20.0, "cm2", "x"), "20 cm2", "20 cm²", "3.10 in²"),
        (Assumed("body", 0.001, "ohm", "x"), "0.001 ohm", "0.001 Ω", "0.001 Ω"),
        (Assumed("tiny", 2e-9, "ohm", "x"), "2e-09 ohm", "2e-09 ohm", "2e-09 ohm"),
        (Assumed("n", 0.7, "", "x"), "0.7", "0.7", "0.7"),
        (Assumed("kind", "sheet", "", "x"), "sheet", "sheet", "sheet"),
        (
            Assumed("bed", Message("{x:0} x {y}", (("x", 220.0, "mm"), ("y", 8.0, "mm"))), "", "x"),
            "220 mm x 8.0 mm",
            "220 mm x 8.0 mm",
            "8.661 in x 0.315 in",
        ),
    ],
)
def test_a_value_is_shown_in_the_units_of_the_person(one: Assumed, program: str, metric: str, us: str) -> None:
    assert value_words(one) == program
    assert value_words(one, "metric") == metric
    assert value_words(one, "us") == us


def test_a_template_says_how_many_decimals_it_wants() -> None:
    text = Message("{wide:0} and {high}", (("wide", 35.0, "mm"), ("high", "a word", "")))
    assert words(text) == "35 mm and a word"
    assert words(text, "us") == "1.378 in and a word"
    assert words(None) is None


def test_the_first_value_noted_under_a_key_stands() -> None:
    ledger = Ledger()
    ledger.note("a", 1.0, "mm", "first")
    ledger.take([Assumed("a", 2.0, "mm", "second"), Assumed("b", 3.0, "V", "x")])
    ledger.take([Assumed("a", 4.0, "mm", "of one load")], "load.amp.")
    assert {one.key: one.value for one in ledger.assumed.values()} == {"a": 1.0, "b": 3.0, "load.amp.a": 4.0}


def test_no_assumed_length_is_metric_where_a_person_reads_inches() -> None:
    text = starter("T", hole="143.5 mm", behind="58 mm", trim="37 mm", cutout="141 mm", magnet="92 mm", depth="64 mm")
    result = assess(loads(text), draws=1000)
    shown = {one.key: value_words(one, "us") for one in result.assumed}
    assert any(" in" in value for value in shown.values())
    metric = {key: v for key, v in shown.items() if any(unit in v.split() for unit in ("mm", "cm", "L", "kg", "degC"))}
    assert not metric
    assert {a["key"]: a["value"] for a in check_json(result)["assumed"]}["printer.bed"] == "220 mm x 220 mm x 250 mm"
