"""The demo van is what it says it is: complete, consistent, and a close call."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from backwave.assess import Assessment, assess, check_json
from backwave.drawing.face import face_sheet
from backwave.drawing.section import section_sheet
from backwave.drawing.sheet import overlaps
from backwave.fit.clocking import Clocking
from backwave.job import Job, load, loads, toml_edit

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job"
TEXT = (DEMO / "job.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def job() -> Job:
    return load(DEMO)


@pytest.fixture(scope="module")
def result(job: Job) -> Assessment:
    return assess(job)


def changed(**keys: object) -> Assessment:
    text = TEXT
    for key, value in keys.items():
        text = toml_edit.with_key(text, key.replace("__", ".").replace("front_door", "front-door"), value)
    return assess(loads(text))


def test_it_is_complete(job: Job, result: Assessment) -> None:
    assert [p.subject for p in result.places] == ["front-door.left", "front-door.right", "cargo-wall"]
    assert [p.id for p in result.parts] == [
        "front-door-demo-165-left",
        "front-door-demo-165-right",
        "cargo-wall-demo-130",
    ]
    assert result.verdict == "caution"
    assert not [f for f in result.findings if f.check.code == "job.missing"]
    assert not job.trade_sizes
    assert result.names["front-door.left"] == "Front door, left"


def test_the_glass_is_a_close_call(result: Assessment) -> None:
    for place in result.places[:2]:
        window = place.fit.window
        assert window is not None
        assert window.low_mm is not None
        assert window.high_mm is not None
        assert window.open
        assert window.high_mm - window.low_mm < 1.0
        assert window.low_by == "glass"


def test_the_unturned_pattern_collides_and_the_turned_one_does_not() -> None:
    unturned = changed(**{"adapter[0]__turn": "0 deg"})
    stop = next(f for f in unturned.findings if f.id == "fit.clocking@front-door.left")
    assert stop.check.verdict == "stop"
    assert stop.check.remedy is not None
    turned = next(f for f in assess(loads(TEXT)).findings if f.id == "fit.clocking@front-door.left")
    assert turned.check.verdict == "ok"


def test_left_and_right_differ(result: Assessment) -> None:
    left, right = result.places[:2]
    assert left.fit.seat_height_mm != right.fit.seat_height_mm
    a, b = left.fit.clearance("glass"), right.fit.clearance("glass")
    assert a is not None
    assert b is not None
    assert a.estimate != b.estimate
    verdicts = {f.id: f.check.verdict for f in result.findings}
    assert verdicts["fit.read-once@front-door.left"] == "ok"  # three readings
    assert verdicts["fit.read-once@front-door.right"] == "caution"


def test_the_second_opening_is_round_under_a_free_form_flange(job: Job, result: Assessment) -> None:
    assert job.file.opening[2].hole is not None
    assert job.file.opening[2].hole.diameter is not None
    outline = result.parts[2].spec.outline
    assert outline.circle is None
    points = outline.points(0.5)
    radii = (points**2).sum(axis=1) ** 0.5
    assert radii.max() - radii.min() > 10.0


def test_the_driver_is_never_mirrored_and_the_opening_always(result: Assessment) -> None:
    left, right = result.parts[:2]
    assert [(f.x_mm, f.y_mm) for f in right.spec.fixings] == [(-f.x_mm, f.y_mm) for f in left.spec.fixings]
    turns = [p.clocking for p in result.places[:2]]
    assert all(isinstance(t, Clocking) for t in turns)
    # The driver's terminals are turned to the same place on both sides, down: they were not mirrored.
    assert [t.terminals_deg for t in turns if t is not None] == [270.0, 270.0]
    assert (left.spec.lettering.side, right.spec.lettering.side) == ("L", "R")  # type: ignore[union-attr]


def test_the_formula_of_glass_clearance_by_hand(result: Assessment) -> None:
    # JOB-FILE's definition, worked by hand at the magnet's edge: radius 46, depth 64, glass between its readings.
    place = result.places[1]
    clear = 57.5 + (55.0 - 57.5) * 46.0 / 60.0
    glass = place.fit.clearance("glass")
    assert glass is not None
    assert glass.estimate.value == pytest.approx(place.fit.seat_height_mm + clear - 64.0, abs=1e-9)
    grille = place.fit.clearance("grille")
    assert grille is not None
    assert grille.estimate.value == pytest.approx(37.1 - (place.fit.seat_height_mm + 9.0 + 9.0), abs=1e-9)


def test_seat_height_is_the_sum_of_its_parts(result: Assessment) -> None:
    for place, part in zip(result.places, result.parts):
        lift = place.stack.lift.value
        assert 0.0 < lift < 0.15  # the gasket lifts the flange between its fixings, by as much on the mean
        own = {"demo-165": 0.7, "demo-130": 0.6}[place.speaker_id]  # the speaker's gasket, closed
        assert place.fit.seat_height_mm == pytest.approx(
            1.5 + lift + part.spec.thickness_mm + own
        )  # half of 3 mm of foam


def test_a_tilted_seat_is_a_stop_that_says_so() -> None:
    tilted = changed(opening__front_door__seat={"tilt": "8 deg"})
    stops = [f for f in tilted.findings if f.check.verdict == "stop"]
    assert {f.check.code for f in stops} == {"fit.seat"}


def test_a_stand_in_that_touched_outranks_every_reading() -> None:
    touched = changed(opening__front_door__stand_in={"outcome": "touched", "where": "half window, 4 o'clock"})
    verdicts = {f.id: f.check.verdict for f in touched.findings}
    assert verdicts["fit.stand-in@front-door.left"] == "stop"
    assert "fit.stand-in@front-door.right" not in verdicts  # the other side was not tried


def test_a_second_side_without_a_reading_of_its_own_is_told() -> None:
    alone = assess(loads(TEXT[: TEXT.index("[opening.right]")] + TEXT[TEXT.index("# ---- the corners of the dash") :]))
    verdicts = {f.id: f.check.verdict for f in alone.findings}
    assert verdicts["fit.mirrored@front-door.right"] == "caution"


def test_a_fixed_thickness_is_honored_and_judged() -> None:
    thin = changed(**{"adapter[0]__thickness": "6 mm"})
    assert thin.parts[0].spec.thickness_mm == 6.0
    verdicts = {f.id: f.check.verdict for f in thin.findings}
    assert verdicts["fit.glass@front-door.left"] == "stop"
    assert verdicts["part.engagement.thickness@front-door.left"] == "stop"


def test_sheet_layers_add_up_to_the_thickness() -> None:
    text = toml_edit.with_key(TEXT, "adapter[0].process", "sheet")
    text = toml_edit.with_key(text, "adapter[0].material", "birch plywood")
    text = toml_edit.with_key(text, "adapter[0].threads", "screw ST4.2")
    part = assess(loads(text)).parts[0]
    assert sum(part.how.layers_mm) == pytest.approx(part.spec.thickness_mm)  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("adapter[0].material", "unobtainium", "unobtainium"),
        ("adapter[0].foam.grade", "9Z9", "9Z9"),
        ("adapter[0].threads", "insert M14", "M14"),
        ("adapter[0].process", "sheet", "ASA"),
    ],
)
def test_a_row_that_no_table_has_is_a_fault_of_the_job(key: str, value: str, says: str) -> None:
    from backwave.errors import JobError

    with pytest.raises(JobError, match=says):
        assess(loads(toml_edit.with_key(TEXT, key, value)))


def test_a_row_of_your_own_is_taken() -> None:
    own = '\n[[stock.material]]\nname = "my blend"\nlike = "ASA"\nhdt_degc = 120.0\nservice_degc = 120.0\n'
    text = toml_edit.with_key(TEXT + own, "adapter[0].material", "my blend")
    result = assess(loads(text))
    assert result.parts[0].material.hdt_degc == 120.0
    assert "entered by you" in result.parts[0].material.source


def test_an_edit_recomputes_only_what_depends_on_it(job: Job) -> None:
    from backwave.assess import Memo

    memo = Memo()
    assess(job, memo)
    before = memo.misses
    assess(job, memo)
    assert memo.misses == before
    assess(loads(toml_edit.with_key(TEXT, "opening.cargo-wall.trim.clear", "31 mm")), memo)
    assert 0 < memo.misses - before <= 6  # one place's choice, flange, judgment, mounting and advice


def test_a_caution_that_is_always_on_changes_no_verdict(result: Assessment) -> None:
    assert {"safe.door", "safe.drilling", "safe.fumes", "safe.water"} <= {f.check.code for f in result.cautions}
    assert not [f for f in result.findings if f.topic == "safe"]


def test_no_text_of_the_drawings_touches_another(result: Assessment) -> None:
    for place in result.places:
        for system in ("metric", "us"):
            assert overlaps(section_sheet(place, system=system)) == []
            assert overlaps(face_sheet(place, system=system)) == []


def test_json_keeps_to_millimeters_whatever_is_shown(result: Assessment) -> None:
    assert check_json(replace(result, show="us"))["fit"] == check_json(result)["fit"]
