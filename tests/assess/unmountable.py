"""Openings that cannot be mounted, or that nobody has looked at, each with the code that says so and a twin that is sound.

All of them are the door of `jobs/sound-door.toml` with one thing changed.  What is wrong with each is plain arithmetic on
the lengths beside it (common trade practice where a margin is asked for); the twin is the same change within its limit.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import cos, radians, sin
from pathlib import Path

SOUND = (Path(__file__).parent / "jobs" / "sound-door.toml").read_text(encoding="utf-8")
Edit = tuple[str, str]


@dataclass(frozen=True)
class Case:
    """One change that makes it unmountable."""

    kind: str
    bad: tuple[Edit, ...]
    code: str  # a finding whose id begins so is not ok
    verdict: str  # "stop", or "caution" where something was not read
    good: tuple[Edit, ...]  # the sound twin: no finding of that code is anything but ok
    why: str


def edited(edits: tuple[Edit, ...]) -> str:
    """The sound door, changed."""
    text = SOUND
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new)
    return text


BORE = 'material = "ASA"'
PROFILE = '[["70 mm", "0 mm"], ["66 mm", "14 mm"], ["46 mm", "38 mm"], ["46 mm", "64 mm"]]'
TERMINALS = 'terminals = { angle = "225 deg", width = "34 mm", radius = "62 mm", depth = "26 mm" }'
FLAT = ("grooved = true, ", 'closed = "1.5 mm", back_width = "6 mm", ')
FRONT = 'front     = "9 mm"'
LAND = 'land = "32 mm"'
GRILLE = 'grille = "150 mm"'
NO_RING = ('ring = "auto"', 'ring = "none"')
HOLES = 'holes     = { count = 4, circle = "157 mm", diameter = "5 mm", first = "0 deg" }'
FIXINGS = SOUND[SOUND.index("fixings = [") : SOUND.index("]\n", SOUND.index("fixings = [")) + 2]
BEHIND = SOUND[SOUND.index("behind  = [") : SOUND.index("]\ntrim", SOUND.index("behind  = [")) + 2]
HOLE = 'hole    = { diameter = ["146.0 mm", "146.1 mm", "145.9 mm"], by = "caliper" }'
FLANGE = 'flange  = { diameter = "194 mm" }'
TRIM = 'trim    = { clear = ["45.0 mm", "45.4 mm", "45.1 mm"], by = "caliper", land = "32 mm", grille = "150 mm", open_area = "45 %" }'
DOWN = ('["71.2 mm", "70.8 mm", "71.1 mm"]', '["68.2 mm", "68.0 mm", "67.9 mm"]')


def adapter(line: str) -> tuple[Edit, ...]:
    return ((BORE, f"{BORE}\n{line}"),)


def profile(points: list[tuple[float, float]]) -> tuple[Edit, ...]:
    return ((PROFILE, "[" + ", ".join(f'["{r} mm", "{d} mm"]' for r, d in points) + "]"),)


def fixings(radius_mm: float, holds: str = "rivet nut", more: str = "") -> tuple[Edit, ...]:
    half, side = radius_mm / 2, radius_mm * 0.866
    rows = "".join(
        f'  {{ x = "{x:.2f} mm", y = "{y:.2f} mm", hole = "5.5 mm", head = "10 mm", holds = "{holds}"{more} }},\n'
        for x, y in ((0, radius_mm), (-side, -half), (side, -half))
    )
    return ((FIXINGS, f"fixings = [\n{rows}]\n"),)


def read_as(hole: float, screw: str = "") -> tuple[Edit, ...]:
    """Every fixing's hole as read, and the screw asked for."""
    return (('hole = "5.5 mm"', f'hole = "{hole} mm"'), *(adapter(f'screw = "{screw}"') if screw else ()))


