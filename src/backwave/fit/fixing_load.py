"""How the adapter holds on to the metal: the load on each fixing at a slam, against what it holds.

A door slammed at 30 g (common trade practice) is taken as a steady pull in whichever direction is worst.  Driver
and adapter are a rigid body on fixings that give alike, the usual model of a bolt group under a load off its
middle: each fixing pulls with T = A + B x + C y, and the three numbers follow from the force and the two moments
about the mounting face.  T is linear in the direction of the pull, so its worst is the length of a vector.  Left
out: the flange bearing on the metal (which relieves the fixings on one side), pre-load, shear, the metal's own
bending, and fatigue.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from backwave.errors import InputError
from backwave.finding import CalculationLine, Check, Message, Verdict
from backwave.stock import FixingRow, Stock

__all__ = ["SAFETY", "SLAM_G", "FixingPoint", "fixing_checks", "fixing_loads_n", "screw_for"]

PRACTICE = "common trade practice"
MODEL = "rigid body on equal elastic fixings (bolt group)"
GRAVITY = 9.80665  # m/s2, standard
SLAM_G = 30.0
SAFETY = 3.0  # pull-out over what is allowed; common trade practice
_NO_SCREW = ("hook", "pin")
_SAME = 1e-6
MAX_FIXINGS = 40  # more than that round one driver is no advice


@dataclass(frozen=True)
class FixingPoint:
    """One fixing of the adapter in the metal.

    Parameters
    ----------
    x_mm, y_mm : float, mm
        Its place, as seen from the cabin.
    row : backwave.stock.FixingRow, mm and N
        How it holds.
    name : str, no unit
        What to call it: "fixing 1".
    edge_mm : float or None, mm
        From its middle to the nearest edge of the metal (the hole's, as a rule); None: not known.
    """

    x_mm: float
    y_mm: float
    row: FixingRow
    name: str = "fixing"
    edge_mm: float | None = None


def screw_for(stock: Stock, holds: str, hole_mm: float, metal: str = "steel") -> str:
    """The screw that a fixing of the factory's takes, by the hole or thread read in it: to be shown as assumed.

    Parameters
    ----------
    stock : Stock, mm
        Tables.
    holds : str, no unit
        How the fixing holds.
    hole_mm : float, mm
        Diameter of its hole or thread.
    metal : str, no unit
        steel or plastic.

    Returns
    -------
    str, no unit
        "M5", "ST4.2", or "" for a hook or pin.  A self-tapping screw by the nearest pilot hole; a nut whose bare
        hole was read by that hole; all else the thickest metric screw that passes, or where none does the
        self-tapping one nearest in diameter.

    Raises
    ------
    InputError
        A hole smaller than any screw of the table.
    """
    if holds in _NO_SCREW:
        return ""
    rows = [
        row
        for row in stock.rows("fixing")
        if isinstance(row, FixingRow) and row.holds == holds and row.metal == metal and row.screw
    ]
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
        `fit.fixing`, and one more each (part "grip", "edge") where a fixing does not suit the metal.
    """
    holding = [p for p in points if p.row.pull_out_n > 0.0]
    if not holding:
        return (
            Check(
                "fit.fixing",
                "stop",
                Message("Nothing holds the adapter to the metal"),
                remedy=Message("Give it three fixings or more that hold: rivet nuts, sheet nuts or bolts"),
                key="fixings",
            ),
        )
    loads = fixing_loads_n([(p.x_mm, p.y_mm) for p in holding], mass_kg, center_mm, slam_g)
    load, point = max(zip(loads, holding), key=lambda both: both[0] / both[1].row.pull_out_n)
    row = point.row
    allowed = row.pull_out_n / SAFETY
    verdict: Verdict = "ok" if load <= allowed else "caution" if load <= row.pull_out_n else "stop"
    xy = np.array([(p.x_mm, p.y_mm) for p in holding])
    rocks = bool(np.linalg.matrix_rank(xy - xy.mean(axis=0), tol=1.0) < 2)  # all within a millimeter of one line
    remedy = None
    if verdict != "ok":
        need = len(holding) * load / allowed
        remedy = (
            Message(
                "Hold it with {need} such fixings, or with stronger ones such as rivet nuts or bolts",
                (("need", f"{np.ceil(need):.0f}", ""),),
            )
            if need <= MAX_FIXINGS
            else Message(
                "No number of such fixings holds that: look at the driver's mass and depth, and at where the fixings are"
            )
        )
    elif rocks:
        verdict = "caution"
        remedy = Message(
            "Add a fixing off their line: without it the flange's edge alone stops the driver rocking"
        )
    checks = [
        Check(
            "fit.fixing",
            verdict,
            Message(
                "A slam of {slam} pulls with {load} on {name} ({holds}); {allowed} allowed",
                (
                    ("slam", f"{slam_g:g} g", ""),
                    ("load", load, "N"),
                    ("name", point.name, ""),
                    ("holds", f"{row.holds} {row.screw}".strip(), ""),
                    ("allowed", allowed, "N"),
                ),
            ),
            value=load,
            limit=allowed,
            unit="N",
            remedy=remedy,
            working=(
                CalculationLine("m", "driver and adapter", mass_kg, "kg"),
                CalculationLine("a", f"{slam_g:g} g, in the worst direction", slam_g * GRAVITY, "m/s2", PRACTICE),
                CalculationLine("n", "fixings that hold", float(len(holding)), ""),
                CalculationLine("z", "center of mass off the metal", center_mm[2], "mm", "from driver and part"),
                CalculationLine("T", f"greatest pull on {point.name}; shear is not judged", load, "N", MODEL),
                CalculationLine("T_out", "what pulls it out", row.pull_out_n, "N", row.cited),
                CalculationLine("T_most", f"allowed, T_out / {SAFETY:g}", allowed, "N", PRACTICE),
            ),
            sources=(PRACTICE, MODEL),
            key="fixings",
        )
    ]
    return (*checks, *_suits(points, skin_mm))


def _suits(points: Sequence[FixingPoint], skin_mm: float | None) -> tuple[Check, ...]:
    """Whether the metal is right for the fixings: its thickness, and how near its edge they are."""
    checks = []
    if skin_mm is not None:
        wrong = [p for p in points if not p.row.grip_min_mm - _SAME <= skin_mm <= p.row.grip_max_mm + _SAME]
        if wrong:
            row = wrong[0].row
            checks.append(
                Check(
                    "fit.fixing",
                    "caution",
                    Message(
                        "{name} is a {holds} for {least} to {most}; the metal is {skin}",
                        (
                            ("name", wrong[0].name, ""),
                            ("holds", row.holds, ""),
                            ("least", row.grip_min_mm, "mm"),
                            ("most", row.grip_max_mm, "mm"),
                            ("skin", skin_mm, "mm"),
                        ),
                    ),
                    value=skin_mm,
                    limit=row.grip_max_mm if skin_mm > row.grip_max_mm else row.grip_min_mm,
                    unit="mm",
                    remedy=Message("Take a fixing made for that thickness"),
                    working=(CalculationLine("s", "metal", skin_mm, "mm", "the job"),),
                    sources=(row.cited,),
                    key="skin",
                    part="grip",
                )
            )
    near = [(p.edge_mm - p.row.edge_mm, p) for p in points if p.edge_mm is not None]
    if near:
        room, point = min(near, key=lambda both: both[0])
        if room < -_SAME and point.edge_mm is not None:
            checks.append(
                Check(
                    "fit.fixing",
                    "caution",
                    Message(
                        "{name} sits {edge} from the metal's edge; {wanted} wanted",
                        (
                            ("name", point.name, ""),
                            ("edge", point.edge_mm, "mm"),
                            ("wanted", point.row.edge_mm, "mm"),
                        ),
                    ),
                    value=point.edge_mm,
                    limit=point.row.edge_mm,
                    unit="mm",
                    remedy=Message("Back the metal with a plate, or bolt through a strip behind it"),
                    working=(
                        CalculationLine("e", "middle of the fixing to the metal's edge", point.edge_mm, "mm"),
                    ),
                    sources=(point.row.cited,),
                    key="fixings",
                    part="edge",
                )
            )
    return tuple(checks)
