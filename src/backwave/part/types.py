"""What a part is made from, of what and how: plain numbers in millimeters and degrees.

Axes are the opening's own: x right and y up as seen from the cabin, z out of the metal.  The adapter's back face
is z = 0, its front face z = `thickness_mm`.  A specification is of one side: whoever makes it has mirrored the
opening already."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backwave.errors import InputError
from backwave.finding import PRACTICE
from backwave.shape import Outline, within_reach

ThreadKind = Literal["insert", "nut", "screw"]


@dataclass(frozen=True)
class Fixing:
    """Where the adapter meets one of the metal's fixings: a hole for a screw, with what is cut round it."""

    x_mm: float
    y_mm: float
    hole_mm: float  # clearance hole (ISO 273, medium series); 0: none, the part has nothing there
    counterbore_mm: float = 0.0  # diameter of the counterbore in the front face; 0: none
    counterbore_depth_mm: float = 0.0  # from the front face
    head_mm: float = 0.0  # the screw head, washer included
    head_height_mm: float = 0.0
    name: str = "fixing"  # what findings call it ("fixing 2")
    pocket_mm: float = 0.0  # diameter of a pocket in the back, for what stands proud of the metal there; 0: none
    pocket_depth_mm: float = 0.0


@dataclass(frozen=True)
class Thread:
    """A thread for the driver: a heat-set insert, a nut from the back, or a pilot hole for a self-tapping screw."""

    x_mm: float  # its center, at the chosen turn
    y_mm: float
    kind: ThreadKind  # how it is made
    size: str  # "M4", "ST3.5"
    hole_mm: float  # hole for the insert, pilot hole, or clearance hole above a nut
    depth_mm: float = 0.0  # depth from the seat; 0 goes through.  A nut's hole always goes through to its pocket.
    wall_mm: float = 1.6  # least material wanted round the hole
    engagement_mm: float = 0.0  # length of thread, insert or nut that has to be held
    boss_mm: float = 0.0  # diameter of material added round the hole where the flange is too narrow; 0: none
    nut_flats_mm: float = 0.0  # the pocket: across flats and depth from the back, play included
    nut_height_mm: float = 0.0
    name: str = "driver hole"  # what findings call it


@dataclass(frozen=True)
class Groove:
    """A groove for a gasket, along the flange or round the bore."""

    # which face it is cut into; on a recessed seat "front" round the bore means the seat
    face: Literal["back", "front"]
    along: Literal["flange", "bore"]  # what its center line is parallel to
    inset_mm: float  # center line from that edge, into the material
    width_mm: float  # its section
    depth_mm: float


@dataclass(frozen=True)
class Notch:
    """Room in the wall of the bore for wires or terminals, through the whole height under the driver's rim."""

    angle_deg: float  # its direction from +x toward +y as seen from the cabin
    width_mm: float
    depth_mm: float  # outward from the bore


@dataclass(frozen=True)
class LipRelief:
    """Room in the back face for a lip round the hole: from the bore, or from the spigot, out to an edge."""

    outline: Outline
    depth_mm: float


@dataclass(frozen=True)
class Spigot:
    """A collar that reaches back into the hole in the metal and centers the adapter."""

    radius_mm: float  # its outer radius
    length_mm: float  # how far it reaches behind the back face


@dataclass(frozen=True)
class Collar:
    """A raised ring on the front face for the foam to stand on."""

    inner_mm: float
    outer_mm: float
    height_mm: float  # above the front face


@dataclass(frozen=True)
class Lettering:
    """What is engraved on the front face; never mirrored."""

    side: str = ""  # "L", "R" or ""
    up: bool = True  # an arrow that points up
    text: str = ""  # the job's short name; letters without a stroke of ours are left out
    # height of capitals wanted; made smaller down to 3.5 mm (ISO 3098-1) where room is short
    height_mm: float = 7.0
    depth_mm: float = 0.5


