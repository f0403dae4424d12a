"""Branches, filters, ratings and colors are values as soon as the job is read, and keep what was typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from backwave.errors import JobError
from backwave.job import Job, loads
from backwave.job.schema import json_schema, reference
from backwave.notation.crossover import Branch, CrossoverPart, Filter, Group
from backwave.notation.measures import Rating
from backwave.notation.wires import WireColor

TEXT = (Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job/job.toml").read_text(encoding="utf-8")


def job(old: str = "", new: str = "") -> Job:
    assert old in TEXT
    return loads(TEXT.replace(old, new, 1) if old else TEXT)


def test_they_are_values_with_the_text_as_typed() -> None:
    file = job('"series R 1.5 ohm"', '"series  R 1500 mohm"').file
    branches = [branch for path in file.stage[1].path for branch in path.network]
    first = next(branch for branch in branches if branch.text.startswith("series  R"))
    assert isinstance(first.what, CrossoverPart)
    assert (first.place, first.what.kind, first.what.value) == ("series", "R", pytest.approx(1.5))
    assert (str(first), first.words) == ("series  R 1500 mohm", "R 1500 mohm")
    (cut, peak) = file.stage[2].path[0].filters
    assert (cut.kind, peak) == ("high-pass", Filter("peak", 160, "", -3, 2))
    assert str(peak) == "peak 160 Hz -3 dB Q 2"
    rated = {source.id: source.power for source in file.source}
    assert (rated["amp"], str(rated["amp"])) == (Rating(4, 75, 4), "4 x 75 W into 4 ohm")
    pins = [pin for plug in file.plug for pin in plug.pin if pin.color is not None]
    assert WireColor("GY", "RD") in [pin.color for pin in pins]


def test_words_and_letters_are_one_color_and_an_empty_one_is_none() -> None:
    for typed in ("gray/red", "grey with a red stripe", "gy-rd"):
        pin = job('color = "GY/RD"', f'color = "{typed}"').file.plug
        found = next(p.color for plug in pin for p in plug.pin if str(p.color) == typed)
        assert found == WireColor("GY", "RD")
        assert found.code == "GY/RD"
    empty = job('color = "GY/RD"', 'color = ""').file
    assert None in [p.color for plug in empty.plug for p in plug.pin]


def test_written_out_again_they_are_what_was_typed() -> None:
    file = job().file
    document = json.loads(file.model_dump_json(include={"stage", "source", "plug"}))
    typed = [text for path in document["stage"][1]["path"] for text in path["network"]]
    assert "shunt L 0.27 mH 0.15 ohm" in typed
    assert {source["power"] for source in document["source"]} >= {"4 x 75 W into 4 ohm", "250 W into 4 ohm", None}
    assert all(f'"{text}"' in TEXT for text in typed)


@pytest.mark.parametrize(
    ("old", "new", "key", "message"),
    [
        ('"shunt L 0.27 mH 0.15 ohm"', '"shunt Q 3"', "stage.speakers.path[1].network[2]", "not a part"),
        ('power        = "4 x 75 W into 4 ohm"', "power = 75", "source.amp.power", "not text"),
        ('power        = "4 x 75 W into 4 ohm"', 'power = "75 kg into 4 ohm"', "source.amp.power", "not a rating"),
        ('color = "GY/RD"', 'color = "GY/RED/BK"', "plug.", "color of a wire"),
        ('color = "GY/RD"', "color = 3", "plug.", "not text"),
    ],
)
def test_what_cannot_be_read_is_named_with_its_line(old: str, new: str, key: str, message: str) -> None:
    with pytest.raises(JobError) as error:
        job(old, new)
    found = [p for p in error.value.problems if p.key.startswith(key) and message in p.message]
    assert found, str(error.value)
    assert found[0].line == TEXT.replace(old, new, 1)[: TEXT.replace(old, new, 1).index(new)].count("\n") + 1


def test_the_schema_and_the_reference_still_call_them_text() -> None:
    schema = json_schema()["$defs"]
    assert schema["Path"]["properties"]["network"]["items"] == {"type": "string", "maxLength": 200}
    assert {"type": "string", "maxLength": 200} in schema["Source"]["properties"]["power"]["anyOf"]
    assert {"type": "string", "maxLength": 200} in schema["Pin"]["properties"]["color"]["anyOf"]
    rows = {(heading, key): kind for heading, _, keys in reference() for key, kind, _, _ in keys}
    assert rows["[[stage.path]]", "network"] == rows["[[stage.path]]", "filters"] == "list of text"
    assert rows["[[source]]", "power"] == rows["[[plug.pin]]", "hides"] == "text"


def test_a_branch_made_here_is_written_in_plain_words() -> None:
    made = Branch("shunt", Group("series", (CrossoverPart("R", 3.3), CrossoverPart("C", 26e-6))))
    assert str(made) == "shunt R 3.3 ohm + C 26 uF"
    assert made.words == "R 3.3 ohm + C 26 uF"
