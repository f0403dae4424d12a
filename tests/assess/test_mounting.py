"""Whole jobs that cannot be put together, each with the code that stops it, and the same job sound."""

from __future__ import annotations

from dataclasses import replace

import pytest

from backwave.assess import PlaceResult, assess
from backwave.assess.part_release import reason_row
from backwave.errors import InputError
from backwave.finding import Verdict, worst
from backwave.job import loads, toml_edit

SOUND = """
format = 1
title = "Test bench"

[[opening]]
id = "door"
zone = "door"
hole = { diameter = "143.5 mm", by = "caliper" }
skin = "0.8 mm"
flange = { diameter = "190 mm" }
fixings = [
  { x = "0 mm", y = "84.5 mm", hole = "5.5 mm", head = "10 mm", holds = "rivet nut" },
  { x = "-73.18 mm", y = "-42.25 mm", hole = "5.5 mm", head = "10 mm", holds = "rivet nut" },
  { x = "73.18 mm", y = "-42.25 mm", hole = "5.5 mm", head = "10 mm", holds = "rivet nut" },
]
behind = [
  { radius = "0 mm", clear = "73 mm", by = "caliper", what = "glass", window = "down" },
  { radius = "75 mm", clear = "73 mm", by = "caliper", what = "glass", window = "down" },
]
trim = { clear = "46 mm", by = "caliper", land = "36 mm" }

[instruments]
caliper = "0.05 mm"

[[speaker]]
id = "woofer"
kind = "woofer"
frame = "166 mm"
cutout = "141 mm"
rim = "5.2 mm"
front = "9 mm"
profile = [["70 mm", "0 mm"], ["66 mm", "14 mm"], ["46 mm", "38 mm"], ["46 mm", "64 mm"]]
holes = { count = 4, circle = "156 mm", diameter = "5 mm", first = "45 deg" }
terminals = { angle = "225 deg", width = "34 mm", radius = "62 mm", depth = "26 mm", start = "12 mm" }
gasket = "0 mm"
mass = "1.15 kg"
motor = { Xmax = "5.5 mm", Xmech = "9 mm" }

[[adapter]]
opening = "door"
speaker = "woofer"
material = "ASA"
thickness = "14.2 mm"
foam = { back = "3 mm", ring = "auto", grade = "2A0" }
"""
DEEP_TERMINALS = {"angle": "225 deg", "width": "34 mm", "radius": "78 mm", "depth": "26 mm", "start": "4 mm"}
SQUARE = [[72, 72], [-72, 72], [-72, -72], [72, -72]]
ARMS = [{"x": x, "y": y, "hole": "5.5 mm", "holds": "bolt"} for x, y in (("0 mm", "84 mm"), ("84 mm", "0 mm"))]
CROSS = [[95, 20], [20, 20], [20, 95], [-20, 95], [-20, 20], [-95, 20], [-95, -20], [-20, -20], [-20, -95], [20, -95], [20, -20], [95, -20]]  # fmt: skip


def judged(edits: dict[str, object] | None = None) -> PlaceResult:
    text = SOUND
    for key, value in (edits or {}).items():
        text = text.replace(f"{key.split('.')[-1]} = ", "# ") if value is None else toml_edit.with_key(text, key, value)
    return assess(loads(text), draws=400).places[0]


@pytest.fixture(scope="module")
def sound() -> PlaceResult:
    return judged()


