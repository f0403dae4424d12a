"""What a fit is judged from, what can be chosen for it, and what judging it comes to.

Lengths in millimeters, angles in degrees.  Depth behind the mounting face of the metal is positive; a driver's depths
are from the mounting side of its rim."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from math import isfinite
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import Check, Message, Verdict, worst
from backwave.fit.plausible import PlausibleSpan
from backwave.shape import within_reach
from backwave.uncertainty import Estimate, Reading, exact

What = Literal["glass", "carriage", "rail", "beam", "loom", "metal"]
MOVES = ("glass", "carriage")  # judged with the glass's margin


@dataclass(frozen=True)
class DepthReading:
    """One reading behind the face."""

    radius: Reading  # mm, distance from the opening's axis
    clear: Reading  # mm, free depth behind the face there


@dataclass(frozen=True)
class Obstacle:
    """Readings of one thing behind the face, in one direction and one state of the window. Between its spots it is
    piecewise linear in radius, beyond them constant."""

    what: What  # glass and carriage move
    spots: tuple[DepthReading, ...]  # in any order; sorted by radius
    window: Literal["up", "half", "down", ""] = ""  # "" where it does not matter
    angle_deg: float | None = None  # from +x toward +y as seen from the cabin; None: the minimum found all round
    half_deg: float = 30.0  # half of the sector over which a reading with an angle holds; common trade practice

    def __post_init__(self) -> None:
        if not self.spots:
            raise InputError(f"{self.what} behind the face", "no readings", "one or more")
        object.__setattr__(self, "spots", tuple(sorted(self.spots, key=lambda s: s.radius.value)))


def edge_mm(outline_mm: NDArray[np.float64]) -> float:
    """Minimum distance from the axis to the edge of a hole."""
    a, b = outline_mm, np.roll(outline_mm, -1, axis=0)
    along = b - a
    squared = np.einsum("ij,ij->i", along, along)
    t = np.clip(-np.einsum("ij,ij->i", a, along) / np.where(squared == 0.0, 1.0, squared), 0.0, 1.0)
    foot = a + t[:, None] * along
    return float(np.hypot(foot[:, 0], foot[:, 1]).min())


@dataclass(frozen=True)
class Opening:
    """The opening in the metal, what is behind it and what is before it."""

    hole: Reading | None = None  # mm, diameter of a round hole
    # (n, 2), edge of a hole that is not round, about the opening's axis; used where `hole` is None
    outline_mm: NDArray[np.float64] | None = None
    # mm, how far that edge may stand out (value usually 0, with its error)
    outline_error: Reading = field(default_factory=lambda: exact("edge of the outline", 0.0))
    skin: Reading | None = None  # mm, thickness of the metal
    behind: tuple[Obstacle, ...] = ()  # mm, what was read behind the face
    trim_clear: Reading | None = None  # mm, face of the metal to the back of the grille
    # "moves" or "none" as said; "unsaid" in a door, where it is asked for; "" elsewhere
    window: Literal["moves", "none", "unsaid", ""] = ""

    def __post_init__(self) -> None:
        within_reach("opening", self)
        if self.outline_mm is None:
            return
        points = np.asarray(self.outline_mm, dtype=np.float64)
        if points.ndim != 2 or points.shape[1] != 2 or len(points) < 3:
            raise InputError("hole outline", points.shape, "an (n, 2) array of 3 or more points")
        object.__setattr__(self, "outline_mm", points)

    @property
    def hole_radius_mm(self) -> float | None:
        """Minimum radius of the hole at the best estimates; None where it was not read."""
        if self.hole is not None:
            return self.hole.value / 2.0
        return None if self.outline_mm is None else edge_mm(self.outline_mm)

    @property
    def hole_reach_mm(self) -> float | None:
        """Greatest radius of the hole at the best estimates: a corner, where it is not round."""
        if self.hole is not None:
            return self.hole.value / 2.0
        return None if self.outline_mm is None else float(np.hypot(*self.outline_mm.T).max())


@dataclass(frozen=True)
class FrontHeights:
    """Highest points of the driver at rest above the mounting side of its rim."""

    # mm, cone or dust cap: moves by the whole excursion.  A bare `front` counts as this.
    moving: Reading | None = None
    # mm, crest of the surround: moves by about half the excursion (common trade practice)
    crest: Reading | None = None
    fixed: Reading | None = None  # mm, post, bridge, phase plug: does not move

    def __post_init__(self) -> None:
        if self.moving is None and self.crest is None and self.fixed is None:
            raise InputError("front of the driver", "nothing", "moving, crest or fixed height")


@dataclass(frozen=True)
class Terminals:
    """The block of terminals: from the basket out to `radius`, `width` across, back to `depth`."""

    radius: Reading  # mm, axis to the middle of its outer face
    width: Reading  # mm
    depth: Reading  # mm, its farthest point from the mounting side of the rim
    angle_deg: float | None = None  # the driver's own angle, seen from its front; None: not known, all round


@dataclass(frozen=True)
class Vent:
    """A vent in the pole at the driver's back."""

    radius: Reading  # mm
    wanted_mm: float = 8.0  # free air wanted behind it: 5 to 10 mm is common trade practice