def slots(at: float, length: float, width: float = 5.0) -> tuple[Edit, ...]:
    """Two slots along their radius."""
    rows = ", ".join(
        f'{{ x = "{x} mm", y = "0 mm", width = "{width} mm", length = "{length} mm", angle = "0 deg" }}'
        for x in (at, -at)
    )
    light = ('mass      = "1.15 kg"', 'mass      = "1 kg"')  # two screws on a line hold no more
    return (NO_RING, light, (HOLES, f"holes     = {{ slots = [{rows}] }}"))


def held_by(how: str, mass: str = "1.15 kg", kind: str = "woofer") -> tuple[Edit, ...]:
    return (
        (HOLES + "\n", ""),
        ('zone    = "door"', f'zone    = "door"\nheld_by = "{how}"'),
        ('mass      = "1.15 kg"', f'mass      = "{mass}"'),
        ('kind      = "woofer"', f'kind      = "{kind}"'),
    )


def at(*degrees: float, radius: float = 87.0) -> tuple[Edit, ...]:
    """Rivet nuts in these directions."""
    rows = "".join(
        f'  {{ x = "{radius * cos(radians(a)):.2f} mm", y = "{radius * sin(radians(a)):.2f} mm", '
        'hole = "5.5 mm", head = "10 mm", holds = "rivet nut" },\n'
        for a in degrees
    )
    return ((FIXINGS, f"fixings = [\n{rows}]\n"),)


def metal(radius: float, clear: float) -> tuple[Edit, ...]:
    """Fixed metal behind, at one radius and shallower nowhere."""
    read = 'by = "caliper", what = "metal"'
    more = "".join(
        f'  {{ radius = "{r} mm", clear = ["{c} mm", "{c + 0.2} mm"], {read} }},\n'
        for r, c in ((0, 80), (radius - 7.0, 80), (radius, clear))
    )
    return ((BEHIND, BEHIND.removesuffix("]\n") + more + "]\n"),)


def lip(width: float) -> tuple[Edit, ...]:
    """A rolled edge lower than a thick flat gasket: it needs no relief."""
    return (
        (FLANGE, f'{FLANGE}\nlip     = {{ height = "0.5 mm", width = "{width} mm" }}'),
        NO_RING,
        ("grooved = true, ", 'closed = "2 mm", back_width = "6 mm", '),
    )


def holes(circle: float, diameter: float) -> tuple[Edit, ...]:
    return (
        (HOLES, f'holes     = {{ count = 4, circle = "{circle} mm", diameter = "{diameter} mm", first = "0 deg" }}'),
    )


def terminals(radius: float, width: float = 34.0, depth: float = 26.0) -> tuple[Edit, ...]:
    return (
        (
            TERMINALS,
            f'terminals = {{ angle = "225 deg", width = "{width} mm", radius = "{radius} mm", depth = "{depth} mm" }}',
        ),
    )


def hole(diameter: float) -> tuple[Edit, ...]:
    return ((HOLE, f'hole    = {{ diameter = ["{diameter} mm", "{diameter + 0.1} mm"], by = "caliper" }}'),)


def octagon(to_edge: float) -> tuple[Edit, ...]:
    far, near = to_edge, to_edge * 0.41421356
    points = [
        (far, near),
        (near, far),
        (-near, far),
        (-far, near),
        (-far, -near),
        (-near, -far),
        (near, -far),
        (far, -near),
    ]
    return ((HOLE, f"hole    = {{ outline = [{', '.join(f'[{x:.3f}, {y:.3f}]' for x, y in points)}] }}"),)


def glass(first: float, second: float) -> tuple[Edit, ...]:
    return ((DOWN[0], f'["{first} mm", "{first + 0.2} mm"]'), (DOWN[1], f'["{second} mm", "{second + 0.2} mm"]'))


def trim(clear: float, more: str = 'land = "32 mm"') -> tuple[Edit, ...]:
    return (
        (
            TRIM,
            f'trim    = {{ clear = ["{clear} mm", "{clear + 0.2} mm"], by = "caliper", {more}, grille = "150 mm", open_area = "45 %" }}',
        ),
    )


