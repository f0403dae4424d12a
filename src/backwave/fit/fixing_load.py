"""How the adapter holds on to the metal: the load on each fixing at a slam, against what it holds.

A door slammed at 30 g (common trade practice) is taken as a steady pull in whichever direction is worst.  Driver
and adapter are a rigid body on fixings that give alike, the usual model of a bolt group under a load off its
middle: each fixing pulls with T = A + B x + C y, and the three numbers follow from the force and the two moments
about the mounting face.  T is linear in the direction of the pull, so its worst is the length of a vector.  One
fixing, or several in one line, hold no moment about it: the part tips until its edge presses on the metal, and they
pull against that too (equilibrium of a rigid body, any statics text).  Left out: the edge elsewhere, where it relieves
the fixings on one side, pre-load, shear, the metal's own bending, and fatigue."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, inf

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Verdict, check_of
from backwave.fit.screw import NO_SCREW
from backwave.shape import Outline
from backwave.stock import FixingRow, Stock
from backwave.uncertainty import Reading

MODEL = "rigid body on equal elastic fixings (bolt group)"
GRAVITY = 9.80665  # m/s2, standard
SLAM_G = 30.0
SAFETY = 3.0  # pull-out over what is allowed; common trade practice
PLACE_MM = 0.3  # what a fixing's place, or the hole's edge beside it, may be out by; common trade practice
MAX_KG = 20.0  # heavier drivers go into no door
CRIMPED = (
    "rivet nut",
    "sheet nut",
    "expansion nut",
)  # in metal twice as thick as they grip they never sit; common trade practice
_SAME = 1e-6
MAX_FIXINGS = 40  # more than that round one driver is no advice


@dataclass(frozen=True)
class FixingPoint:
    """One fixing of the adapter in the metal, as seen from the cabin."""

    x_mm: float
    y_mm: float
    row: FixingRow
    name: str = "fixing"  # what to call it: "fixing 1"
    edge_mm: float | None = None  # from its middle to the hole's edge, negative inside the hole; None: not known


def screw_for(stock: Stock, holds: str, hole_mm: float, metal: str = "steel") -> str:
    """The screw that a fixing of the factory's takes, by the hole or thread read in it: to be shown as assumed.
    `stock`, mm; returns "M5", "ST4.2", or "" for a hook or pin. A self-tapping screw by the nearest pilot hole; a nut
    whose bare hole was read by that hole; all else the thickest metric screw that passes, or where none does the
    self-tapping one nearest in diameter.; InputError: A hole smaller than any screw of the table."""
    if holds in NO_SCREW:
        return ""
    rows = [row for row in stock.of(FixingRow) if (row.holds, row.metal) == (holds, metal) and row.screw]
    if holds == "self-tap" and rows:
        return min(rows, key=lambda row: abs(row.hole_mm - hole_mm)).screw
    sizes = {row.screw: stock.clearance_hole(row.screw).d_mm for row in rows}
    passing = [size for size, d in sizes.items() if size.startswith("M") and d <= hole_mm + _SAME]
    if passing:
        thickest = max(passing, key=lambda size: sizes[size])
        # Wider than the medium series makes it for that screw: the nut's own hole was read.
        bare = [row.screw for row in rows if abs(row.hole_mm - hole_mm) < 0.15]
        return bare[0] if bare and hole_mm > stock.clearance_hole(thickest).medium_mm else thickest
    tapping = [size for size, d in sizes.items() if size.startswith("ST") and d <= hole_mm + 0.5]
    if not tapping:
        least = min(sizes.values(), default=0.0)
        raise InputError(f"hole of a {holds} in {metal}", hole_mm, f"{least:g} mm or more (the table's screws)")
    return min(tapping, key=lambda size: abs(sizes[size] - hole_mm))


def fixing_loads_n(
    xy_mm: Sequence[tuple[float, float]], mass_kg: float, center_mm: tuple[float, float, float], slam_g: float = SLAM_G,
    edge: Outline | None = None,
) -> tuple[float, ...]:  # fmt: skip
    """Greatest pull along each fixing's axis, whichever way the slam pushes. With d the place of a fixing from the
    middle of all of them, J the sum of d d', and (r, z) the center of mass from that middle: a unit pull along the axis
    puts 1/n + d' J^-1 r on a fixing, one across it z J^-1 d. Returns N: one for each fixing. With fixings in one line
    (or fewer than three) the moment about that line is not theirs: what they hold tips about its `edge`, and without
    one it is left out.; InputError: no fixings."""
    if not xy_mm:
        raise InputError("fixings that hold", "none", "one or more")
    places = np.asarray(xy_mm, dtype=np.float64)
    middle = places.mean(axis=0)
    d = places - middle
    spread, axes = np.linalg.eigh(d.T @ d)
    held = spread > (1e-9 * spread[1] if edge is None else _LINE_MM**2)
    lever = (axes * np.where(held, 1.0 / np.where(held, spread, 1.0), 0.0)) @ axes.T @ d.T  # (2, n)
    off, z = np.asarray(center_mm[:2]) - middle, center_mm[2]
    pulls = np.column_stack([-z * lever.T, 1.0 / len(places) + off @ lever])  # (n, 3): by direction of the slam
    tips = np.zeros((1, 3))
    if edge is not None and not held.all():
        toward = np.vstack([axes[:, 0], -axes[:, 0]]) if held.any() else _ROUND
        tips = _tips(edge.points() - middle, toward) * np.column_stack([z * toward, -toward @ off]) / len(places)
    share = np.linalg.norm(pulls[:, None] + tips, axis=2).max(axis=1)
    return tuple(float(s) for s in mass_kg * GRAVITY * slam_g * share)


_LINE_MM = 1.0  # fixings so near to one line are on it
_ROUND = np.column_stack([np.cos(np.arange(72) * np.pi / 36.0), np.sin(np.arange(72) * np.pi / 36.0)])


def _tips(edge_mm: NDArray[np.float64], toward: NDArray[np.float64]) -> NDArray[np.float64]:
    """One over the lever, in mm, with which an edge presses in each direction: as far as its hull goes that way from the
    fixings' line, or from the one place where they are."""
    far = np.maximum((toward @ edge_mm.T).max(axis=1), 0.1)
    if len(toward) == 2:
        return 1.0 / far[:, None]
    return (np.maximum(toward @ toward.T, 0.0) / far[:, None]).max(axis=0)[:, None]


