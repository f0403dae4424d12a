"""What the drawings are told: plain numbers in millimeters, already worked out elsewhere.

A view holds results, never a job.  Axes are the fit's: z out of the metal toward the listener, radius from the
driver's axis; on the face x to the right and y up as seen from the cabin, angles from +x toward +y.  "up" and
"down" are the two halves of the section's plane.  A length of None means "not known: leave it out".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backwave.finding import Verdict

__all__ = [
    "AdapterCut",
    "ClearanceView",
    "DriverCut",
    "DriverHole",
    "FaceFixing",
    "FaceView",
    "FixingCut",
    "FoamRingView",
    "InsertCut",
    "ObstacleView",
    "SeatWindow",
    "SectionView",
    "TerminalCut",
    "TerminalFace",
]

Half = Literal["both", "up", "down"]
Point = tuple[float, float]


@dataclass(frozen=True)
class ObstacleView:
    """Something behind the metal, as read: free depth at radii from the axis.

    Parameters
    ----------
    what : str, no unit
        "glass", "carriage", "rail", "beam", "loom", "metal" or any other word.
    readings_mm : tuple of (radius, clear) float, mm
        Radius from the axis and free depth behind the face (positive), radii rising.
    window : str, no unit
        Window state it was read in ("down", "half", "up"), or "".
    half : "both", "up" or "down", no unit
        Which half of the section it lies in.
    """

    what: str
    readings_mm: tuple[Point, ...]
    window: str = ""
    half: Half = "both"


@dataclass(frozen=True)
class ClearanceView:
    """A gap to dimension, between two points of the section.

    Parameters
    ----------
    name : str, no unit
        What it is room to: "glass", "grille", "hole edge".
    a_mm, b_mm : (z, radius) float, mm
        The two ends; radius is negative in the lower half.  Same radius: an axial gap; same z: a radial one.
    value, low, high : float, mm
        At the best estimates, and the 2.5 and 97.5 % points; low and high None where not uncertain.
    margin : float, mm
        Margin asked for, or None.
    verdict : "ok", "caution" or "stop", no unit
        Judged elsewhere.
    note : str, no unit
        A short addition ("read once"), or "".
    """

    name: str
    a_mm: Point
    b_mm: Point
    value: float
    low: float | None = None
    high: float | None = None
    margin: float | None = None
    verdict: Verdict = "ok"
    note: str = ""


@dataclass(frozen=True)
class TerminalCut:
    """Terminals of the driver, where they lie in or near the plane of the section.

    Parameters
    ----------
    half : "up" or "down", no unit
        The half they are drawn in.
    radius_mm, depth_mm : float, mm
        Largest radius, and depth from the rim's mounting side to their rear.
    in_plane : bool, no unit
        False draws them as hidden lines.
    """

    half: Half
    radius_mm: float
    depth_mm: float
    in_plane: bool = True


@dataclass(frozen=True)
class DriverCut:
    """The driver in section.

    Parameters
    ----------
    frame_radius_mm, rim_mm : float, mm
        Outer radius of the frame and thickness of its rim.
    profile_mm : tuple of (radius, depth) float, mm
        Back of the driver from the rim inward; depth from the rim's mounting side, never falling.
    moving_mm, crest_mm, fixed_mm : float, mm
        Highest point at rest above the mounting side of: cone or dust cap, surround, fixed parts (0: none).
        A crest of None is drawn level with the rim's front.
    xmech_mm : float, mm
        Mechanical limit of excursion, one way.
    gasket_mm : float, mm
        The driver's own gasket as closed.
    terminals : tuple of TerminalCut, no unit
        Terminals near the plane.
    vent_radius_mm : float, mm
        Radius of a pole vent at the back, or 0.
    """

    frame_radius_mm: float
    rim_mm: float
    profile_mm: tuple[Point, ...]
    moving_mm: float
    crest_mm: float | None = None
    fixed_mm: float = 0.0
    xmech_mm: float = 0.0
    gasket_mm: float = 0.0
    terminals: tuple[TerminalCut, ...] = ()
    vent_radius_mm: float = 0.0


@dataclass(frozen=True)
class FixingCut:
    """A screw through the adapter into the metal, cut along its axis.

    Parameters
    ----------
    half : "up" or "down", no unit
        The half it lies in.
    radius_mm : float, mm
        Distance of its axis from the driver's axis.
    screw_mm, hole_mm : float, mm
        Diameter of the screw, and of the hole in the adapter.
    head_mm, head_height_mm : float, mm
        Diameter and height of the head.
    counterbore_mm, counterbore_depth_mm : float, mm
        Diameter and depth of the counterbore, from the part's front.
    tail_mm : float, mm
        Length of screw or fixing behind the metal's face.
    """

    half: Half
    radius_mm: float
    screw_mm: float
    hole_mm: float
    head_mm: float
    head_height_mm: float
    counterbore_mm: float
    counterbore_depth_mm: float
    tail_mm: float


@dataclass(frozen=True)
class InsertCut:
    """A threaded insert, nut or pilot hole under the driver's rim, with its screw.

    Parameters
    ----------
    half : "up" or "down", no unit
        The half it lies in.
    radius_mm, diameter_mm, depth_mm : float, mm
        Distance of its axis from the driver's axis, hole diameter, depth from the seat.
    screw_mm : float, mm
        Diameter of the driver's screw.
    """

    half: Half
    radius_mm: float
    diameter_mm: float
    depth_mm: float
    screw_mm: float


@dataclass(frozen=True)
class AdapterCut:
    """The adapter in section.

    Parameters
    ----------
    outer_up_mm, outer_down_mm : float, mm
        Radius of its outline in the upper and the lower half.
    bore_mm : float, mm
        Radius of its through-bore.
    thickness_mm : float, mm
        Between its two faces.
    back_closed_mm : float, mm
        Back gasket as closed (0 where it sits in a groove and the plate bottoms).
    strip_mm : (inner, outer) float, mm
        Radii of a flat back gasket's edges, or None: under the whole back.
    recess_mm, seat_radius_mm : float, mm
        Depth of the driver's seat below the front face, and its radius (both 0: on top).
    relief_mm : float, mm
        How much the bore widens toward the back, at 45 degrees.
    groove_mm : (radius, width, depth) float, mm
        Groove for the back gasket, or None.
    spigot_mm : (radius, length) float, mm
        Spigot into the hole, or None.
    fixings : tuple of FixingCut, no unit
        Screws into the metal in or near the plane.
    inserts : tuple of InsertCut, no unit
        Threads for the driver in or near the plane.
    label : str, no unit
        "13.0 mm ASA adapter", or the like.
    """

    outer_up_mm: float
    outer_down_mm: float
    bore_mm: float
    thickness_mm: float
    back_closed_mm: float = 0.0
    recess_mm: float = 0.0
    seat_radius_mm: float = 0.0
    relief_mm: float = 0.0
    groove_mm: tuple[float, float, float] | None = None
    strip_mm: tuple[float, float] | None = None
    spigot_mm: Point | None = None
    fixings: tuple[FixingCut, ...] = ()
    inserts: tuple[InsertCut, ...] = ()
    label: str = "adapter"


@dataclass(frozen=True)
class FoamRingView:
    """The foam ring in front.

    Parameters
    ----------
    inner_mm, outer_mm : float, mm
        Its radii.
    from_mm, to_mm : float, mm
        z of the face it stands on and of the face it presses on.
    free_mm : float, mm
        Its free height, or None.
    """

    inner_mm: float
    outer_mm: float
    from_mm: float
    to_mm: float
    free_mm: float | None = None


@dataclass(frozen=True)
class SeatWindow:
    """The seat height: chosen, allowed, and the range a person may try.

    Parameters
    ----------
    chosen_mm : float, mm
        Metal to the mounting side of the driver's rim.
    low_mm, high_mm : float, mm
        Seat heights at which glass and grille both keep their margins; None where there is none.
    least_mm, most_mm : float, mm
        Ends of the scale that is drawn.
    judged : bool, no unit
        False where too little was measured to say which heights are allowed; low and high are then None.
    """

    chosen_mm: float
    low_mm: float | None = None
    high_mm: float | None = None
    least_mm: float = 0.0
    most_mm: float = 40.0
    judged: bool = True


@dataclass(frozen=True)
class SectionView:
    """Everything the section shows.

    Parameters
    ----------
    title, subtitle : str, no unit
        "Front door, left: section" and one line under it.
    verdict : "ok", "caution" or "stop", no unit
        The verdict plate's.
    verdict_text, verdict_note : str, no unit
        Its words, and a smaller line under them (may be "").
    skin_mm : float, mm
        Thickness of the metal.
    hole_up_mm, hole_down_mm : float, mm
        Radius of the metal's hole in each half.
    seat : SeatWindow, no unit
        The seat height.
    driver : DriverCut, no unit
        The driver.
    adapter : AdapterCut, no unit
        The adapter.
    obstacles : tuple of ObstacleView, no unit
        What is behind.
    clearances : tuple of ClearanceView, no unit
        Gaps to dimension, most important first.
    trim_clear_mm, trim_land_mm : float, mm
        Face to the back of the grille, and to what the foam presses on; None where not measured.
    grille_radius_mm : float, mm
        Radius of the trim's open grille; None takes the frame's.
    trim_half_mm : float, mm
        What the trim reading may be out by, either way; None leaves it out.
    foam : FoamRingView or None, no unit
        The ring in front.
    notes : tuple of str, no unit
        Lines for the foot: what was assumed, what is not covered.
    """

    title: str
    subtitle: str
    verdict: Verdict
    verdict_text: str
    verdict_note: str
    skin_mm: float
    hole_up_mm: float
    hole_down_mm: float
    seat: SeatWindow
    driver: DriverCut
    adapter: AdapterCut
    obstacles: tuple[ObstacleView, ...] = ()
    clearances: tuple[ClearanceView, ...] = ()
    trim_clear_mm: float | None = None
    trim_land_mm: float | None = None
    grille_radius_mm: float | None = None
    trim_half_mm: float | None = None
    foam: FoamRingView | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class FaceFixing:
    """A factory fixing on the flange.

    Parameters
    ----------
    x_mm, y_mm : float, mm
        Its center.
    hole_mm, head_mm : float, mm
        Diameter of the hole, and of the head or counterbore (0: none).
    label : str, no unit
        "rivet nut" or the like, or "".
    """

    x_mm: float
    y_mm: float
    hole_mm: float
    head_mm: float = 0.0
    label: str = ""


@dataclass(frozen=True)
class DriverHole:
    """One hole of the driver's frame at the chosen turn.

    Parameters
    ----------
    x_mm, y_mm : float, mm
        Its center.
    hole_mm : float, mm
        Diameter, or width of a slot.
    slot_mm : float, mm
        Length of a slot over its ends; 0 for a round hole.
    slot_deg : float, deg
        Direction of the slot's length.
    boss_mm : float, mm
        Diameter of the hole in the part under it, for an insert or a screw; 0 where there is none.
    """

    x_mm: float
    y_mm: float
    hole_mm: float
    slot_mm: float = 0.0
    slot_deg: float = 0.0
    boss_mm: float = 0.0


@dataclass(frozen=True)
class TerminalFace:
    """The driver's terminals from the front, at the chosen turn.

    Parameters
    ----------
    angle_deg : float, deg
        Direction of their middle.
    width_mm, inner_mm, outer_mm : float, mm
        Width across, and the radii they reach from and to.
    """

    angle_deg: float
    width_mm: float
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