def beam(clear: float, angle: float) -> tuple[Edit, ...]:
    read = f'clear = ["{clear} mm", "{clear + 0.2} mm"], by = "caliper", what = "beam", angle = "{angle} deg"'
    more = "".join(f'  {{ radius = "{radius} mm", {read} }},\n' for radius in (0, 75))
    return ((BEHIND, BEHIND.removesuffix("]\n") + more + "]\n"),)


def rows(keep: Callable[[str], bool]) -> tuple[Edit, ...]:
    lines = BEHIND.split("\n")
    return ((BEHIND, "\n".join(line for line in lines if "{" not in line or keep(line))),)


LIP_8 = ((FLANGE, FLANGE + '\nlip     = { height = "8 mm", width = "2 mm" }'),)
NUTS = (
    (BORE, 'material = "birch plywood"\nprocess = "sheet"'),
    ('threads  = "insert M4"', 'threads  = "nut M4"'),
    ('back = "3 mm", grooved = true, ', 'back = "0 mm", '),  # a flat gasket would lie over their pockets
    NO_RING,
    *hole(154),
)
BIG_MAGNET = [(70, 0), (66, 14), (76, 38), (76, 64)]
SMALL_MAGNET = [(70, 0), (66, 14), (64, 38), (64, 64)]
NOTHING: tuple[Edit, ...] = ()
CASES: tuple[Case, ...] = (
    Case("bore under the basket", adapter('bore = "120 mm"'), "mount.bore", "stop", adapter('bore = "143 mm"'), "radius 60 for a basket of 70"),
    Case("bore under the basket", adapter('bore = "137 mm"'), "mount.bore", "stop", adapter('bore = "142.5 mm"'), "radius 68.5 for 70"),
    Case("basket over its cutout", profile([(74, 0), (66, 14), (46, 38), (46, 64)]), "mount.bore", "stop", profile([(70.5, 0), (66, 14), (46, 38), (46, 64)]), "radius 74, bore 71.5"),
    Case("basket over its cutout", profile([(70, 0), (73, 10), (46, 38), (46, 64)]), "mount.bore", "stop", profile([(70, 0), (69, 10), (46, 38), (46, 64)]), "a bulge of 73 behind a neck"),
    Case("magnet over the bore", profile(BIG_MAGNET), "mount.way-in", "stop", profile(SMALL_MAGNET), "76 behind a bore of 71.5"),
    Case("magnet over the bore", profile([(70, 0), (66, 14), (72.5, 38), (72.5, 64)]), "mount.way-in", "stop", profile([(70, 0), (66, 14), (69, 38), (69, 64)]), "72.5 behind a bore of 71.5"),
    Case("terminals over the bore", terminals(84, depth=10), "mount.terminals", "stop", terminals(66), "84 at the seat's own height"),
    Case("terminals over the bore", (*terminals(73, 10, 30), *hole(150), FLAT), "mount.terminals", "caution", (*terminals(66, 10, 30), *hole(150), FLAT), "over the bore on the way in; nobody said where they begin"),
    Case("hole too small", hole(118), "fit.hole", "stop", hole(144), "radius 59 for a basket of 61 in the metal"),
    Case("hole too small", hole(122), "fit.hole", "stop", hole(148), "radius 61"),
    Case("fixing in the air", fixings(70), "fit.fixing.edge", "stop", fixings(87), "70 in a hole of 73"),
    Case("fixing in the air", fixings(60), "fit.fixing.edge", "stop", fixings(86), "60 in a hole of 73"),
    Case("fixing at the hole's edge", fixings(76), "fit.fixing.edge", "stop", fixings(85), "its own hole of 5.5 cuts the edge at 73"),
    Case("no fixing", ((FIXINGS, ""),), "fit.fixing", "caution", NOTHING, "nobody has said what holds it"),
    Case("no mass", (('mass      = "1.15 kg"\n', ""),), "fit.fixing", "caution", NOTHING, "no slam without a mass"),
    Case("fixing beyond the flange", fixings(95), "part.ligament", "stop", fixings(86), "95 on a flange of 97"),
    Case("flange beside the metal", ((FLANGE, 'flange  = { outline = [[97, 97], [-72, 97], [-97, 60], [-97, -97], [97, -97]] }'), *hole(202)), "mount.flange", "stop", ((FLANGE, 'flange  = { outline = [[97, 97], [-72, 97], [-97, 60], [-97, -97], [97, -97]] }'),), "a hole of 202 under it"),
    Case("flange beside the metal", ((FLANGE, 'flange  = { outline = [[97, 97], [-97, 97], [-97, -72], [97, -72]] }'),), "mount.flange", "stop", ((FLANGE, 'flange  = { outline = [[97, 97], [-97, 97], [-97, -97], [97, -97]] }'),), "72 below, the hole 73"),
    Case("spigot into the glass", (*hole(154), FLAT, *adapter('relief = "0 mm"\nspigot = { length = "90 mm" }')), "mount.spigot", "stop", (*hole(154), FLAT, *adapter('relief = "0 mm"\nspigot = { length = "6 mm" }')), "90 behind the face, glass at 68"),
    Case("spigot into the glass", (*hole(154), FLAT, *adapter('relief = "0 mm"\nspigot = { length = "80 mm" }')), "mount.spigot", "stop", (*hole(154), FLAT, *adapter('relief = "0 mm"\nspigot = { length = "10 mm" }')), "80, glass at 68"),
    Case("hole of another shape", octagon(56), "fit.hole", "stop", (*octagon(73), FLAT), "56 to its edges"),
    Case("screw against the driver's hole", (*holes(157, 3.4),), "fit.screw.driver-hole", "stop", (*holes(157, 4.6),), "M4 in 3.4"),
    Case("screw against the driver's hole", (*holes(157, 4.5), ('threads  = "insert M4"', 'threads  = "insert M5"')), "fit.screw.driver-hole", "stop", (*holes(157, 5.5), NO_RING, ('threads  = "insert M4"', 'threads  = "insert M5"')), "M5 in 4.5"),
    Case("head through the driver's hole", (*holes(157, 8), ('threads  = "insert M4"', 'threads  = "insert M3"')), "fit.screw.driver-head", "stop", holes(157, 4.6), "a head of 5.7 on a hole of 8"),
    Case("driver's holes off its frame", holes(170, 5), "mount.frame", "stop", holes(157, 5), "85 on a frame of 83"),
    Case("driver's holes off its frame", holes(164, 5), "mount.frame", "stop", holes(157, 5), "82 and half of 5 on a frame of 83"),
    Case("driver's holes in its cutout", holes(138, 5), "mount.frame", "stop", holes(157, 5), "69 in a cutout of 71"),
    Case("collar beside the flange", adapter('collar = { height = "8 mm", width = "30 mm" }'), "mount.collar", "stop", ((FLANGE, 'flange  = { diameter = "220 mm" }'), *fixings(101), *adapter('collar = { height = "8 mm", width = "6 mm" }')), "30 wide from 83 on a flange of 97"),
    Case("glass", glass(36, 34), "fit.glass", "stop", glass(60, 57), "64 deep; a stand-off of 24 at most before the grille"),
    Case("glass", glass(30, 28), "fit.glass", "stop", glass(66, 64), "no thickness clears glass and grille"),
    Case("grille", trim(20, 'land = "19 mm"'), "fit.grille", "stop", trim(45), "stand-off 0 and front 9 and travel 9 leave 2"),
    Case("window read only up", rows(lambda line: '"up"' in line), "fit.coverage", "caution", NOTHING, "nobody looked with the window down or half"),
    Case("window read only down", rows(lambda line: '"down"' in line), "fit.coverage", "caution", NOTHING, "nobody looked half or up"),
    Case("read in one direction", (('what = "glass"', 'what = "glass", angle = "90 deg"'),), "fit.coverage", "caution", NOTHING, "three quarters of it unread"),
    Case("nothing read behind", ((BEHIND, ""),), "job.missing", "caution", NOTHING, "nobody has looked behind"),
    Case("tight place read once", (('["45.0 mm", "45.4 mm", "45.1 mm"]', '"36.5 mm"'),), "fit.read-once", "caution", NOTHING, "one reading decides"),
    Case("lip in the way", ((FLANGE, FLANGE + '\nlip     = { height = "6 mm", width = "12 mm" }'),), "part.ligament", "stop", ((FLANGE, FLANGE + '\nlip     = { height = "1 mm", width = "1.5 mm" }'), ("grooved = true, ", "closed = \"1.5 mm\", back_width = \"6 mm\", ")), "12 wide from 73: its relief reaches the fixings at 87"),
    Case("material in the heat", (('material = "ASA"', 'material = "PLA"'),), "part.heat", "stop", (('material = "ASA"', 'material = "ABS"'),), "PLA softens at 55, a door reaches 70"),
    Case("larger than the bed", ((FLANGE, 'flange  = { diameter = "330 mm" }'), ("[instruments]", '[printer]\nbed = ["250 mm", "250 mm", "250 mm"]\n\n[instruments]')), "part.bed", "stop", NOTHING, "330 on a bed of 250"),
    Case("tilted", ((FLANGE, FLANGE + '\nmounting = { tilt = "12 deg", toward = "6 o\'clock" }'),), "fit", "stop", NOTHING, "not worked out: refused and said"),
    Case("off the axis", ((FLANGE, FLANGE + '\nmounting = { offset = ["4 mm", "0 mm"] }'),), "fit", "stop", NOTHING, "not worked out: refused and said"),
    Case("no terminals entered", ((TERMINALS + "\n", ""), *hole(143)), "mount.terminals", "caution", NOTHING, "they may be anywhere"),
    Case("half-way glass", (('["75.2 mm", "75.4 mm"]', '["36 mm", "36.2 mm"]'), ('["72.0 mm", "72.3 mm"]', '["34 mm", "34.2 mm"]')), "fit", "stop", NOTHING, "clear up and down, not in between"),
    Case("a beam at the terminals", beam(36, 270), "fit", "stop", beam(66, 270), "a beam at 36, a speaker of 64 on at most 24"),
    Case("a stud's nut", fixings(87, "stud", ', stands = "40 mm"'), "fit", "stop", fixings(87, "stud", ', stands = "14 mm"'), "a stud of 40 through a part of 18"),
    Case("self-tapping screw in a hole of its own size", fixings(87, "self-tap"), "fit.fixing.hole", "stop", NOTHING, "5.5 takes no ST4.8"),
    Case("driver too deep for any stand-off", profile([(70, 0), (66, 14), (46, 38), (46, 110)]), "fit.glass", "stop", NOTHING, "110 deep before glass at 71"),
    Case("no rim", (('rim       = "5.2 mm"\n', ""), ('front     = "9 mm"\n', "")), "fit", "caution", NOTHING, "nobody has said how far it stands out in front"),
    Case("wet wood", (('material = "ASA"', 'material = "MDF"\nprocess = "sheet"'),), "part.water", "stop", (('material = "ASA"', 'material = "ABS sheet"\nprocess = "sheet"'), FLAT, (FLANGE, 'flange  = { diameter = "206 mm" }')), "MDF swells on the wet side"),
    Case("thickness that meets the glass", glass(60, 57) + adapter('thickness = "2 mm"'), "fit", "stop", glass(60, 57), "61 behind the face on 3 of stand-off"),
    Case("screw of another thread", (NO_RING, *read_as(3, "M6")), "fit.fixing.hole", "stop", (NO_RING, *read_as(6.0, "M6")), "M6 in 3"),
    Case("screw of another thread", (NO_RING, *read_as(5.5, "M6")), "fit.fixing.hole", "caution", (NO_RING, *read_as(5.5, "M5")), "M6 where 5.5 was read"),
    Case("screw of another thread", (NO_RING, *read_as(5.5, "M4")), "fit.fixing.hole", "caution", (NO_RING, *read_as(6.0, "M4")), "M4 where 5.5 was read; 6 is its bare hole"),
    Case("rivet nut in too wide a hole", (NO_RING, *read_as(12)), "fit.fixing.hole", "stop", (NO_RING, *read_as(9)), "12; the thickest wants 9"),
    Case("slots off the frame", slots(78, 20), "mount.frame", "stop", slots(78, 8), "from 68 to 88 on a frame of 83 and a cutout of 71"),
    Case("slots off the frame", slots(80, 8), "mount.frame", "stop", slots(77, 8), "to 84 on a frame of 83"),
    Case("held by clips", held_by("clips"), "fit.hold", "caution", NOTHING, "1.15 kg at 30 g: 338 N on clips nobody knows"),
    Case("held by glue", held_by("glue"), "fit.hold", "caution", NOTHING, "likewise"),
    Case("held by a ring", held_by("ring"), "fit.hold", "caution", NOTHING, "likewise"),
    Case("held by a cup", held_by("cup", "0.12 kg", "tweeter"), "mount.held", "stop", held_by("clips", "0.12 kg", "tweeter"), "a flat part holds no cup"),
    Case("held by clips", held_by("clips", "0.4 kg", "tweeter"), "fit.hold", "caution", held_by("glue", "0.12 kg", "tweeter"), "0.4 kg is no light tweeter"),
    Case("metal that no rivet nut grips", (('skin    = "0.8 mm"', 'skin    = "40 mm"'),), "fit.fixing.grip", "stop", (('skin    = "0.8 mm"', 'skin    = "1.5 mm"'),), "40 for one of 0.5 to 3"),
    Case("relief beside the inserts", (*LIP_8, NO_RING, FLAT, *adapter('thickness = "17 mm"')), "part.insert-wall", "stop", (*LIP_8, NO_RING, FLAT), "a relief of 8 under inserts of 11; the tool's own thickness ends them over it"),
    Case("relief into the nuts", (*NUTS, ('process = "sheet"', 'process = "sheet"\nrelief = "5 mm"')), "part.insert-wall", "stop", NUTS, "to 76.5, the nuts begin at 74.4; its own relief keeps off them"),
    Case("counterbore through the back", (NO_RING, FLAT, *adapter('thickness = "3 mm"')), "part.ligament.counterbore", "stop", (NO_RING, FLAT), "4.45 deep in a part of 3"),
    Case("trade size", (('frame     = "166 mm"', 'frame     = "6 1/2 in"'),), "job.trade-size", "caution", NOTHING, "a trade size is no measurement"),
    Case("cone not entered", ((FRONT, 'front     = { fixed = "3 mm" }'), *trim(26, 'land = "25.5 mm"')), "fit.grille", "stop", ((FRONT, 'front     = { moving = "9 mm", fixed = "3 mm" }'),), "a post alone, a grille at 26: a cone of 2 at least and its travel of 9 hit what was ok"),
    Case("cone not entered", ((FRONT, 'front     = { crest = "3 mm" }'), *trim(33)), "fit.assumed", "caution", ((FRONT, 'front     = { moving = "9 mm", crest = "3 mm" }'),), "a crest alone"),
    Case("trim's flat without foam", (NO_RING, (LAND, 'land = "10 mm"')), "fit.flat.rim", "stop", (NO_RING,), "the rim's top at 23.8 before a flat at 10"),
    Case("trim's flat without foam", (NO_RING, (LAND, 'land = "23.8 mm"'), *adapter('thickness = "18 mm"')), "fit.flat.driver-heads", "stop", (NO_RING, (LAND, 'land = "28 mm"')), "heads of 2.2 on a rim at 23.8; the tool's own thickness would be less"),
    Case("trim's flat without foam", (NO_RING, ('zone    = "door"', 'zone    = "door"\nsides   = ["left", "right"]'), (FLANGE, FLANGE + '\nright   = { trim = { clear = ["45.0 mm", "45.4 mm"], by = "caliper", land = "10 mm", grille = "150 mm", open_area = "45 %" } }')), "fit.flat.rim", "stop", NOTHING, "the right side's own trim"),
    Case("trim's flat without foam", (NO_RING, (LAND, 'land = "10 mm", inner = "150 mm", outer = "220 mm"')), "fit.flat.part", "stop", (NO_RING, (LAND, 'land = "10 mm", inner = "206 mm", outer = "240 mm"')), "a flange at 18 within the flat; beyond it nothing"),
    Case("cone in the trim's flat", (NO_RING, (LAND, 'land = "32 mm", inner = "60 mm"')), "fit.flat.moving", "stop", (NO_RING, (LAND, 'land = "32 mm", inner = "140 mm"')), "36.6 at the limit, radius 65, a flat at 32 from radius 30"),
    Case("cone in the trim's flat", ((LAND, 'land = "32 mm", inner = "60 mm"'),), "fit.flat.moving", "stop", ((LAND, 'land = "32 mm", inner = "140 mm"'),), "the same with a foam ring"),
    Case("cone in the trim's flat", (NO_RING, (LAND, 'land = "32 mm", inner = "120 mm"')), "fit.flat.moving", "caution", NOTHING, "a flat from radius 60: nobody said where the cone is highest"),
    Case("cone in the trim's flat", (NO_RING, (GRILLE, 'grille = "60 mm"')), "fit.flat.moving", "caution", (NO_RING, (GRILLE, 'grille = "132 mm"')), "a grille of 60 before a cone of 130"),
    Case("one fixing", at(90), "fit.fixing", "stop", at(90, 210, 330), "10 mm inside the flange's edge: a lever of ten to one on 500 N"),
    Case("fixings in one sector", at(60, 90, 120), "fit.fixing", "stop", at(30, 150, 270), "the middle of the mass 81 beside them"),
    Case("fixings in one line", at(90, 270), "fit.fixing", "caution", at(45, 135, 225, 315), "it rocks about them on its gasket"),
    Case("fixing on the lip", lip(16), "fit.fixing.lip", "stop", lip(3), "87 on a lip from 73 to 89"),
    Case("fixing at the lip's foot", lip(12), "fit.fixing.lip", "caution", lip(3), "87 beside a foot at 85: no nut lies flat"),
    Case("screw's end into the metal behind", metal(87, 4), "fit.screw-tails", "stop", metal(87, 30), "an end of 10 in 4"),
    Case("turned onto a fixing", (*at(90, 210, 330, radius=82), *adapter('turn = "90 deg"')), "fit.clocking", "stop", NOTHING, "an insert at 78.5 under the head at 82"),
    Case("hole beside the axis", ((HOLE, "hole    = { outline = [[93, 0], [73, 63], [20, 73], [-33, 63], [-53, 0], [-33, -63], [20, -73], [73, -63]] }"), FLAT), "fit.hole", "stop", NOTHING, "its edge at 53 for a basket of 61"),
    Case("rim before the flat", (('rim       = "5.2 mm"', 'rim       = "25 mm"'),), "fit.flat.rim", "stop", NOTHING, "25 on any stand-off before a flat at 32"),
    Case("flat that nobody measured", ((LAND + ", " + GRILLE, 'land = "15 mm"'),), "fit.flat.inner", "caution", NOTHING, "a rim at 21 before a flat at 15, if it lies there"),
    Case("flange that nobody entered", ((FLANGE + "\n", ""), (FIXINGS, ""), *hole(200)), "mount.flange", "caution", NOTHING, "as it goes by itself it leaves 9 mm open"),
)  # fmt: skip