def fixing_checks(
    points: Sequence[FixingPoint], mass_kg: float, center_mm: tuple[float, float, float], skin_mm: float | None = None,
    slam_g: float = SLAM_G, steady_n: float = 0.0, edge: Outline | None = None,
) -> tuple[Check, ...]:  # fmt: skip
    """Each fixing's load at a slam against what it holds; one check, for the one with the least in hand. `points`, mm:
    all fixings; the part has no pins and no hooks, so these carry nothing; `skin_mm`: thickness of the metal, against
    each fixing's grip; returns `fit.fixing`, and one more (part "grip") where a fixing does not suit the metal's
    thickness."""
    holding = _holding(points)
    if not holding:
        give = "Give it three fixings or more that hold: rivet nuts, sheet nuts or bolts"
        return (
            check_of("fit.fixing", "stop", "Nothing holds the adapter to the metal", give, sources=(), key="fixings"),
        )
    slams = fixing_loads_n([(p.x_mm, p.y_mm) for p in holding], mass_kg, center_mm, slam_g, edge)
    loads = [slam + steady_n for slam in slams]
    load, point = max(zip(loads, holding), key=lambda both: both[0] / both[1].row.pull_out_n)
    row = point.row
    allowed = row.pull_out_n / SAFETY
    verdict: Verdict = "ok" if load <= allowed else "caution" if load <= row.pull_out_n else "stop"
    xy = np.array([(p.x_mm, p.y_mm) for p in holding])
    rocks = bool(np.linalg.matrix_rank(xy - xy.mean(axis=0), tol=_LINE_MM) < 2)
    remedy, need = "", np.ceil(len(holding) * load / allowed)
    if verdict != "ok":
        remedy = "Hold it with {need} such fixings, or with stronger ones such as rivet nuts or bolts"
        if need > MAX_FIXINGS:
            remedy = "No number of such fixings holds that: look at the driver's mass and depth, and at where the fixings are"
        far = np.hypot(*(xy - center_mm[:2]).T).mean() / 2.0
        if np.hypot(*(xy.mean(axis=0) - center_mm[:2])) > far:  # more beside the mass than round it
            remedy = "Set fixings on the other side of the speaker too: all of these are on one"
    if rocks:
        verdict = "caution" if verdict == "ok" else verdict
        remedy = "Add a fixing off their line: without it the flange's edge alone stops the driver rocking"
    pull = "and the gasket pull" if steady_n > 0.0 else "pulls"
    about = (
        ("slam", f"{slam_g:g} g", ""), ("load", load, "N"), ("name", point.name, ""),
        ("holds", f"{row.holds} {row.screw}".strip(), ""), ("allowed", allowed, "N"), ("need", f"{need:.0f}", ""),
    )  # fmt: skip
    found = check_of(
        "fit.fixing", verdict, f"A slam of {{slam}} {pull} with {{load}} on {{name}} ({{holds}}); {{allowed}} allowed",
        remedy, about, (load, allowed, "N"),
        (
            CalculationLine("m", "driver and adapter", mass_kg, "kg"),
            CalculationLine("a", f"{slam_g:g} g, in the worst direction", slam_g * GRAVITY, "m/s2", PRACTICE),
            CalculationLine("n", "fixings that hold", float(len(holding)), ""),
            CalculationLine("z", "center of mass off the metal", center_mm[2], "mm", "from driver and part"),
            CalculationLine("G", "the gasket's share, always", steady_n, "N", "the gasket's working"),
            CalculationLine("T", f"greatest pull on {point.name}, with G; shear is not judged", load, "N", MODEL),
            CalculationLine("T_out", "what pulls it out", row.pull_out_n, "N", row.cited),
            CalculationLine("T_most", f"allowed, T_out / {SAFETY:g}", allowed, "N", PRACTICE),
        ),
        (PRACTICE, MODEL), "fixings",
    )  # fmt: skip
    return (found, *_grips(points, skin_mm))