@dataclass(frozen=True)
class AdapterSpec:
    """One adapter, of one side."""

    outline: Outline  # mm, the flange's edge
    thickness_mm: float  # back face to front face
    bore_mm: float  # radius of the through-bore, about the axis
    # radius of the driver's frame: under it the face stays flat and free of lettering; 0: not known
    frame_radius_mm: float = 0.0
    # depth of a recessed seat below the front face and its radius; 0: the driver sits on top
    recess_mm: float = 0.0
    seat_mm: float = 0.0
    # the bore widens toward the back at 45 degrees by this much in radius at the back face, for the basket
    relief_mm: float = 0.0
    # mm, dropped, with a finding, where its wall would be thinner than `least_wall_mm`
    spigot: Spigot | None = None
    fixings: tuple[Fixing, ...] = ()  # mm
    threads: tuple[Thread, ...] = ()  # mm
    grooves: tuple[Groove, ...] = ()  # mm
    notches: tuple[Notch, ...] = ()  # mm and deg, for wires and terminals
    collar: Collar | None = None  # mm, for the foam ring
    lip: LipRelief | None = None  # mm, for a lip round the hole
    lettering: Lettering | None = None  # mm
    # broken outer edge at the front, a 45 degree chamfer; cosmetic, left out and said where it cannot be made
    edge_mm: float = 0.0
    least_wall_mm: float = 0.9  # two print lines, or what sheet stock needs between cuts
    tilt_deg: float = 0.0  # tilt of the seat.  Only 0 is built so far; anything else is refused.

    def __post_init__(self) -> None:
        within_reach("adapter", self)
        for what, value, least in (
            ("thickness", self.thickness_mm, 0.2), ("bore radius", self.bore_mm, 1.0), ("recess", self.recess_mm, 0.0),
            ("relief", self.relief_mm, 0.0), ("least wall", self.least_wall_mm, 0.0),
        ):  # fmt: skip
            if not value >= least:
                raise InputError(f"adapter's {what}", value, f"{least:g} mm or more")
        if self.recess_mm > 0.0 and not self.seat_mm > self.bore_mm:
            raise InputError("radius of the recessed seat", self.seat_mm, f"more than the bore's {self.bore_mm:g} mm")
        if self.recess_mm >= self.thickness_mm:
            raise InputError("recess", self.recess_mm, f"less than the thickness of {self.thickness_mm:g} mm")

    @property
    def seat_z_mm(self) -> float:
        """Height of the driver's seat above the back face."""
        return self.thickness_mm - self.recess_mm

    @property
    def top_mm(self) -> float:
        """Highest point above the back face: the collar's, or the front face's."""
        return self.thickness_mm + (self.collar.height_mm if self.collar else 0.0)

    @property
    def spigot_wall_mm(self) -> float | None:
        """Wall the spigot would have, outside the relief; None without a spigot."""
        return None if self.spigot is None else self.spigot.radius_mm - self.bore_mm - self.relief_mm

    @property
    def keeps_spigot(self) -> bool:
        """Whether there is a spigot and it is thick enough to keep."""
        wall = self.spigot_wall_mm
        return wall is not None and wall >= self.least_wall_mm - 1e-9


@dataclass(frozen=True)
class StandInSpec:
    """A dummy of a driver: what stands behind the metal, plus margin, on a plate, to try before any long print."""

    profile_mm: tuple[tuple[float, float], ...]  # (radius, depth) from the mounting side of its rim back
    seat_height_mm: float  # metal to the mounting side of the rim
    rim_mm: float  # radius of the plate that rests on the metal round the hole
    margin_mm: float = 0.0  # added to depth all round
    deeper: tuple[tuple[float, float, float], ...] = ()  # from and to, deg; the margin between, mm
    # added to radius where it passes the metal; never so much that a hole that is ok keeps it out
    growth_mm: float = 0.0
    passage_mm: float = 3.0  # how far behind the metal's face that reaches
    # angle at the chosen turn (None: not known, so it goes all round), width, radius, depth
    terminals_mm: tuple[float | None, float, float, float] | None = None
    tails_mm: tuple[tuple[float, float, float, float], ...] = ()  # x, y, diameter, length behind the metal's face
    plate_mm: float = 3.0
    name: str = ""  # what is written on its card
    code: str = ""  # and on itself

    def __post_init__(self) -> None:
        within_reach("dummy", self)
        depths = [d for _, d in self.profile_mm]
        if not depths or depths != sorted(depths) or depths[-1] <= 0.0:
            raise InputError("profile of the dummy", depths, "depths that never decrease and end above 0 mm")


@dataclass(frozen=True)
class RingSpec:
    """A flat ring: foam, or a test ring."""

    outer: Outline  # mm, its edges
    inner: Outline  # mm
    thickness_mm: float  # how thick it is as made
    holes_mm: tuple[tuple[float, float, float], ...] = ()
    name: str = "ring"


@dataclass(frozen=True)
class Material:
    """What a part is made of, as far as its checks ask."""

    name: str  # "ASA", "MDF"
    density_kg_m3: float  # density of the solid material
    # deflection temperature at 0.45 MPa (ISO 75-2, method B), low end; None where heat does not govern
    hdt_degc: float | None = None
    laser_unsafe: str = ""  # why it must not be laser cut, or ""
    swells: bool = False  # whether it swells in water unless sealed
    source: str = ""  # where these numbers are from


@dataclass(frozen=True)
class Printer:
    """A printer and how it is set; the defaults are common trade practice and shown as such."""

    bed_mm: tuple[float, float, float] = (220.0, 220.0, 250.0)  # (x, y, z), room to print in
    bed_entered: bool = True  # False: a common one is taken
    layer_mm: float = 0.2  # height of a layer and of the first; width of a line
    first_layer_mm: float = 0.2
    line_mm: float = 0.45
    walls: int = 6  # lines side by side in a wall
    filament_mm: float = 1.75
    flow_mm3_s: float = 6.0  # plastic laid down a second, as an average over the whole print
    layer_s: float = 8.0  # lost at each layer, and before the first
    start_s: float = 360.0
    shrinkage: float = 0.0  # 1, linear shrinkage made up for: printed meshes are 1 + shrinkage as large
    hole_extra_mm: float = 0.0  # added to the diameter of round holes in printed meshes


@dataclass(frozen=True)
class SheetStock:
    """Sheet stock and how it is cut."""

    # thicknesses from the back face to the front; they must add up to the part's thickness
    layers_mm: tuple[float, ...]
    cutter: Literal["router", "saw", "laser"] = "router"
    sealed: bool = False  # whether its edges and faces are sealed against water
    least_web_mm: float = 3.0  # least material between two cuts


@dataclass(frozen=True)
class Zone:
    """Where in the vehicle the part lives."""

    name: str  # "door", "shelf"
    service_degc: float  # how hot it gets there
    wet: bool = False  # whether it is on the wet side of the vapor barrier
    source: str = PRACTICE  # where the temperature is from