@dataclass(frozen=True)
class DriverShape:
    """A driver as far as it has to clear."""

    # mm, from the rim back; depth never decreases, radius may do either; beyond its last point the back is flat to
    # the axis
    profile: tuple[tuple[Reading, Reading], ...]
    front: FrontHeights  # mm, what stands before the rim's mounting side
    xmech: Reading  # mm, mechanical limit of excursion, one way
    rim: Reading | None = None  # mm, thickness of the frame's rim; counts as fixed at the front
    terminals: Terminals | None = None  # mm, none: it has none that stand out
    vent: Vent | None = None  # mm

    def __post_init__(self) -> None:
        within_reach("driver", self)
        depths = [depth.value for _, depth in self.profile]
        if not depths:
            raise InputError("profile", "no points", "one or more of radius, depth")
        if any(b < a for a, b in pairwise(depths)):
            raise InputError("profile", depths, "depths that never decrease")


@dataclass(frozen=True)
class Stack:
    """What stands between the metal and the mounting side of the driver's rim, and how far off the axis it may stand."""

    thickness: Reading  # mm, the adapter's own, between its two faces
    gasket: Reading = field(default_factory=lambda: exact("no back gasket", 0.0))  # mm as closed; 0 in a groove
    recess: Reading = field(default_factory=lambda: exact("no recess", 0.0))  # mm, of the driver's seat
    driver_gasket: Reading = field(default_factory=lambda: exact("no gasket of the driver", 0.0))  # mm as closed
    lift: Reading = field(default_factory=lambda: exact("no lift of the flange", 0.0))  # mm, mean between fixings
    off_x: Reading = field(default_factory=lambda: exact("on the axis, across", 0.0))  # mm, of the driver
    off_y: Reading = field(default_factory=lambda: exact("on the axis, up", 0.0))  # mm

    def __post_init__(self) -> None:
        within_reach("stack", self)


@dataclass(frozen=True)
class ScrewTail:
    """The end of a screw behind the metal."""

    radius: Reading  # mm, its distance from the axis
    length: Reading  # mm, how far it stands out behind the back of the skin
    angle_deg: float | None = None  # its direction, as seen from the cabin; None: any
    name: str = "screw"  # what to call it ("screw 2")


@dataclass(frozen=True)
class Margins:
    """Room to keep for practical reasons, apart from uncertainty (common trade practice; editable)."""

    glass_mm: float = 5.0  # to glass and what moves with it; cone to grille; to fixed metal; to the hole's edge
    grille_mm: float = 3.0
    metal_mm: float = 3.0
    hole_mm: float = 1.0


@dataclass(frozen=True)
class GaugeTrial:
    """What a dummy of the speaker's depth, magnet and terminals plus margin did in the opening."""

    outcome: Literal["clear", "touched"]
    where: str = ""  # where it touched, in the person's words
    full_travel: bool = False  # the window was moved over its full travel, its glass pushed toward it by hand
    code: str = ""  # which dummy, as it says on itself
    wanted: str = ""  # code of the one that proves the job as it is now
    glass_mm: float = 0.0  # margin it had toward what moves with the window
    metal_mm: float = 0.0  # and toward what is fixed
    terminals: bool = True  # its terminals reach as far as the speaker's
    spigot: bool = True  # nothing of the part reaches behind the metal where the dummy has nothing
    of: Literal["this", "other", "unknown"] = "unknown"  # it proves the job as it is now, another, or nobody knows

    @property
    def clear(self) -> bool:
        """It went in and out, and is not one of another speaker or stand-off."""
        return self.outcome == "clear" and self.of != "other"

    def shows(self, code: str, part: str, margin_mm: float) -> bool:
        """Whether it stayed clear with the margin that is wanted of a clearance; of glass, over the window's travel."""
        moves = code == "fit.glass" or part == "glass"
        had = self.glass_mm if moves else self.metal_mm
        reaches = self.terminals if code == "fit.terminals" else code in ("fit.glass", "fit.behind")
        return self.clear and reaches and had >= margin_mm - 1e-9 and (self.full_travel or not moves)