def _holding(points: Sequence[FixingPoint]) -> list[FixingPoint]:
    return [p for p in points if p.row.pull_out_n > 0.0 and p.row.holds not in NO_SCREW]


def missing_checks(
    points: Sequence[FixingPoint], part_kg: float, part_z_mm: float, driver_z_mm: float, slam_g: float = SLAM_G,
    edge: Outline | None = None, steady_n: float = 0.0, thread_kg: float = inf, unplaced: bool = False,
) -> tuple[Check, ...]:  # fmt: skip
    """What has to be entered before the load can be judged: fixings, or the driver's mass and what they would hold;
    `unplaced`: fixings are entered, but nothing says yet where they are.
    `points`, mm; `part_kg`, `part_z_mm`, `driver_z_mm`: mass of the part; heights of its and the driver's middle off
    the metal; `steady_n`: the gasket's pull on each fixing; `thread_kg`: driver that its own screws' threads hold."""
    if not points:
        unknown = "No fixings entered: nothing is known of what holds the part to the metal"
        enter = "Enter every fixing point in the metal: fixings = [{{ x, y, hole, holds }}]"
        if unplaced:
            unknown = "The fixings entered have no place yet: nothing is known of what holds the part to the metal"
            enter = "Enter x and y of each, or about where two of them are (angle) and the distances between them"
        return (check_of("fit.fixing", "caution", unknown, enter, key="fixings", part="missing"),)
    holding = _holding(points)
    if not holding:
        return fixing_checks(points, part_kg, (0.0, 0.0, part_z_mm), None, slam_g)
    xy = [(p.x_mm, p.y_mm) for p in holding]

    def holds(kg: float) -> bool:
        total = kg + part_kg
        z = (kg * driver_z_mm + part_kg * part_z_mm) / total
        loads = fixing_loads_n(xy, total, (0.0, 0.0, z), slam_g, edge)
        return all(load + steady_n <= p.row.pull_out_n / SAFETY for load, p in zip(loads, holding))

    low, high = 0.0, MAX_KG
    for _ in range(20):  # to 0.02 g
        middle = (low + high) / 2.0
        low, high = (middle, high) if holds(middle) else (low, middle)
    most = min(p.row.pull_out_n for p in holding) / SAFETY
    ask, about = (
        "these fixings hold up to {most}",
        (("most", _below(low), "kg"), ("own", _below(min(thread_kg, MAX_KG)), "kg")),
    )
    if thread_kg < low:
        ask = "the threads of its own screws hold up to {own}, these fixings up to {most}"
    return (
        check_of(
            "fit.fixing", "caution", "No mass of the speaker entered: whether its fixings hold at a slam is not known",
            f"Weigh the speaker and enter mass: {ask}", about, (None, None, ""),
            (
                CalculationLine("m_most", "speaker's mass that every fixing holds", low, "kg", MODEL),
                CalculationLine("m_own", "speaker's mass that the threads of its own screws hold", about[1][1], "kg", MODEL),
                CalculationLine("G", "the gasket's share, always", steady_n, "N", "the gasket's working"),
                CalculationLine("T_most", f"allowed on a fixing: pull-out / {SAFETY:g}", most, "N", PRACTICE),
            ),
            (PRACTICE, MODEL), "mass", "mass",
        ),
    )  # fmt: skip


def _below(kg: float) -> float:
    """As it is shown, never rounded up."""
    return floor(100.0 * kg) / 100.0


