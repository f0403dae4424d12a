"""Every key of the job file can be reached, and what was typed is said back."""

from __future__ import annotations

import pytest

from backwave.bench import findings, schema_form
from backwave.bench.schema_form import Field, FormTable
from backwave.job.schema import reference


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