@dataclass(frozen=True)
class Instrument:
    """Something to read again with."""

    name: str  # what a fitter calls it
    half_mm: float  # what it may be out by, either way
    reads: tuple[str, ...]  # what it can reach: "behind", "trim", "hole", "driver", "stack"


@dataclass(frozen=True)
class GasketKind:
    """How the back gasket is laid."""

    grooved: bool  # in a groove, not flat
    width_mm: float | None = None  # of a flat strip that is narrower than the usual; None: the usual, or as told
    grade: str | None = None  # of its foam, where that is firmer than the softest; None: the softest, or as told


@dataclass(frozen=True)
class PlaceChoice:
    """One choice of turn, thickness, thread and gasket; screw lengths and the ring's strips follow from it."""

    threads: str  # as `threads` of the job says it: "insert M4 short"
    gasket: GasketKind
    turn_deg: float | None  # added to every angle of the driver; None: no holes to turn
    thickness_mm: float  # the part's own
    notch_deg: float | None = None  # direction of the notch on this side; None: no notch

    @property
    def grooved(self) -> bool:
        """Whether the back gasket lies in a groove."""
        return self.gasket.grooved

    @property
    def kinds(self) -> tuple[str, GasketKind]:
        """Thread and gasket: what both sides of a vehicle should share."""
        return self.threads, self.gasket


@dataclass(frozen=True)
class Nearest:
    """Where driver and surroundings are nearest, at the best estimates."""

    what: str  # what is nearest: the obstacle by its word, the edge of the hole, or what of the driver's front
    # which part of the driver: "back", "edge", "terminals", "tail", "vent", "moving", "crest", "fixed" or "rim"
    of: Literal["back", "edge", "terminals", "tail", "vent", "moving", "crest", "fixed", "rim"]
    detail: tuple[str, ...] = ()  # what else tells it apart: the window state, the screw
    radius_mm: float | None = None  # at which radius; None where radius plays no part
    angle_deg: float | None = None  # in which direction, from +x toward +y; None holds all round
    # where the driver's own point is along the axis, out of the metal; None where that plays no part
    z_mm: float | None = None
    # "inside" or "outside" where the readings do not go there and the last value is held; else ""
    beyond: Literal["inside", "outside", ""] = ""

    @property
    def name(self) -> str:
        """What is nearest, with what tells it apart."""
        return ", ".join((self.what, *self.detail))

    def words(self) -> Message:
        """What is nearest and how far from the axis, to stand in a sentence."""
        if self.radius_mm is None or not isfinite(self.radius_mm):
            return Message("{what}", (("what", self.name, ""),))
        return Message("{what}, {radius} from the axis", (("what", self.name, ""), ("radius", self.radius_mm, "mm")))


@dataclass(frozen=True)
class Clearance:
    """One clearance with how sure it is."""

    name: (
        str  # glass, behind, grille, hole, terminals.glass, terminals.metal, screw-tails.glass, screw-tails.metal, vent
    )
    code: str  # the check's code
    part: str  # what tells apart two checks of one code
    rises: int  # +1 where a taller stand-off gives more room, -1 where it gives less, 0 otherwise
    margin_mm: float  # what should be kept
    estimate: Estimate  # mm: value at the best estimates; u, low and high by Monte Carlo
    first_order_u_mm: float
    worst_mm: float
    chance_clear: float  # to exceed 0
    chance_margin: float  # to keep the margin
    nearest: Nearest  # what comes nearest, and where
    slopes: tuple[tuple[Reading, float], ...]  # mm per mm: first-order sensitivity to each reading that moves it
    span: PlausibleSpan | None = None  # over what was not entered; None where nothing of that moves it

    @property
    def verdict(self) -> Verdict:
        """`ok`: low at or above the margin at every plausible value of what was not entered; `stop`: low below 0 at
        every one."""
        if min(self.estimate.low, self.span.worst_mm if self.span else self.estimate.low) >= self.margin_mm:
            return "ok"
        return "caution" if self.kindest_mm >= 0.0 else "stop"

    @property
    def kindest_mm(self) -> float:
        """The 2.5 % point where what was not entered is as kind as it may plausibly be."""
        return self.estimate.low if self.span is None else max(self.estimate.low, self.span.best_mm)