def _grips(points: Sequence[FixingPoint], skin_mm: float | None) -> tuple[Check, ...]:
    """Whether the metal's thickness is right for the fixings."""
    if skin_mm is None:
        return ()
    wrong = [p for p in points if not p.row.grip_min_mm - _SAME <= skin_mm <= p.row.grip_max_mm + _SAME]
    if not wrong:
        return ()
    row = wrong[0].row
    never = row.holds in CRIMPED and skin_mm > 2.0 * row.grip_max_mm
    remedy = "Take a fixing made for that thickness"
    if never:
        remedy = "Measure the metal again; if it is right, bolt through it or take a fixing made for it"
    about = (
        ("name", wrong[0].name, ""), ("holds", row.holds, ""), ("least", row.grip_min_mm, "mm"),
        ("most", row.grip_max_mm, "mm"), ("skin", skin_mm, "mm"),
    )  # fmt: skip
    return (
        check_of(
            "fit.fixing", "stop" if never else "caution",
            "{name} is a {holds} for {least} to {most}; the metal is {skin}", remedy, about,
            (skin_mm, row.grip_max_mm if skin_mm > row.grip_max_mm else row.grip_min_mm, "mm"),
            (CalculationLine("s", "metal", skin_mm, "mm", "the job"),), (row.cited,), "skin", "grip",
        ),
    )  # fmt: skip


def metal_checks(points: Sequence[FixingPoint]) -> tuple[Check, ...]:
    """Whether every fixing is in metal, its row's distance from the hole's edge: one check, for the worst. Short by
    less than a place is read to (`PLACE_MM`) is ok, and said as that."""
    near = [(p.edge_mm - _bare_mm(p.row), p.edge_mm - p.row.edge_mm, p) for p in points if p.edge_mm is not None]
    if not near:
        return ()
    in_air = [both for both in near if both[0] < -PLACE_MM]
    _, room, point = min(in_air or near, key=lambda both: both[0] if in_air else both[1])
    edge, wanted = point.edge_mm or 0.0, point.row.edge_mm
    about = (
        ("name", point.name, ""), ("edge", edge, "mm"), ("over", _bare_mm(point.row) - edge, "mm"),
        ("wanted", wanted, "mm"), ("holds", f"{point.row.holds} {point.row.screw}".strip(), ""),
        ("out", PLACE_MM, "mm"),
    )  # fmt: skip
    verdict: Verdict = "stop" if in_air else "caution" if room < -PLACE_MM else "ok"
    title = {
        "ok": "Every fixing is in metal: {name} sits {edge} from the hole's edge; needs {wanted}"
        + (", and a place may be out by {out}" if room < 0.0 else ""),
        "caution": "{name} sits {edge} from the hole's edge; a {holds} needs {wanted}",
        "stop": "{name} is not in metal: it reaches {over} into the hole",
    }[verdict]
    remedy = {
        "ok": "",
        "caution": "Back the metal there with a plate, or bolt through a strip behind it",
        "stop": "Measure the hole and the place of {name} again; if both are right, fix the part elsewhere in the metal",
    }[verdict]
    return (
        check_of(
            "fit.fixing", verdict, title, remedy, about, (edge, wanted, "mm"),
            (
                CalculationLine("e", "middle of the fixing to the hole's edge", edge, "mm", "the job"),
                CalculationLine("e0", f"wanted for a {about[4][1]}", wanted, "mm", point.row.cited),
                CalculationLine("d", "what a place may be out by", PLACE_MM, "mm", PRACTICE),
            ),
            (point.row.cited,), "fixings", "edge",
        ),
    )  # fmt: skip


def lip_checks(points: Sequence[FixingPoint], lip: Reading) -> tuple[Check, ...]:
    """Whether every fixing lies flat on metal beside the lip round the hole: one check, for the worst; () where all do."""
    near = [
        (p.edge_mm - lip.value, max(_bare_mm(p.row), p.row.flange_mm / 2.0), p) for p in points if p.edge_mm is not None
    ]
    beside, needs, point = min(near, key=lambda one: one[0] - one[1], default=(0.0, 0.0, None))
    if point is None or beside >= needs:
        return ()
    about = (("name", point.name, ""), ("beside", beside, "mm"), ("on", -beside, "mm"), ("needs", needs, "mm"))
    title = "{name} sits {beside} beside the lip round the hole; it needs {needs} to lie flat"
    if beside < 0.0:
        title = "{name} sits on the lip round the hole, {on} inside its foot: nothing lies flat there"
    remedy = "Measure the lip's width and the place of {name} again; if both are right, fix the part farther out"
    return (
        check_of(
            "fit.fixing", "stop" if beside < -lip.bound - PLACE_MM else "caution", title, remedy, about, (beside, needs, "mm"),
            (CalculationLine("e", "middle of the fixing to the lip's foot", beside, "mm", "the job"),), ("geometry",),
            "fixings", "lip",
        ),
    )  # fmt: skip


def _bare_mm(row: FixingRow) -> float:
    """Radius of what it takes out of the metal; a stud or pin is there with at least a millimeter and a half."""
    return max(row.hole_mm / 2.0, 1.5)
