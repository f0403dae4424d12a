"""What a fit is judged from, and what comes out.  All lengths in millimeters, angles in degrees.

Depth behind the mounting face of the metal is positive; a driver's depths are from the mounting side of its rim.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import Check, Text, Verdict, worst
from backwave.uncertain import Estimate, Reading, exact

__all__ = [
    "Advice",
    "Choice",
    "Clearance",
    "Driver",
    "Fit",
    "Front",
    "Instrument",
    "Margins",
    "Obstacle",
    "Opening",
    "Spot",
    "Stack",
    "StandIn",
    "Tail",
    "Terminals",
    "Vent",
    "Window",
]

What = Literal["glass", "carriage", "rail", "beam", "loom", "metal"]
MOVES = ("glass", "carriage")  # judged with the glass's margin


@dataclass(frozen=True)
class Spot:
    """One reading behind the face.

    Parameters
    ----------
    radius : Reading, mm
        Distance from the opening's axis.
    clear : Reading, mm
        Free depth behind the face there.
    """

    radius: Reading
    clear: Reading


@dataclass(frozen=True)
class Obstacle:
    """Readings of one thing behind the face, in one direction and one state of the window.

    Between its spots it is piecewise linear in radius, beyond them constant.

    Parameters
    ----------
    what : str, no unit
        glass, carriage (both move), rail, beam, loom or metal.
    spots : tuple of Spot, mm
        In any order; sorted by radius.
    window : str, no unit
        "up", "half", "down", or "" where it does not matter.
    angle_deg : float or None, deg
        Direction from +x toward +y as seen from the cabin; None holds all round.
    half_deg : float, deg
        Half of the sector over which a reading with an angle holds (a default, shown as assumed).
    """

    what: What
    spots: tuple[Spot, ...]
    window: Literal["up", "half", "down", ""] = ""
    angle_deg: float | None = None
    half_deg: float = 45.0

    def __post_init__(self) -> None:
        if not self.spots:
            raise InputError(f"{self.what} behind the face", "no readings", "one or more")
        object.__setattr__(self, "spots", tuple(sorted(self.spots, key=lambda s: s.radius.value)))

    def meets(self, angle_deg: float | None, half_deg: float) -> bool:
        """Whether something that spans a sector of the driver is in this obstacle's sector.

        Parameters
        ----------
        angle_deg : float or None, deg
            Middle of that sector; None for all round.
        half_deg : float, deg
            Half of its width.
        """
        if angle_deg is None or self.angle_deg is None:
            return True
        apart = abs((angle_deg - self.angle_deg + 180.0) % 360.0 - 180.0)
        return apart <= self.half_deg + half_deg


@dataclass(frozen=True)
class Opening:
    """The opening in the metal, what is behind it and what is before it.

    Parameters
    ----------
    hole : Reading or None, mm
        Diameter of a round hole.
    outline_mm : (n, 2) array or None, mm
        Edge of a hole that is not round, about the opening's axis; used where `hole` is None.
    outline_error : Reading, mm
        How far that edge may stand out (value usually 0, with its error).
    skin : Reading or None, mm
        Thickness of the metal.
    behind : tuple of Obstacle, mm
        What was read behind the face.
    trim_clear : Reading or None, mm
        Face of the metal to the back of the grille.
    """

    hole: Reading | None = None
    outline_mm: NDArray[np.float64] | None = None
    outline_error: Reading = field(default_factory=lambda: exact("hole.outline", 0.0))
    skin: Reading | None = None
    behind: tuple[Obstacle, ...] = ()
    trim_clear: Reading | None = None

    def __post_init__(self) -> None:
        if self.outline_mm is None:
            return
        points = np.asarray(self.outline_mm, dtype=np.float64)
        if points.ndim != 2 or points.shape[1] != 2 or len(points) < 3:
            raise InputError("hole outline", points.shape, "an (n, 2) array of 3 or more points")
        object.__setattr__(self, "outline_mm", points)


@dataclass(frozen=True)
class Front:
    """Highest points of the driver at rest above the mounting side of its rim.

    Parameters
    ----------
    moving : Reading or None, mm
        Cone or dust cap: moves by the whole excursion.  A bare `front` counts as this.
    crest : Reading or None, mm
        Crest of the surround: moves by about half the excursion (common trade practice).
    fixed : Reading or None, mm
        Post, bridge, phase plug: does not move.
    """

    moving: Reading | None = None
    crest: Reading | None = None
    fixed: Reading | None = None

    def __post_init__(self) -> None:
        if self.moving is None and self.crest is None and self.fixed is None:
            raise InputError("front of the driver", "nothing", "moving, crest or fixed height")


@dataclass(frozen=True)
class Terminals:
    """The block of terminals: from the basket out to `radius`, `width` across, back to `depth`.

    Parameters
    ----------
    radius : Reading, mm
        Axis to the middle of its outer face.
    width : Reading, mm
        Across.
    depth : Reading, mm
        Its farthest point from the mounting side of the rim.
    angle_deg : float or None, deg
        The driver's own angle, seen from its front; None: not known, all round.
    """

    radius: Reading
    width: Reading
    depth: Reading
    angle_deg: float | None = None


@dataclass(frozen=True)
class Vent:
    """A vent in the pole at the driver's back.

    Parameters
    ----------
    radius : Reading, mm
        Its radius.
    wanted_mm : float, mm
        Free air wanted behind it: 5 to 10 mm is common trade practice.
    """

    radius: Reading
    wanted_mm: float = 8.0


@dataclass(frozen=True)
class Driver:
    """A driver as far as it has to clear.

    Parameters
    ----------
    profile : tuple of (radius, depth) Readings, mm
        From the rim back; depth never decreases, radius may do either; beyond its last point the back is flat to the
        axis.
    front : Front, mm
        What stands before the rim's mounting side.
    xmech : Reading, mm
        Mechanical limit of excursion, one way.
    rim : Reading or None, mm
        Thickness of the frame's rim; counts as fixed at the front.
    terminals : Terminals or None, mm
        None: it has none that stand out.
    vent : Vent or None, mm
        None: no vent.
    """

    profile: tuple[tuple[Reading, Reading], ...]
    front: Front
    xmech: Reading
    rim: Reading | None = None
    terminals: Terminals | None = None
    vent: Vent | None = None

    def __post_init__(self) -> None:
        depths = [depth.value for _, depth in self.profile]
        if not depths:
            raise InputError("profile", "no points", "one or more of radius, depth")
        if any(b < a for a, b in zip(depths, depths[1:])):
            raise InputError("profile", depths, "depths that never decrease")


@dataclass(frozen=True)
class Stack:
    """What stands between the metal and the mounting side of the driver's rim.

    Parameters
    ----------
    thickness : Reading, mm
        The adapter's own, between its two faces.
    gasket : Reading, mm
        Back gasket as closed; 0 where it lies in a groove and the plate bottoms on the metal.
    recess : Reading, mm
        How far the driver's seat is sunk into the adapter.
    driver_gasket : Reading, mm
        The driver's own gasket as closed.
    """

    thickness: Reading
    gasket: Reading = field(default_factory=lambda: exact("foam.closed", 0.0))
    recess: Reading = field(default_factory=lambda: exact("recess", 0.0))
    driver_gasket: Reading = field(default_factory=lambda: exact("gasket", 0.0))


@dataclass(frozen=True)
class Tail:
    """The end of a screw behind the metal.

    Parameters
    ----------
    radius : Reading, mm
        Its distance from the axis.
    length : Reading, mm
        How far it stands out behind the back of the skin.
    angle_deg : float or None, deg
        Its direction, as seen from the cabin; None: any.
    name : str, no unit
        What to call it ("screw 2").
    """

    radius: Reading
    length: Reading
    angle_deg: float | None = None
    name: str = "screw"


@dataclass(frozen=True)
class Margins:
    """Room to keep for practical reasons, apart from uncertainty (common trade practice; editable).

    Parameters
    ----------
    glass_mm, grille_mm, metal_mm, hole_mm : float, mm
        To glass and what moves with it; cone to grille; to fixed metal; to the hole's edge.
    """

    glass_mm: float = 5.0
    grille_mm: float = 3.0
    metal_mm: float = 3.0
    hole_mm: float = 1.0


@dataclass(frozen=True)
class StandIn:
    """What a gauge of the driver's depth, magnet and terminals plus margin did in the opening.

    Parameters
    ----------
    outcome : str, no unit
        "clear" or "touched".
    where : str, no unit
        Where it touched, in the person's words.
    """

    outcome: Literal["clear", "touched"]
    where: str = ""


@dataclass(frozen=True)
class Clearance:
    """One clearance with how sure it is.

    Parameters
    ----------
    name : str, no unit
        glass, behind, grille, hole, terminals.glass, terminals.metal, screw-tails.glass, screw-tails.metal or vent.
    code, part : str, no unit
        The check's code, and what tells apart two checks of one code.
    rises : int, no unit
        +1 where a taller seat gives more room, -1 where it gives less, 0 otherwise.
    margin_mm : float, mm
        What should be kept.
    estimate : Estimate, mm
        Value at the best estimates; u, low and high by Monte Carlo.
    first_order_u_mm : float, mm
        Standard uncertainty by first order.
    worst_mm : float, mm
        Worst case.
    chance_clear, chance_margin : float, no unit
        Chance to exceed 0, and to keep the margin.
    place : Text, no unit
        What comes nearest, and where.
    slopes : tuple of (Reading, float), mm per mm
        First-order sensitivity to each reading that moves it.
    """

    name: str
    code: str
    part: str
    rises: int
    margin_mm: float
    estimate: Estimate
    first_order_u_mm: float
    worst_mm: float
    chance_clear: float
    chance_margin: float
    place: Text
    slopes: tuple[tuple[Reading, float], ...]

    @property
    def verdict(self) -> Verdict:
        """`ok`: low at or above the margin; `caution`: low at or above 0; `stop`: below."""
        if self.estimate.low >= self.margin_mm:
            return "ok"
        return "caution" if self.estimate.low >= 0.0 else "stop"


@dataclass(frozen=True)
class Window:
    """Seat heights at which all behind and the grille keep their margins, interval and all.

    Parameters
    ----------
    low_mm, high_mm : float or None, mm
        Least and greatest seat height, set by what is behind and by the grille; None: nothing was read there.
        Where low is above high there is no window.
    low_by, high_by : str, no unit
        Names of the clearances that set them.
    bare_mm : (float or None, float or None), mm
        The same two at the best estimates, without uncertainty.
    touch_mm : (float or None, float or None), mm
        The same two with all margins 0.
    """

    low_mm: float | None
    high_mm: float | None
    low_by: str
    high_by: str
    bare_mm: tuple[float | None, float | None]
    touch_mm: tuple[float | None, float | None]

    @property
    def gap_mm(self) -> float:
        """How much is missing for a window to open, mm; negative: how wide it is; -inf where a side is unbounded."""
        if self.low_mm is None or self.high_mm is None:
            return float("-inf")
        return self.low_mm - self.high_mm

    @property
    def open(self) -> bool:
        """Whether there is any seat height at which both are ok."""
        return self.gap_mm <= 0.0


@dataclass(frozen=True)
class Fit:
    """Everything the fit of one driver in one opening comes to.

    Parameters
    ----------
    seat_height_mm : float, mm
        Metal to the mounting side of the rim, as judged.
    clearances : tuple of Clearance, mm
        Those that could be judged.
    chance_clear, chance_margin : float or None, no unit
        Joint chances that all exceed 0, and that all keep their margins; None where nothing could be judged.
    tightest : str, no unit
        Name of the clearance with the least chance; "" for none.
    contributions : tuple of (name, share), no unit
        First-order shares of the tightest clearance's variance by reading, largest first.
    window : Window or None, mm
        Seat heights that work.
    checks : tuple of Check, no unit
        Everything found, with the working.
    draws : int, no unit
        How many draws stand behind the chances.
    """

    seat_height_mm: float
    clearances: tuple[Clearance, ...]
    chance_clear: float | None
    chance_margin: float | None
    tightest: str
    contributions: tuple[tuple[str, float], ...]
    window: Window | None
    checks: tuple[Check, ...]
    draws: int

    def clearance(self, name: str) -> Clearance | None:
        """The clearance of that name, or None where it could not be judged.

        Parameters
        ----------
        name : str, no unit
            "glass", "grille", "hole" ...
        """
        return next((c for c in self.clearances if c.name == name), None)

    @property
    def verdict(self) -> Verdict:
        """The worst of its checks."""
        return worst([check.verdict for check in self.checks])


@dataclass(frozen=True)
class Choice:
    """A thickness that was chosen.

    Parameters
    ----------
    thickness_mm, seat_height_mm : float, mm
        The part's own thickness, and the seat height it gives.
    chance_margin, chance_clear : float, no unit
        Joint chances at that thickness.
    alike_mm : (float, float), mm
        Thicknesses, least and greatest, that are as good.
    held_by : str, no unit
        "fit" where the clearances decide; "material" where the least thickness does.
    """

    thickness_mm: float
    seat_height_mm: float
    chance_margin: float
    chance_clear: float
    alike_mm: tuple[float, float]
    held_by: Literal["fit", "material"]


@dataclass(frozen=True)
class Instrument:
    """Something to read again with.

    Parameters
    ----------
    name : str, no unit
        What a fitter calls it.
    half_mm : float, mm
        What it may be out by, either way.
    reads : tuple of str, no unit
        What it can reach: "behind", "trim", "hole", "driver", "stack".
    """

    name: str
    half_mm: float
    reads: tuple[str, ...]


@dataclass(frozen=True)
class Advice:
    """Which one reading to take again, if any.

    Parameters
    ----------
    kind : str, no unit
        "settled": nothing needs reading; "read": this one reading makes it certain, if it comes out the same;
        "none": no single reading would; "change": better readings cannot help, a dimension has to change.
    text : Text, no unit
        The advice in words.
    reading : str, no unit
        Name of the reading, or "".
    instrument : Instrument or None, mm
        With what.
    low_mm : float or None, mm
        The 2.5 % point of the clearance in question after that reading.
    """

    kind: Literal["settled", "read", "none", "change"]
    text: Text
    reading: str = ""
    instrument: Instrument | None = None
    low_mm: float | None = None
