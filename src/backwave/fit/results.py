"""What judging a fit comes to.  All lengths in millimeters."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Literal

from backwave.finding import Check, Message, Verdict, worst
from backwave.fit.plausible import PlausibleSpan
from backwave.fit.types import Instrument
from backwave.uncertainty import Estimate, Reading


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
    """Stand-offs at which all behind and the grille keep their margins, interval and all.

    A minimum is set by what is behind, a maximum by the grille; None: nothing was read there.  Where the minimum is
    above the maximum there is no window.
    """

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