WRONG: dict[str, tuple[str, str, Verdict, dict[str, object]]] = {
    "bore narrower than the basket": ("mount.bore", "", "stop", {"adapter[0].bore": "120 mm"}),
    "cutout below the profile": ("mount.bore", "", "stop", {"speaker.woofer.cutout": "130 mm"}),
    "magnet wider than the bore": (
        "mount.way-in", "", "stop",
        {"speaker.woofer.profile": [["70 mm", "0 mm"], ["60 mm", "20 mm"], ["76 mm", "30 mm"], ["76 mm", "64 mm"]]},
    ),
    "terminals in the wall": ("mount.terminals", "", "stop", {"speaker.woofer.terminals": DEEP_TERMINALS}),
    "terminals behind the part": (
        "mount.terminals", "", "caution", {"speaker.woofer.terminals": DEEP_TERMINALS | {"depth": "44 mm", "start": "30 mm"}},
    ),
    "bore wider than the frame": ("mount.seat", "", "stop", {"adapter[0].bore": "170 mm"}),
    "holes outside the frame": ("mount.frame", "", "stop", {"speaker.woofer.frame": "150 mm"}),
    "holes inside the cutout": (
        "mount.frame", "", "stop", {"speaker.woofer.holes": {"count": 4, "circle": "136 mm", "diameter": "5 mm"}},
    ),
    "flange that leaves the hole open": ("mount.flange", "", "stop", {"opening.door.flange": {"corners": CROSS}, "opening.door.fixings": ARMS}),
    "flange that hardly laps": ("mount.flange", "", "caution", {"opening.door.hole": {"diameter": "186 mm"}}),
    "collar in the air": (
        "mount.collar", "", "stop", {"adapter[0].collar": {"height": "4 mm", "width": "21 mm"}},
    ),
    "collar cut by a counterbore": (
        "mount.collar", "heads", "caution", {"adapter[0].collar": {"height": "4 mm", "width": "8 mm"}},
    ),
    "spigot into the glass": (
        "mount.spigot", "behind", "stop", {"adapter[0].spigot": {"length": "90 mm"}, "adapter[0].bore": "138 mm",
                                           "adapter[0].relief": "0 mm"},
    ),
    "lip under a part too thin for its relief": (
        "mount.lip", "over", "stop", {"opening.door.lip": {"height": "16 mm", "width": "3 mm"}},
    ),
    "tweeter that nothing holds": (
        "mount.held", "", "caution", {"speaker.woofer.kind": "tweeter", "speaker.woofer.holes": None},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_what_cannot_be_put_together_is_said(name: str) -> None:
    code, part, verdict, edits = WRONG[name]
    found = next(c for c in judged(edits).checks if (c.code, c.part) == (code, part))
    assert found.verdict == verdict
    assert found.remedy is not None


def test_the_sound_job_has_no_finding_of_its_mounting(sound: PlaceResult) -> None:
    assert {c.code: c.verdict for c in sound.mount_checks if c.verdict != "ok"} == {}
    assert {"mount.way-in", "mount.terminals", "mount.seat", "mount.frame", "mount.flange"} <= {
        c.code for c in sound.mount_checks
    }


def test_spigot_relief_and_groove_of_a_square_hole() -> None:
    """The spigot by the distance to the edge, the groove outside the corner: both are said where they do not fit."""
    place = judged({
        "opening.door.hole": {"outline": SQUARE}, "opening.door.flange": {"diameter": "240 mm"},
        "adapter[0].spigot": {"length": "6 mm"}, "adapter[0].bore": "138 mm", "adapter[0].relief": "0 mm",
        "adapter[0].foam.grooved": True,
    })  # fmt: skip
    assert place.spec.spigot is not None
    assert place.spec.spigot.radius_mm == pytest.approx(71.5)
    checks = {f"{c.code}.{c.part}": c for c in place.mount_checks}
    assert checks["mount.spigot.hole"].verdict == "ok"
    assert checks["mount.gasket.hole"].verdict == "ok"
    assert checks["mount.gasket.hole"].value is not None
    assert checks["mount.gasket.hole"].value == pytest.approx(1.5, abs=0.6)


def test_a_lip_gets_its_relief_and_the_stand_off_stays(sound: PlaceResult) -> None:
    """Relief of 4 mm less the gasket at its thinnest, and what readings and a press's lip may be off."""
    lipped = judged({"opening.door.lip": {"height": "4 mm", "width": "3 mm"}})
    assert lipped.spec.lip is not None
    assert lipped.spec.lip.depth_mm == pytest.approx(4.0 - (1.5 - lipped.stack.gasket.bound) + 0.3 + 0.5, abs=0.01)
    assert {c.code: c.verdict for c in lipped.mount_checks if c.verdict != "ok"} == {}
    assert lipped.seat_height_mm == sound.seat_height_mm
    tall = judged({"opening.door.lip": {"height": "16 mm", "width": "3 mm"}, "adapter[0].thickness": "auto"})
    assert tall.spec.lip is not None
    assert tall.spec.thickness_mm >= tall.spec.lip.depth_mm + 3.0


@pytest.mark.kernel
def test_the_speaker_as_a_solid_goes_through_the_part_as_a_solid() -> None:
    """Bodies of another library (manifold3d): what all of the driver passes on its way in against the part's own mesh."""
    import manifold3d as m3
    import numpy as np

    from backwave.part.solid import build, mesh

    for bore, verdict in (("142 mm", "ok"), ("139 mm", "stop")):
        place = judged(
            {
                "adapter[0].bore": bore,
                "speaker.woofer.profile": [
                    ["70 mm", "0 mm"],
                    ["64 mm", "10 mm"],
                    ["69.9 mm", "30 mm"],
                    ["46 mm", "64 mm"],
                ],
                "speaker.woofer.by": "caliper",
            }
        )
        check = next(c for c in place.mount_checks if c.code in ("mount.bore", "mount.way-in"))
        made = mesh(build(replace(place.spec, fixings=(), threads=()), lettering=False).solid)
        part = m3.Manifold(m3.Mesh(made.vertices_mm.astype(np.float32), made.triangles.astype(np.uint32)))
        assert part.status() == m3.Error.NoError
        points = [(r.value, d.value) for r, d in place.driver.profile]
        ring = [(0.0, -points[-1][1]), *((r, -d) for r, d in reversed(points)), (0.0, 0.0)]
        body = m3.Manifold.revolve(m3.CrossSection([np.array(ring)]), 64)
        seat = place.spec.seat_z_mm
        shared = max((body.translate([0.0, 0.0, seat + lift]) ^ part).volume() for lift in range(0, 80, 5))
        assert check.verdict == verdict
        assert (shared > 1.0) == (verdict == "stop"), (bore, shared)


def test_a_square_frame_over_a_round_basket_is_entered_by_its_edge() -> None:
    corners = {"at": [[72, 72], [-72, 72], [-72, -72], [72, -72]], "diameter": "5 mm"}
    edge = [[80, 80], [-80, 80], [-80, -80], [80, -80]]
    bare = judged({"speaker.woofer.holes": corners, "speaker.woofer.frame": "160 mm"})
    assert {c.code: c.verdict for c in bare.mount_checks}["mount.frame"] == "stop"
    square = judged({"speaker.woofer.holes": corners, "speaker.woofer.frame_outline": edge})
    assert {c.code: c.verdict for c in square.mount_checks if c.code in ("mount.frame", "mount.seat")} == {
        "mount.frame": "ok", "mount.seat": "ok",
    }  # fmt: skip
    assert square.frame_mm == pytest.approx(160.0)  # what the ring of foam may lie on


TWEETER = """
format = 1
title = "Test bench"
instruments = { caliper = "0.05 mm" }

[[opening]]
id = "dash"
zone = "dash"
hole = { diameter = "52 mm", by = "caliper" }
skin = "2 mm"
flange = { diameter = "70 mm" }
behind = [{ radius = "0 mm", clear = "40 mm", by = "caliper", what = "metal" }]
trim = { clear = "16 mm", by = "caliper" }

[[speaker]]
id = "dome"
kind = "tweeter"
frame = "54 mm"
cutout = "46 mm"
profile = [["22.5 mm", "0 mm"], ["22.5 mm", "14 mm"], ["16 mm", "18 mm"]]

[[adapter]]
opening = "dash"
speaker = "dome"
material = "ASA"
thickness = "4 mm"
"""


def test_a_tweeter_is_judged_as_a_tweeter() -> None:
    """No woofer's travel before the grille, no foam ring, no screws that nobody entered; what holds it is asked."""
    place = assess(loads(TWEETER), draws=400).places[0]
    assert place.driver.xmech.value == 1.0
    assert place.foam.front is None
    assert not place.spec.threads
    grille = place.fit.clearance("grille")
    assert grille is not None
    assert grille.estimate.value == pytest.approx(16.0 - place.seat_height_mm - 3.0 - 1.0)
    codes = {c.code: c for c in place.checks}
    assert codes["mount.held"].verdict == "caution"
    assert "fit.foam-ring" not in codes
    assert not [c for c in place.checks if c.code == "fit.screw"]
    assert not [c for c in place.checks if c.code == "job.missing" and c.part == "holes"]
    held = assess(loads(TWEETER.replace('zone = "dash"', 'zone = "dash"\nheld_by = "glue"')), draws=400).places[0]
    assert {c.code: c.verdict for c in held.checks}["mount.held"] == "ok"


def test_an_opening_takes_one_speaker_in_a_stage_and_flanges_lie_side_by_side() -> None:
    """Flanges of 190 mm want 190 mm between their middles; drivers that take turns may share an opening."""
    head, tail = SOUND.split("[[speaker]]")
    two = SOUND + "\n[[speaker]]" + tail.replace('"woofer"', '"other"').replace('kind = "other"', 'kind = "woofer"')
    source = '\n[[source]]\nid = "unit"\nkind = "bridge"\n'
    row = '{{ source = "unit", channel = "front", opening = "door", speaker = "{}" }}'

    def found(text: str) -> list[Verdict]:
        result = assess(loads(text), draws=2000, whole=False)
        return [f.check.verdict for f in result.findings if f.check.code == "mount.place"]

    both = f'[[stage]]\nid = "s"\npath = [{row.format("woofer")}, {row.format("other")}]\n'
    turns = "".join(f'[[stage]]\nid = "{one}"\npath = [{row.format(one)}]\n' for one in ("woofer", "other"))
    assert found(two + source + both) == ["stop"]
    silent = [f.check for f in assess(loads(two), draws=2000, whole=False).findings if f.check.code == "mount.place"]
    assert [c.verdict for c in silent] == ["caution"]
    assert {n: v for n, v, _ in silent[0].title.quantities} == {"first": "woofer", "second": "other"}
    assert found(two + source + turns) == []
    for text, codes in ((both, {"mount.place"}), (turns, set())):
        parts = assess(loads(two + source + text), draws=2000, whole=False).parts
        assert [{check.code for check in part.stopped} for part in parts] == [codes, codes]

    for apart, verdicts in ((20, ["caution"]), (189, ["caution"]), (191, [])):
        first, second = (f'zone = "door"\nat = ["500 mm", "60 mm", "{z} mm"]' for z in (300, 300 + apart))
        again = head[head.index("[[opening]]") : head.index("[instruments]")].replace('id = "door"', 'id = "upper"')
        adapter = SOUND[SOUND.index("[[adapter]]") :].replace('"door"', '"upper"')
        job = SOUND.replace('zone = "door"', first, 1) + again.replace('zone = "door"', second, 1) + adapter
        assert found(job) == verdicts


def test_a_dummy_says_nothing_of_a_spigot_that_it_does_not_have() -> None:
    """A spigot of 40 mm reaches farther behind the metal than any dummy of the driver is as wide."""
    job = SOUND.replace('material = "ASA"', 'material = "ASA"\nspigot = { length = "40 mm" }\nrelief = "0 mm"')
    job = job.replace('diameter = "143.5 mm"', 'diameter = "150 mm"').replace(
        'x = "0 mm", y = "84.5', 'x = "0 mm", y = "85'
    )
    dummy = assess(loads(job), draws=2000, whole=False).places[0].part.stand_in
    assert dummy is not None
    trial = f'stand_in = {{ outcome = "clear", travel = true, code = "{dummy.code}" }}'
    tried = job.replace('zone = "door"', f'zone = "door"\n{trial}')
    rows = job[job.index("behind = [") + 11 : job.index("]\ntrim")]
    read = job.replace(rows, rows + "".join(rows.replace('"down"', f'"{state}"') for state in ("half", "up")))

    def found(text: str) -> dict[str, Verdict]:
        result = assess(loads(text), draws=2000, whole=False)
        names = ("mount.spigot.behind", "fit.coverage", "fit.coverage.up-half")
        return {f.check.name: f.check.verdict for f in result.findings if f.check.name in names}

    assert found(job) == {"mount.spigot.behind": "caution", "fit.coverage.up-half": "caution"}
    assert found(tried) == {"mount.spigot.behind": "caution", "fit.coverage": "ok"}
    assert found(read) == {"mount.spigot.behind": "ok", "fit.coverage": "ok"}


def test_a_hole_in_the_metal_that_suits_no_assumed_fixing_asks_what_holds_there() -> None:
    """9 mm is a rivet nut M6's hole, and falls through as the sheet nut that is taken where nobody said."""

    def found(text: str) -> Verdict:
        result = assess(loads(text), draws=2000, whole=False)
        return next((f.check.verdict for f in result.findings if f.check.name == "fit.fixing.hole"), "ok")

    wide = SOUND.replace('hole = "5.5 mm"', 'hole = "9 mm"')
    assert found(wide.replace(', holds = "rivet nut"', "")) == "caution"
    assert found(wide.replace('"rivet nut"', '"sheet nut"')) == "stop"
    assert found(wide) == "ok"


NOT_BUILT: dict[str, tuple[str, dict[str, object]]] = {
    "tilted": ("fit.seat", {"opening.door.mounting": {"tilt": "5 deg", "toward": "90 deg"}}),
    "off the axis": ("fit.seat", {"opening.door.mounting": {"tilt": "0 deg", "offset": ["3 mm", "0 mm"]}}),
    "in a cup": ("mount.held.cup", {"opening.door.held_by": "cup"}),
    "larger than the bed": ("part.bed", {"printer": {"bed": ["180 mm", "180 mm", "200 mm"]}}),
}


@pytest.mark.parametrize("kind", NOT_BUILT)
def test_what_is_not_built_yet_is_refused_by_its_name_whatever_the_reason(kind: str) -> None:
    name, edits = NOT_BUILT[kind]
    part = judged(edits).part
    assert name in [check.name for check in part.refused]
    assert not part.final
    assert not replace(part, anyway="a display piece").final
    with pytest.raises(InputError, match=name):
        reason_row(part, "a display piece", "2026-01-01")


def test_a_bolt_loose_in_the_metals_own_hole_is_in_the_play_and_in_the_holes_room() -> None:
    """A bolt M6 in a hole of 16 mm shifts by 5 mm; a spigot in the hole holds the part whatever its bolts do."""

    def shifted(hole: str, spigot: str = "") -> tuple[Verdict, float]:
        text = (
            SOUND.replace('hole = "5.5 mm"', f'hole = "{hole}"')
            .replace('"rivet nut"', '"bolt"')
            .replace('hole = { diameter = "143.5', 'hole = { diameter = "150')
        )
        text = text.replace('thickness = "14.2 mm"', f'thickness = "14.2 mm"\n{spigot}')
        result = assess(loads(text), draws=2000, whole=False).places[0]
        room = result.fit.clearance("hole")
        assert room is not None
        return next(c.verdict for c in result.fit_checks if c.name == "fit.play"), room.worst_mm

    (tight, near), (loose, far) = shifted("6.6 mm"), shifted("16 mm")
    assert (tight, loose) == ("ok", "caution")
    assert near - far == pytest.approx((16.0 - 6.6) / 2.0, abs=0.05)
    held, room = shifted("16 mm", 'spigot = { length = "4 mm" }\nrelief = "0 mm"')
    assert held == "ok"
    assert room > far + 3.0


def test_a_flat_gasket_over_nut_pockets_leaks() -> None:
    assert "mount.gasket.pockets" not in {c.name for c in judged().mount_checks}
    nuts = {c.name: c for c in judged({"adapter[0].threads": "nut M4", "adapter[0].foam.grooved": False}).mount_checks}
    assert nuts["mount.gasket.pockets"].verdict == "caution"


def test_the_relief_leaves_an_insert_its_wall_by_itself() -> None:
    """A third of 14 mm would leave 1.2 mm beside a hole that is 12.3 mm deep."""
    found = judged({"opening.door.hole": {"diameter": "154 mm", "by": "caliper"}, "adapter[0].thickness": "14 mm"})
    assert found.spec.threads[0].depth_mm == pytest.approx(12.3)
    assert found.spec.relief_mm == pytest.approx(3.8)
    walls = [c for c in found.part_checks if c.code == "part.insert-wall"]
    assert worst([c.verdict for c in walls]) == "ok"
    assert min(c.value or 0.0 for c in walls) == pytest.approx(2.1)


@pytest.mark.parametrize("holds", ["rivet nut", "bolt"])
def test_a_head_that_goes_through_the_parts_hole_is_a_stop(holds: str) -> None:
    for head, verdict in (("5.5 mm", "stop"), ("8 mm", "ok")):
        text = SOUND.replace('head = "10 mm"', f'head = "{head}"').replace('"rivet nut"', f'"{holds}"')
        checks = assess(loads(text), draws=400, whole=False).places[0].part_checks
        assert worst([c.verdict for c in checks if c.name == "fit.fixing.head"]) == verdict
