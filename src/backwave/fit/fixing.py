"""How the adapter holds on to the metal and the driver to the adapter: loads at a slam, and which screws.

Load: a door slammed at 30 g (common trade practice), taken as a steady pull in whichever direction is worst.  Driver
and adapter are a rigid body on fixings that give alike, the usual model of a bolt group under a load off its middle:
each fixing pulls with T = A + B x + C y, and the three numbers follow from the force and the two moments about the
mounting face.  T is linear in the direction of the pull, so its worst is the length of a vector: nothing is searched.
Left out: the flange bearing on the metal (which relieves the fixings on one side), pre-load, shear, the metal's own
bending, and fatigue.

Screws: thread engagement first (1 d in metal, an insert's length, 2 to 2.5 d in plastic; common trade practice),
then the shortest standard length that gives it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from backwave.errors import InputError
from backwave.finding import Check, Step, Text, Verdict
from backwave.stock import Fixing, Stock

__all__ = [
    "SAFETY",
    "SLAM_G",
    "ChosenScrew",
    "FixingPoint",
    "Threads",
    "driver_screw",
    "fixing_checks",
    "fixing_loads_n",
    "metal_screw",
    "read_threads",
    "screw_for",
]

PRACTICE = "common trade practice"
MODEL = "rigid body on equal elastic fixings (bolt group)"
GRAVITY = 9.80665  # m/s2, standard
SLAM_G = 30.0
SAFETY = 3.0  # pull-out over what is allowed; common trade practice
HEAD_BELOW_MM = 0.5  # how far heads should end below the land; common trade practice
_NO_SCREW = ("hook", "pin")
_SAME = 1e-6


@dataclass(frozen=True)
class FixingPoint:
    """One fixing of the adapter in the metal.

    Parameters
    ----------
    x_mm, y_mm : float, mm
        Its place, as seen from the cabin.
    row : backwave.stock.Fixing, mm and N
        How it holds.
    name : str, no unit
        What to call it: "fixing 1".
    edge_mm : float or None, mm
        From its middle to the nearest edge of the metal (the hole's, as a rule); None: not known.
    """

    x_mm: float
    y_mm: float
    row: Fixing
    name: str = "fixing"
    edge_mm: float | None = None


@dataclass(frozen=True)
class Threads:
    """What the driver's screws go into.

    Parameters
    ----------
    kind : "insert", "nut" or "screw", no unit
        A heat-set insert, a nut in a pocket, or a self-tapping screw in the part itself.
    name : str, no unit
        Its row in the stock table: "M4", "M4 short", "ST4.2".
    """

    kind: str
    name: str

    @property
    def size(self) -> str:
        """The screw's size: "M4", "ST4.2"."""
        return self.name.split()[0]


@dataclass(frozen=True)
class ChosenScrew:
    """A screw that was chosen.

    Parameters
    ----------
    what : str, no unit
        "driver to adapter" or "adapter to metal".
    size, head : str, no unit
        "M5", "socket"; of a self-tapping screw "pan"; of a stud's nut "nut".
    length_mm : float or None, mm
        Standard length; None where no standard screw does, or none is needed.
    grip_mm : float, mm
        From under the head to where the thread begins to hold.
    wanted_mm, engagement_mm : float, mm
        Thread wanted, and had.
    tail_mm : float, mm
        How far screw or fixing stands behind the skin (for the driver's: beyond its thread, inside the part).
    head_mm, head_height_mm : float, mm
        Diameter and height of the head.
    head_below_mm : float or None, mm
        How far the head ends below the land (negative: above it); None where it need not.
    check : Check, no unit
        `fit.screw`.
    """

    what: str
    size: str
    head: str
    length_mm: float | None
    grip_mm: float
    wanted_mm: float
    engagement_mm: float
    tail_mm: float
    head_mm: float
    head_height_mm: float
    head_below_mm: float | None
    check: Check


def read_threads(text: str) -> Threads:
    """What `threads` of an adapter means.

    Parameters
    ----------
    text : str, no unit
        "insert M4", "insert M4 short", "nut M5", "screw ST4.2".

    Raises
    ------
    InputError
        Anything else.
    """
    kind, _, name = text.strip().partition(" ")
    name = name.strip()
    if kind not in ("insert", "nut", "screw") or not name.startswith("ST" if kind == "screw" else "M"):
        raise InputError("threads", text, '"insert M4", "nut M4" or "screw ST4.2"')
    return Threads(kind, name)


def screw_for(stock: Stock, holds: str, hole_mm: float) -> str:
    """The screw that a fixing of the factory's takes, by the hole or thread read in it: assumed, and to be shown so.

    Parameters
    ----------
    stock : Stock, mm
        Tables.
    holds : str, no unit
        How the fixing holds.
    hole_mm : float, mm
        Diameter of its hole or thread.

    Returns
    -------
    str, no unit
        "M5", "ST4.2", or "" for a hook or pin.  A self-tapping screw by the nearest pilot hole; a rivet or
        expansion nut whose bare hole was read by that hole; all else the thickest metric screw that passes.

    Raises
    ------
    InputError
        A hole smaller than any screw of the table.
    """
    if holds in _NO_SCREW:
        return ""
    rows = [row for row in stock.rows("fixing") if isinstance(row, Fixing) and row.holds == holds and row.screw]
    if holds == "self-tap":
        return min(rows, key=lambda row: abs(row.hole_mm - hole_mm)).screw
    passing = [row for row in rows if row.screw.startswith("M") and float(row.screw[1:]) <= hole_mm + _SAME]
    if not passing:
        raise InputError(f"hole of a {holds}", hole_mm, "a hole that a screw of the table passes (M4 or thicker)")
    thickest = max(float(row.screw[1:]) for row in passing)
    if hole_mm > thickest + 0.7:  # wider than the coarse series of ISO 273 makes it: the bare hole was read
        bare = [row for row in rows if abs(row.hole_mm - hole_mm) < 0.3]
        if bare:
            return bare[0].screw
    return f"M{thickest:g}"


def fixing_loads_n(
    xy_mm: Sequence[tuple[float, float]],
    mass_kg: float,
    center_mm: tuple[float, float, float],
    slam_g: float = SLAM_G,
) -> tuple[float, ...]:
    """Greatest pull along each fixing's axis, whichever way the slam pushes.

    With d the place of a fixing from the middle of all of them, J the sum of d d', and (r, z) the center of mass
    from that middle: a unit pull along the axis puts 1/n + d' J^-1 r on a fixing, one across it z J^-1 d.

    Parameters
    ----------
    xy_mm : sequence of (x, y) float, mm
        Places of the fixings that hold.
    mass_kg : float, kg
        Of all that hangs on them.
    center_mm : (x, y, z) float, mm
        Its center of mass, z out of the metal.
    slam_g : float, no unit
        Acceleration in multiples of standard gravity.

    Returns
    -------
    tuple of float, N
        One for each fixing.  With fixings in one line (or fewer than three) the moment about that line is not
        theirs: the flange's edge takes it, and it is left out.

    Raises
    ------
    InputError
        No fixings.
    """
    if not xy_mm:
        raise InputError("fixings that hold", "none", "one or more")
    places = np.asarray(xy_mm, dtype=np.float64)
    middle = places.mean(axis=0)
    d = places - middle
    lever = np.linalg.pinv(d.T @ d, rcond=1e-9, hermitian=True) @ d.T  # (2, n)
    along = 1.0 / len(places) + (np.asarray(center_mm[:2]) - middle) @ lever
    across = center_mm[2] * lever
    share = np.sqrt(along**2 + (across**2).sum(axis=0))
    return tuple(float(s) for s in mass_kg * GRAVITY * slam_g * share)


def fixing_checks(
    points: Sequence[FixingPoint],
    mass_kg: float,
    center_mm: tuple[float, float, float],
    skin_mm: float | None = None,
    slam_g: float = SLAM_G,
) -> tuple[Check, ...]:
    """Each fixing's load at a slam against what it holds; one check, for the one with the least in hand.

    Parameters
    ----------
    points : sequence of FixingPoint, mm
        All fixings; pins only locate and are left out of the load.
    mass_kg : float, kg
        Driver and adapter.
    center_mm : (x, y, z) float, mm
        Their center of mass, z out of the metal.
    skin_mm : float or None, mm
        Thickness of the metal, against each fixing's grip.
    slam_g : float, no unit
        Acceleration in multiples of standard gravity.

    Returns
    -------
    tuple of Check
        `fit.fixing`, and one more (part "grip" or "edge") where a fixing does not suit the metal.
    """
    holding = [p for p in points if p.row.pull_out_n > 0.0]
    if not holding:
        return (
            Check(
                "fit.fixing",
                "stop",
                Text("Nothing holds the adapter to the metal"),
                remedy=Text("Give it three fixings or more that hold: rivet nuts, sheet nuts or bolts"),
                key="fixings",
            ),
        )
    loads = fixing_loads_n([(p.x_mm, p.y_mm) for p in holding], mass_kg, center_mm, slam_g)
    load, point = max(zip(loads, holding), key=lambda both: both[0] / both[1].row.pull_out_n)
    row = point.row
    allowed = row.pull_out_n / SAFETY
    verdict: Verdict = "ok" if load <= allowed else "caution" if load <= row.pull_out_n else "stop"
    few = len(holding) < 3
    remedy = None
    if verdict != "ok":
        need = int(np.ceil(len(holding) * load / allowed))
        remedy = Text("Hold it with {need} such fixings, or with stronger ones such as rivet nuts or bolts",
                      (("need", str(need), ""),))
    elif few:
        verdict = "caution"
        remedy = Text("Add a third fixing: with fewer the flange's edge has to keep the driver from rocking")
    checks = [
        Check(
            "fit.fixing",
            verdict,
            Text(
                "A slam of {slam} pulls with {load} on {name} ({holds}); {allowed} allowed",
                (("slam", f"{slam_g:g} g", ""), ("load", load, "N"), ("name", point.name, ""),
                 ("holds", f"{row.holds} {row.screw}".strip(), ""), ("allowed", allowed, "N")),
            ),
            value=load,
            limit=allowed,
            unit="N",
            remedy=remedy,
            working=(
                Step("m", "driver and adapter", mass_kg, "kg"),
                Step("a", f"{slam_g:g} g, in the worst direction", slam_g * GRAVITY, "m/s2", PRACTICE),
                Step("n", "fixings that hold", float(len(holding)), ""),
                Step("z", "center of mass off the metal", center_mm[2], "mm", "from driver and part"),
                Step("T", f"greatest pull on {point.name}; shear is not judged", load, "N", MODEL),
                Step("T_out", "what pulls it out", row.pull_out_n, "N", row.cited),
                Step("T_most", f"allowed, T_out / {SAFETY:g}", allowed, "N", PRACTICE),
            ),
            sources=(PRACTICE, MODEL),
            key="fixings",
        )
    ]
    return (*checks, *_suits(points, skin_mm))


def driver_screw(
    stock: Stock,
    threads: Threads,
    rim_mm: float,
    gasket_mm: float,
    room_mm: float,
    head: str = "button",
) -> ChosenScrew:
    """The screw through the driver's rim into the adapter.

    Parameters
    ----------
    stock : Stock, mm
        Tables.
    threads : Threads, no unit
        What it goes into.
    rim_mm : float, mm
        Thickness of the rim under the head.
    gasket_mm : float, mm
        The driver's own gasket as closed.
    room_mm : float, mm
        From the seat down to where the screw would bottom; a through hole: to where its end may reach.
    head : str, no unit
        socket, button or countersunk; a self-tapping screw has its own.
    """
    grip = rim_mm + gasket_mm
    if threads.kind == "screw":
        tap = stock.tapping_screw(threads.size)
        wanted, least, offset = 2.5 * tap.d_mm, 2.0 * tap.d_mm, 0.0
        head, head_mm, height, source = "pan", tap.head_mm, tap.height_mm, tap.cited
        why = "2 to 2.5 d in plastic"
    else:
        screw = stock.screw(threads.size, head)
        head_mm, height, source = screw.head_mm, screw.height_mm, screw.cited
        if threads.kind == "insert":
            insert = stock.insert(threads.name)
            wanted = least = insert.length_mm
            offset, why = 0.0, f"the insert's length ({insert.cited})"
        else:
            nut = stock.nut(threads.size)
            wanted = least = nut.height_mm + 2.0 * screw.pitch_mm
            # The nut lies at the bottom of its pocket: the thread begins above it by what is left of the room.
            offset, why = max(room_mm - wanted, 0.0), f"the nut and two turns of thread ({nut.cited})"
    begins = grip + offset
    most = grip + room_mm
    length = _shortest(stock, threads.size, begins + least, most, begins + wanted)
    engagement = 0.0 if length is None else min(length - begins, wanted if threads.kind == "insert" else length)
    verdict: Verdict = "ok"
    remedy = None
    if length is None:
        verdict = "caution"
        remedy = _no_length(stock, threads.size, begins + least, most)
    check = Check(
        "fit.screw",
        verdict,
        _title("Driver to adapter", threads.size, head, length),
        value=engagement if length is not None else most - begins,
        limit=least,
        unit="mm",
        remedy=remedy,
        working=(
            Step("g", "rim and gasket under the head, down to the thread", begins, "mm", "driver's rim + gasket"),
            Step("e_least", f"thread wanted: {why}", least, "mm", PRACTICE),
            Step("e", "thread had", engagement, "mm"),
            Step("L_most", "longest that does not bottom", most, "mm"),
            Step("L", "shortest standard length that does", length, "mm", source),
        ),
        sources=(PRACTICE, source),
        key="threads",
        part="driver",
    )
    beyond = 0.0 if length is None else length - begins - engagement
    return ChosenScrew("driver to adapter", threads.size, head, length, begins, least, engagement, beyond, head_mm,
                       height, None, check)


def metal_screw(
    stock: Stock,
    row: Fixing,
    floor_mm: float,
    gasket_mm: float,
    skin_mm: float,
    counterbore_mm: float | None = None,
    head: str = "socket",
) -> ChosenScrew:
    """The screw through the adapter into the metal.

    Parameters
    ----------
    stock : Stock, mm
        Tables.
    row : backwave.stock.Fixing, mm
        What it goes into.
    floor_mm : float, mm
        Part under its head: thickness less the counterbore's depth, and a washer where there is one.
    gasket_mm : float, mm
        Back gasket as closed (0 in a groove).
    skin_mm : float, mm
        Thickness of the metal.
    counterbore_mm : float or None, mm
        Depth of the counterbore below the land; None: the head need not end below it.
    head : str, no unit
        socket, button or countersunk; a self-tapping screw has its own.
    """
    face = floor_mm + gasket_mm  # from under the head to the metal's face
    size = row.screw
    length: float | None = None
    begins, wanted, engagement = face, row.engage_mm, 0.0
    head_mm = height = 0.0
    source = row.cited
    verdict: Verdict = "ok"
    remedy = None
    if row.holds in _NO_SCREW:
        title = Text("Adapter to metal: a {holds}, no screw", (("holds", row.holds, ""),))
        tail, head = row.behind_mm, ""
    elif row.holds == "stud":
        nut = stock.nut(size)
        head, head_mm, height, tail, source = "nut", nut.corners_mm, nut.height_mm, 0.0, nut.cited
        engagement = nut.height_mm
        title = Text("Adapter to metal: a nut {size} on the stud, which must stand {long} out of the metal",
                     (("size", size, ""), ("long", face + nut.height_mm + 1.0, "mm")))
    else:
        if size.startswith("ST"):
            tap = stock.tapping_screw(size)
            head, head_mm, height = "pan", tap.head_mm, tap.height_mm
            source = tap.cited
        else:
            screw = stock.screw(size, head)
            head_mm, height, source = screw.head_mm, screw.height_mm, screw.cited
        # A nut behind the metal begins behind it; a rivet nut's thread and a tapped sheet at its face.
        begins = face + (skin_mm if row.holds in ("bolt", "sheet nut", "expansion nut") else 0.0)
        length = _shortest(stock, size, begins + wanted, float("inf"), begins + wanted)
        if length is None:
            verdict, tail = "caution", row.behind_mm
            remedy = _no_length(stock, size, begins + wanted, None)
        else:
            engagement = length - begins
            tail = max(length - face - skin_mm, row.behind_mm)
        title = _title("Adapter to metal", size, head, length)
    below = None if counterbore_mm is None or not head_mm else counterbore_mm - height
    if below is not None and below < HEAD_BELOW_MM - _SAME:
        # A head above the land holds the driver or the foam off it.
        verdict = "stop" if below < -_SAME else "caution"
        remedy = Text("Counterbore {deeper} deeper, or take a lower head",
                      (("deeper", HEAD_BELOW_MM - below, "mm"),))
    working = [
        Step("g", "part and gasket under the head, to the metal's face", face, "mm", "the part"),
        Step("s", "metal", skin_mm, "mm", "the job"),
        Step("e_least", f"thread wanted in a {row.holds}", wanted, "mm", row.cited),
        Step("e", "thread had", engagement, "mm"),
        Step("L", "shortest standard length that gives it", length, "mm", source),
        Step("t", "stands behind the metal (screw or fixing, the longer)", tail, "mm"),
    ]
    if below is not None:
        working.append(Step("b", "head below the land", below, "mm", PRACTICE))
    check = Check("fit.screw", verdict, title, value=engagement, limit=wanted if length else None, unit="mm",
                  remedy=remedy, working=tuple(working), sources=(PRACTICE, source), key="screw", part="metal")
    return ChosenScrew("adapter to metal", size, head, length, begins, wanted, engagement, tail, head_mm, height,
                       below, check)


def _shortest(stock: Stock, size: str, least: float, most: float, liked: float) -> float | None:
    """Shortest standard length at or above `liked` that fits; failing that the longest at or above `least`."""
    fitting = [x for x in stock.lengths_mm(size) if least - _SAME <= x <= most + _SAME]
    return next((x for x in fitting if x >= liked - _SAME), fitting[-1] if fitting else None)


def _no_length(stock: Stock, size: str, least: float, most: float | None) -> Text:
    longest = stock.lengths_mm(size)[-1]
    if most is None or longest < least:
        return Text(
            "{size} should be {least} long; the longest standard one is {longest}: make the part thinner there",
            (("size", size, ""), ("least", least, "mm"), ("longest", longest, "mm")),
        )
    if most < least:
        return Text("{size} needs {more} more depth in the part: make it thicker, or use a shorter thread",
                    (("size", size, ""), ("more", least - most, "mm")))
    return Text("No standard {size} is {least} to {most} long: cut a longer one down, or put washers under it",
                (("size", size, ""), ("least", least, "mm"), ("most", most, "mm")))


def _title(what: str, size: str, head: str, length: float | None) -> Text:
    if length is None:
        return Text(f"{what}: no standard screw {{size}} fits", (("size", size, ""),))
    return Text(f"{what}: {{size}}, {{length}} long, {head} head", (("size", size, ""), ("length", length, "mm")))


def _suits(points: Sequence[FixingPoint], skin_mm: float | None) -> tuple[Check, ...]:
    """Whether the metal is right for the fixings: its thickness, and how near its edge they are."""
    checks = []
    if skin_mm is not None:
        wrong = [p for p in points if not p.row.grip_min_mm - _SAME <= skin_mm <= p.row.grip_max_mm + _SAME]
        if wrong:
            row = wrong[0].row
            checks.append(
                Check(
                    "fit.fixing", "caution",
                    Text("{name} is a {holds} for {least} to {most}; the metal is {skin}",
                         (("name", wrong[0].name, ""), ("holds", row.holds, ""), ("least", row.grip_min_mm, "mm"),
                          ("most", row.grip_max_mm, "mm"), ("skin", skin_mm, "mm"))),
                    value=skin_mm,
                    limit=row.grip_max_mm if skin_mm > row.grip_max_mm else row.grip_min_mm,
                    unit="mm",
                    remedy=Text("Take a fixing made for that thickness"),
                    working=(Step("s", "metal", skin_mm, "mm", "the job"),), sources=(row.cited,), key="skin",
                    part="grip",
                )
            )
    near = [(p.edge_mm - p.row.edge_mm, p) for p in points if p.edge_mm is not None]
    if near:
        room, point = min(near, key=lambda both: both[0])
        if room < -_SAME and point.edge_mm is not None:
            checks.append(
                Check(
                    "fit.fixing", "caution",
                    Text(
                        "{name} sits {edge} from the metal's edge; {wanted} wanted",
                        (("name", point.name, ""), ("edge", point.edge_mm, "mm"),
                         ("wanted", point.row.edge_mm, "mm")),
                    ),
                    value=point.edge_mm, limit=point.row.edge_mm, unit="mm",
                    remedy=Text("Back the metal with a plate, or bolt through a strip behind it"),
                    working=(Step("e", "middle of the fixing to the metal's edge", point.edge_mm, "mm"),),
                    sources=(point.row.cited,), key="fixings", part="edge",
                )
            )
    return tuple(checks)
