"""Every key of the job file can be reached, and what was typed is said back."""

from __future__ import annotations

import tomllib
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

import backwave.cli
from backwave.bench import findings, schema_form
from backwave.bench.schema_form import Field, FormTable
from backwave.finding import Check, Finding, Message
from backwave.job.schema import reference
from backwave.job.starter import ASKED, starter, wrong

BETWEEN = "two thirds of the way from front-door.right.behind[0].clear to front-door.right.behind[1].clear"


def keys(table: FormTable, depth: int = 0) -> set[str]:
    found = {f.key for f in table.fields} | {t.key for t, _ in table.below}
    return found if depth > 4 else found.union(*(keys(t, depth + 1) for t, _ in table.below), set())


def test_every_key_of_the_reference_is_reached() -> None:
    """The reference page is generated from the model by itself; whatever stands there can be filled in here."""
    wanted = {key for _, _, rows in reference() for key, *_ in rows}
    assert wanted - keys(schema_form.table()) <= {"moving", "crest", "fixed"}  # `front` is typed as one table


def field(dimension: str) -> Field:
    return Field("x", "X", "", "text", (), dimension, "", "", False, True)


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("71 ± 1 mm", "71.0 mm ± 1 mm, either way"),
        ("2.8 in", "71.1 mm"),  # 2.8 x 25.4 = 71.12
        ("71 mm u 0.4 mm", "71.0 mm, standard uncertainty 0.4 mm"),
        (["70 mm", "72 mm"], "70.0 mm; 72.0 mm (2 readings of one thing)"),
    ],
)
def test_what_was_understood(written: object, said: str) -> None:
    assert schema_form.understood(field("length"), written, "metric") == said


def test_a_word_is_not_a_quantity() -> None:
    assert schema_form.understood(field("length"), "auto", "metric") == ""


def test_an_assumed_value_leads_to_its_field() -> None:
    data = {"opening": [{"id": "door", "fixings": [{"x": "0 mm"}]}], "adapter": [{"opening": "door"}]}
    path = findings.of_key(data, "opening.door.fixings[0].metal")
    assert path == ("opening", 0, "fixings", 0, "metal")
    assert findings.address_of(path) == "/survey/opening/0#f-opening-0-fixings-0-metal"
    assert findings.of_key(data, "margins.vent") == ("margins", "vent")
    assert findings.of_key(data, "opening.door.trim: cone to grille") is None


def cells(name: str, *path: str) -> Field:
    found = schema_form.find((*path, name))
    assert isinstance(found, Field)
    return found


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("4 o'clock", "330°, counterclockwise from 3 o'clock"),
        ("-30 deg", "4 o'clock"),
        ("7:30 o'clock", "225°, counterclockwise from 3 o'clock"),
    ],
)
def test_a_direction_is_said_both_ways(typed: str, said: str) -> None:
    assert schema_form.understood(cells("angle", "opening", "behind"), typed, "metric") == said


def test_several_values_are_typed_without_brackets() -> None:
    clear, sides = cells("clear", "opening", "behind"), cells("sides", "opening")
    held = ["58.2 mm", "57.8 mm"]
    assert schema_form.spoken(held) == "58.2 mm; 57.8 mm"
    assert schema_form.meant(clear, "58.2 mm; 57.8 mm") == '["58.2 mm", "57.8 mm"]'
    assert schema_form.meant(clear, "58.2 mm") == "58.2 mm"
    assert schema_form.meant(sides, "left") == '["left"]'
    assert schema_form.meant(cells("outline", "opening", "flange"), "3 in") == "76.2"  # 3 x 25.4
    assert cells("profile", "speaker").columns == ("radius", "depth")
    assert cells("at", "opening").kind == "cells"


@pytest.mark.parametrize(
    ("typed", "metric", "us"),
    [
        ("57", "57 mm", "57 in"), ("57; 58 ± 1;59 cm", '["57 mm", "58 ± 1 mm", "59 cm"]', '["57 in", "58 ± 1 in", "59 cm"]'),
        ("-60", "-60 mm", "-60 in"), ("5 1/2", "5 1/2", "5 1/2 in"), ("wide", "wide", "wide"), ("", "", ""),
    ],
)  # fmt: skip
def test_a_plain_number_is_a_length_in_the_persons_unit(typed: str, metric: str, us: str) -> None:
    clear = cells("clear", "opening", "behind")
    assert schema_form.meant(clear, typed, "metric") == metric
    assert schema_form.meant(clear, typed, "us") == us
    assert schema_form.meant(clear, "57") == "57", "what the file says is not touched"
    assert schema_form.meant(cells("angle", "opening", "behind"), "57", "metric") == "57"
    assert schema_form.meant(cells("outline", "opening", "flange"), "3", "us") == "3", "its head says mm"


def test_a_first_reading_is_taken_twice_or_refused_where_it_stands() -> None:
    assert wrong("hole", schema_form.with_unit("143.5; 143.8")) == ""
    assert 'diameter = ["143.5 mm", "143.8 mm"]' in starter(hole="143.5 mm; 143.8 mm")
    for name in ASKED:
        for typed, said in (("-5", "not above 0"), ("0", "not above 0"), ("143.5 m", "did you mean 143.5 mm")):
            assert said in wrong(name, schema_form.with_unit(typed)), name


@pytest.mark.parametrize(
    ("id_", "key", "there"),
    [
        ("fit.coverage.up-half@front-door.right", "behind", "/survey/opening/0#f-opening-0-right-behind"),
        ("fit.coverage.up-half@front-door.left", "behind", "/survey/opening/0#f-opening-0-behind"),
        ("fit.hole@front-door.right", "hole.diameter", "/survey/opening/0#f-opening-0-hole-diameter"),
        ("fit.read-once@front-door.right", BETWEEN, "/survey/opening/0#f-opening-0-right-behind-1-clear"),
        ("wire.pair.dash-right@dash.right", "pair.dash-right.resistance", "/wires/factory#pair-3"),
        ("wire.live.rear@factory", "factory_output.rear", "/wires/factory#output-gate-rear"),
    ],
)
def test_a_finding_leads_to_the_side_the_reading_or_the_gate_it_is_about(id_: str, key: str, there: str) -> None:
    """Of the right side's own tables in the right side; what is mirrored, where it was measured."""
    text = (Path(backwave.cli.__file__).parent / "demo_job" / "job.toml").read_text(encoding="utf-8")
    code, _, subject = id_.partition("@")
    code, part = ".".join(code.split(".")[:2]), ".".join(code.split(".")[2:])
    check = Check(code, "caution", Message("Confirm the lines"), key=key, part=part)
    board: Any = SimpleNamespace(data=tomllib.loads(text), result=None)
    assert findings.of_finding(board, Finding(check, subject)) == there


def test_a_key_that_is_no_trade_word_is_called_by_one() -> None:
    assert schema_form.path_words(("opening", 0, "trim", "land")) == "Trim, where the foam meets the trim"
