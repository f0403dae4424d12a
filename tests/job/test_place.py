"""Sides and readings: openings mirror, drivers do not; shared instruments share their error."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest

from backwave.assess.inputs.opening import bench_of, lean_of
from backwave.job import Bench, loads, places, schema
from backwave.units import parse

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = (ROOT / "docs/example-job.toml").read_text(encoding="utf-8")


def test_the_second_side_is_the_mirror_image_with_its_own_readings() -> None:
    text = EXAMPLE.replace(
        'what = "glass", window = "down" },\n]', 'what = "glass", window = "down", angle = "30 deg" },\n]'
    )
    left, right = places(loads(text))
    assert (left.subject, right.subject, right.name) == ("front-door.left", "front-door.right", "Front door, right")
    fixings = left.opening.fixings
    assert fixings is not None
    assert [right.x("fixings", f.x.to("mm")) for f in fixings] == [-left.x("fixings", f.x.to("mm")) for f in fixings]
    assert left.angle_deg("behind", parse("30 deg", "angle")) == pytest.approx(30.0)
    # [opening.right] has `behind`: measured there, so not mirrored; anything else is.
    assert right.angle_deg("behind", parse("30 deg", "angle")) == pytest.approx(30.0)
    assert right.angle_deg("fixings", parse("30 deg", "angle")) == pytest.approx(150.0)
    assert right.angle_deg("fixings", parse("4 o'clock", "angle")) == parse("8 o'clock", "angle").to("deg")
    assert right.key("behind") == "right.behind"
    assert right.key("trim") == "trim"


def test_a_position_is_mirrored_across_the_cabin() -> None:
    left, right = places(loads(EXAMPLE))
    assert left.position_m == pytest.approx((0.50, 0.06, 0.30))
    assert right.position_m == pytest.approx((0.50, 1.70 - 0.06, 0.30))


def test_an_override_of_the_trim_may_give_one_key_and_any_other_table_is_given_whole() -> None:
    text = EXAMPLE.replace(
        "[opening.right]\n", '[opening.right]\ntrim = { clear = "36 mm" }\nhole = { diameter = "143 mm" }\n', 1
    )
    left, right = places(loads(text))
    assert left.opening.trim is not None
    assert right.opening.trim is not None
    assert (str(left.opening.trim.clear), str(right.opening.trim.clear)) == ("37 mm", "36 mm")
    assert (str(right.opening.trim.land), right.opening.trim.by) == ("35 mm", "gauge")
    assert right.opening.hole is not None
    assert right.opening.hole.by is None
    assert {"trim", "hole", "behind"} == right.own


def test_a_single_opening_on_the_right_is_not_mirrored() -> None:
    text = EXAMPLE.replace('sides   = ["left", "right"]', 'sides = ["right"]').replace(
        'side = "left"', 'side = "right"'
    )
    (only,) = places(loads(text))
    assert (only.subject, only.mirrored, only.x("fixings", 5.0)) == ("front-door.right", False, 5.0)


def test_an_explicit_half_width_is_its_own_and_an_instrument_is_shared() -> None:
    bench = Bench("front-door", {"gauge": 1.0})
    a = bench.read("a", parse("58 ± 1 mm", "length"), "depth")
    b = bench.read("b", parse("55 mm", "length"), "depth", by="gauge")
    c = bench.read("c", parse("37 mm", "length"), "trim", by="gauge")
    d = bench.read("d", parse("71 mm u 0.4 mm", "length"), "depth")
    assert {e.name for e in a.errors}.isdisjoint(e.name for e in b.errors)
    assert b.errors == c.errors
    assert a.u == pytest.approx(1 / sqrt(3))  # JCGM 100:2008, 4.3.7
    assert d.u == 0.4


def test_a_list_is_its_mean_with_student_s_widening_and_the_instrument_once() -> None:
    bench = Bench("front-door", {"caliper": 0.05})
    written = tuple(parse(f"{v} mm", "length") for v in (70.8, 71.4, 71.1))
    reading = bench.read("hole", written, "metal", by="caliper")
    assert reading.value == pytest.approx(71.1)
    assert reading.taken == 3
    scatter, instrument = reading.errors
    # s = 0.3, n = 3: t95 with 2 degrees of freedom is 4.303 (JCGM 100:2008, Table G.2).
    assert 1.959964 * scatter.size == pytest.approx(4.303 * 0.3 / sqrt(3), rel=1e-6)
    assert (instrument.name, instrument.size) == ("front-door:caliper", 0.05)


def test_a_default_of_the_bench_replaces_the_defaults_by_kind() -> None:
    plain, own = Bench("o", {}), Bench("o", {"default": 0.7})
    assert plain.read("x", parse("58 mm", "length"), "depth").bound == 1.0
    assert own.read("x", parse("58 mm", "length"), "depth").bound == 0.7


def test_the_schema_agrees_with_the_model_on_the_example() -> None:
    document = schema.json_schema()
    assert document["properties"]["opening"]["type"] == "array"
    assert document["additionalProperties"] is False
    opening = document["$defs"]["Opening"]["properties"]
    assert opening["zone"]["enum"][0] == "door"
    assert all(p.get("description") or "$ref" in p or "allOf" in p for p in opening.values())


def test_every_key_is_on_the_reference_page() -> None:
    page = (ROOT / "docs/job-file.md").read_text(encoding="utf-8")
    for _, _, rows in schema.reference():
        for key, kind, _, meaning in rows:
            assert f"| `{key}` | " in page
            assert kind
            assert meaning, key


def test_the_default_instrument_may_be_named_and_its_error_is_shared_with_readings_that_name_it() -> None:
    bench = bench_of(loads(EXAMPLE.replace('tape    = "1 mm"', 'default = "caliper"')), "front-door")
    unnamed = bench.read("skin", parse("0.8 mm", "length"), "metal")
    assert unnamed.errors == bench.read("hole", parse("143 mm", "length"), "metal", "caliper").errors
    assert unnamed.u == pytest.approx(0.05 / sqrt(3))
    sheet = bench.read("rim", parse("5 mm", "length"), "sheet")
    assert sheet.errors[0].name == "front-door.rim"  # nobody held a caliper to a data sheet


@pytest.mark.parametrize(
    ("entry", "lean"),
    [
        ('mounting = { tilt = "12 deg", toward = "6 o\'clock", offset = ["3 mm", "4 mm"] }', (12.0, 5.0)),
        ('seat = { tilt = "12 deg", offset = "5 mm" }', (12.0, 5.0)),
        ("", (0.0, 0.0)),
    ],
)
def test_a_mounting_that_leans_has_two_names(entry: str, lean: tuple[float, float]) -> None:
    left, right = places(loads(EXAMPLE.replace('skin    = "0.8 mm"', 'skin    = "0.8 mm"\n' + entry, 1)))
    assert lean_of(left) == pytest.approx(lean)
    assert lean_of(right) == pytest.approx(lean)
