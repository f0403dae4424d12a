"""What the drawings are told: plain numbers in millimeters, already worked out elsewhere.

A view holds results, never a job.  Axes are the fit's: z out of the metal toward the listener, radius from the
driver's axis; on the face x to the right and y up as seen from the cabin, angles from +x toward +y.  "up" and
"down" are the two halves of the section's plane.  A length of None means "not known: leave it out".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backwave.finding import Verdict

Half = Literal["both", "up", "down"]
Point = tuple[float, float]


@dataclass(frozen=True)
class ObstacleView:
    """Something behind the metal, as read: free depth at radii from the axis."""

    what: str  # "glass", "carriage", "rail", "beam", "loom", "metal" or any other word
    readings_mm: tuple[Point, ...]  # radius from the axis and free depth behind the face (positive), radii rising
    window: str = ""  # window state it was read in ("down", "half", "up"), or ""
    half: Half = "both"


@dataclass(frozen=True)
class ClearanceView:
    """A gap to dimension, between two points of the section."""

    name: str  # what it is room to: "glass", "grille", "hole edge"
    # (z, radius), the two ends; radius is negative in the lower half.  Same radius: an axial gap; same z: a radial
    # one.
    a_mm: Point
    b_mm: Point  # (z, radius)
    # mm, at the best estimates, and the 2.5 and 97.5 % points; low and high None where not uncertain
    value: float
    low: float | None = None  # mm
    high: float | None = None  # mm
    margin: float | None = None  # mm
    verdict: Verdict = "ok"
    note: str = ""  # A short addition ("read once"), or ""


@dataclass(frozen=True)
class TerminalCut:
    """Terminals of the driver, where they lie in or near the plane of the section."""

    half: Half
    radius_mm: float  # largest radius, and depth from the rim's mounting side to their rear
    depth_mm: float
    in_plane: bool = True  # False draws them as hidden lines


@dataclass(frozen=True)
class DriverCut:
    """The driver in section."""

    frame_radius_mm: float  # outer radius of the frame and thickness of its rim
    rim_mm: float
    # back of the driver from the rim inward; depth from the rim's mounting side, never falling
    profile_mm: tuple[Point, ...]
    # highest point at rest above the mounting side of: cone or dust cap, surround, fixed parts (0: none). A crest
    # of None is drawn level with the rim's front.
    moving_mm: float
    crest_mm: float | None = None
    fixed_mm: float = 0.0
    xmech_mm: float = 0.0  # mechanical limit of excursion, one way
    gasket_mm: float = 0.0  # the driver's own gasket as closed
    terminals: tuple[TerminalCut, ...] = ()
    vent_radius_mm: float = 0.0  # radius of a pole vent at the back, or 0


@dataclass(frozen=True)
class FixingCut:
    """A screw through the adapter into the metal, cut along its axis."""

    half: Half
    radius_mm: float  # distance of its axis from the driver's axis
    screw_mm: float  # diameter of the screw, and of the hole in the adapter
    hole_mm: float
    head_mm: float
    head_height_mm: float
    counterbore_mm: float  # diameter and depth of the counterbore, from the part's front
    counterbore_depth_mm: float
    tail_mm: float  # length of screw or fixing behind the metal's face


@dataclass(frozen=True)
class InsertCut:
    """A threaded insert, nut or pilot hole under the driver's rim, with its screw."""

    half: Half
    radius_mm: float  # distance of its axis from the driver's axis, hole diameter, depth from the seat
    diameter_mm: float
    depth_mm: float
    screw_mm: float  # diameter of the driver's screw


@dataclass(frozen=True)
class AdapterCut:
    """The adapter in section."""

    outer_up_mm: float  # radius of its outline in the upper and the lower half
    outer_down_mm: float
    bore_mm: float  # radius of its through-bore
    thickness_mm: float  # between its two faces
    back_closed_mm: float = 0.0  # back gasket as closed (0 where it sits in a groove and the plate bottoms)
    recess_mm: float = 0.0  # depth of the driver's seat below the front face, and its radius (both 0: on top)
    seat_radius_mm: float = 0.0
    relief_mm: float = 0.0  # how much the bore widens toward the back, at 45 degrees
    groove_mm: tuple[float, float, float] | None = None  # (radius, width, depth)
    # (inner, outer), radii of a flat back gasket's edges, or None: under the whole back
    strip_mm: tuple[float, float] | None = None
    spigot_mm: Point | None = None  # (radius, length)
    fixings: tuple[FixingCut, ...] = ()  # screws into the metal in or near the plane
    inserts: tuple[InsertCut, ...] = ()  # threads for the driver in or near the plane
    label: str = "adapter"  # "13.0 mm ASA adapter", or the like