@dataclass(frozen=True)
class Window:
    """Stand-offs at which all behind and the grille keep their margins, interval and all. A minimum is set by what is
    behind, a maximum by the grille; None: nothing was read there. Where the minimum is above the maximum there is no
    window."""

    low_mm: float | None
    high_mm: float | None
    low_by: str  # names of the clearances that set them
    high_by: str
    bare_mm: tuple[float | None, float | None]  # both at the best estimates, without uncertainty
    touch_mm: tuple[float | None, float | None]  # both with all margins 0, and what was not entered at its kindest

    @property
    def gap_mm(self) -> float:
        """How much is missing for a window to open, mm; negative: how wide it is; -inf: a side without bound."""
        if self.low_mm is None or self.high_mm is None:
            return float("-inf")
        return self.low_mm - self.high_mm

    @property
    def open(self) -> bool:
        """Whether there is any seat height at which both are ok."""
        return self.gap_mm <= 0.0


@dataclass(frozen=True)
class Fit:
    """Everything the fit of one driver in one opening comes to."""

    seat_height_mm: float  # metal to the mounting side of the rim, as judged
    clearances: tuple[Clearance, ...]  # mm, those that could be judged
    # 1, joint chances that all exceed 0, and that all keep their margins; None where nothing could be judged
    chance_clear: float | None
    chance_margin: float | None  # 1
    tightest: str  # name of the clearance with the least chance; "" for none
    # 1, first-order shares of the tightest clearance's variance by reading, largest first
    contributions: tuple[tuple[str, float], ...]
    window: Window | None  # mm, seat heights that work
    checks: tuple[Check, ...]  # everything found, with the working
    draws: int  # how many draws stand behind the chances

    @property
    def bounded(self) -> bool:
        """Whether enough was read behind and in front to say which seat heights are allowed."""
        return self.window is not None and self.window.low_mm is not None and self.window.high_mm is not None

    @property
    def allowed_mm(self) -> tuple[float, float] | None:
        """Minimum and maximum seat height; None where there is no such window, or too little was read to tell."""
        window = self.window
        if window is None or window.low_mm is None or window.high_mm is None or not window.open:
            return None
        return window.low_mm, window.high_mm

    def clearance(self, name: str) -> Clearance | None:
        """The clearance of that name, or None where it could not be judged."""
        return next((c for c in self.clearances if c.name == name), None)

    @property
    def verdict(self) -> Verdict:
        """The worst of its checks."""
        return worst([check.verdict for check in self.checks])


@dataclass(frozen=True)
class Choice:
    """A thickness that was chosen."""

    thickness_mm: float  # the part's own thickness, and the seat height it gives
    seat_height_mm: float
    chance_margin: float  # 1, joint chances at that thickness
    chance_clear: float  # 1
    alike_mm: tuple[float, float]  # (float, float), thicknesses, least and greatest, that are as good
    # "fit" where the clearances decide; "material" where the least thickness does
    held_by: Literal["fit", "material"]
    as_good_mm: tuple[float, ...]  # heights at which each clearance has the same verdict as at the one taken


@dataclass(frozen=True)
class Advice:
    """Which one reading to take again, if any."""

    # "settled": nothing needs reading; "read": this one reading makes it certain, if it comes out the same;
    # "none": no single reading would; "change": better readings cannot help, a dimension has to change
    kind: Literal["settled", "read", "none", "change"]
    text: Message  # the advice in words
    reading: str = ""
    instrument: Instrument | None = None  # mm
    low_mm: float | None = None  # the 2.5 % point of the clearance in question after that reading
    answered: str = ""  # of a change: the finding that says what to do instead