@dataclass(frozen=True)
class FoamRingView:
    """The foam ring in front."""

    inner_mm: float
    outer_mm: float
    from_mm: float  # z of the face it stands on and of the face it presses on
    to_mm: float
    free_mm: float | None = None


@dataclass(frozen=True)
class SeatWindow:
    """The seat height: chosen, allowed, and the range a person may try."""

    chosen_mm: float  # metal to the mounting side of the driver's rim
    # seat heights at which glass and grille both keep their margins; None where there is none
    low_mm: float | None = None
    high_mm: float | None = None
    least_mm: float = 0.0  # ends of the scale that is drawn
    most_mm: float = 40.0
    # False where too little was measured to say which heights are allowed; low and high are then None
    judged: bool = True


@dataclass(frozen=True)
class SectionView:
    """Everything the section shows."""

    title: str  # "Front door, left: section" and one line under it
    subtitle: str
    verdict: Verdict
    verdict_text: str  # its words, and a smaller line under them (may be "")
    verdict_note: str
    skin_mm: float
    hole_up_mm: float  # radius of the metal's hole in each half
    hole_down_mm: float
    seat: SeatWindow
    driver: DriverCut
    adapter: AdapterCut
    obstacles: tuple[ObstacleView, ...] = ()
    clearances: tuple[ClearanceView, ...] = ()  # gaps to dimension, most important first
    # face to the back of the grille, and to what the foam presses on; None where not measured
    trim_clear_mm: float | None = None
    trim_land_mm: float | None = None
    grille_radius_mm: float | None = None  # radius of the trim's open grille; None takes the frame's
    trim_half_mm: float | None = None  # what the trim reading may be out by, either way; None leaves it out
    foam: FoamRingView | None = None
    notes: tuple[str, ...] = ()  # lines for the foot: what was assumed, what is not covered


@dataclass(frozen=True)
class FaceFixing:
    """A factory fixing on the flange."""

    x_mm: float
    y_mm: float
    hole_mm: float  # diameter of the hole, and of the head or counterbore (0: none)
    head_mm: float = 0.0
    label: str = ""  # "rivet nut" or the like, or ""


@dataclass(frozen=True)
class DriverHole:
    """One hole of the driver's frame at the chosen turn."""

    x_mm: float
    y_mm: float
    hole_mm: float  # diameter, or width of a slot
    slot_mm: float = 0.0  # length of a slot over its ends; 0 for a round hole
    slot_deg: float = 0.0  # direction of the slot's length
    # diameter of the hole in the part under it, for an insert or a screw; 0 where there is none
    boss_mm: float = 0.0


@dataclass(frozen=True)
class TerminalFace:
    """The driver's terminals from the front, at the chosen turn."""

    angle_deg: float  # direction of their middle
    width_mm: float  # width across, and the radii they reach from and to
    inner_mm: float
    outer_mm: float


@dataclass(frozen=True)
class FaceView:
    """Everything the face shows, as seen from the cabin."""

    title: str
    subtitle: str  # one line under the heading
    verdict: Verdict
    verdict_text: str
    verdict_note: str  # a smaller line under the words, may be ""
    side: str  # "left", "right", or "" for an opening without a pair
    outline_mm: tuple[Point, ...]  # of the adapter's flange, closed (first point not repeated)
    hole_mm: tuple[Point, ...]  # edge of the hole in the metal, closed; () where it is not known
    bore_radius_mm: float
    frame_radius_mm: float
    fixings: tuple[FaceFixing, ...] = ()
    driver_holes: tuple[DriverHole, ...] = ()  # as turned
    terminals: TerminalFace | None = None  # as turned
    turn_deg: float = 0.0
    best_deg: float | None = None
    period_deg: float = 360.0  # turn after which the pattern repeats
    allowed_deg: tuple[Point, ...] = ()  # turns that keep the required gap, within one period
    mark_deg: float = 0.0  # the driver's own angle of its first hole: the pointer stands at mark + turn
    gap: ClearanceView | None = None  # least distance between a driver hole and a fixing; its points are (x, y)
    foam_mm: Point | None = None  # inner and outer radius of the foam ring
    notes: tuple[str, ...] = ()  # lines for the foot
    unread_deg: tuple[Point, ...] = ()  # sectors behind which nothing was measured: from, to, counterclockwise
