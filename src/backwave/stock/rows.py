"""What a row of each stock table holds.  Every row names its source and its standing.

Standing is how far a figure may be trusted: `confirmed` was seen in a copy of its source, `from memory`
was not, `common trade practice` has no published source, `entered by you` is a row of the job's own."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

STANDINGS = ("confirmed", "from memory", "common trade practice", "entered by you")


@dataclass(frozen=True, kw_only=True)
class Row:
    """What every row has."""

    name: str  # what it is asked for by; a later row of the same name takes the place of an earlier one
    source: str  # standard with its edition, paper, or how else it is known
    standing: str
    note: str = ""  # what a person should know before using it

    @property
    def cited(self) -> str:
        """Source and standing in one line, as a working shows it."""
        return self.source if self.standing in ("confirmed", self.source) else f"{self.source} ({self.standing})"


@dataclass(frozen=True, kw_only=True)
class MaterialRow(Row):
    """A filament, or sheet stock.  Where sources give a range, the low end."""

    kind: Literal["print", "sheet"]  # how it is worked
    density_kg_m3: float
    e_pa: float  # modulus of elasticity
    # the hottest place it may live in: deflection temperature at 0.45 MPa (ISO 75-2) where there is one
    service_degc: float
    hdt_degc: float | None = None  # that deflection temperature; None for wood and metal
    shrinkage: float = 0.0  # 1, how much it shrinks from print or mold, as a fraction
    cte_per_k: float  # linear thermal expansion
    # on the wet side of a door: it stands water, lets it through between its layers, or swells
    wet: Literal["stands", "wicks", "swells"]
    # under a laser: it cuts, gives off what must be extracted, or gives off what harms people and machines
    laser: Literal["cuts", "fumes", "never"]
    fumes: str  # what the air carries while it is worked, and what to do
    flammability: str  # how it burns
    thicknesses_mm: tuple[float, ...] = ()  # sheet: what it is sold in


@dataclass(frozen=True, kw_only=True)
class CreepRow(Row):
    """How a material holds, by temperature: after a thousand hours of load, and for the moment of a slam."""

    at_degc: tuple[float, ...]  # rising
    e_pa: tuple[float, ...]  # apparent (creep) modulus, load over what it has come to, at each temperature
    shear_pa: tuple[float, ...] = ()  # over the cylinder that an insert or a thread sits in; () where nobody has said

    def modulus_pa(self, at_degc: float) -> float:
        """The creep modulus at a temperature: even in its logarithm between two of the table, held beyond them."""
        return self._between(self.e_pa, at_degc)

    def hold_pa(self, at_degc: float) -> float | None:
        """`shear_pa` at a temperature, in the same way; None where nobody has said."""
        return self._between(self.shear_pa, at_degc) if self.shear_pa else None

    def _between(self, values: tuple[float, ...], at_degc: float) -> float:
        if at_degc <= self.at_degc[0]:
            return values[0]
        for (t0, v0), (t1, v1) in pairwise(zip(self.at_degc, values)):
            if at_degc <= t1:
                return float(v0 * (v1 / v0) ** ((at_degc - t0) / (t1 - t0)))
        return values[-1]


@dataclass(frozen=True, kw_only=True)
class InsertRow(Row):
    """A threaded insert set into plastic with heat."""

    size: str  # thread, "M4"
    hole_mm: float  # hole it is set into, its largest diameter, its length (all of it thread)
    outer_mm: float
    length_mm: float
    wall_mm: float  # least plastic round the hole


@dataclass(frozen=True, kw_only=True)
class NutRow(Row):
    """A hexagon nut, style 1, all at their largest."""

    flats_mm: float
    corners_mm: float  # of the largest flats
    height_mm: float
    socket_mm: float  # outside of the socket wrench that turns it


@dataclass(frozen=True, kw_only=True)
class ScrewRow(Row):
    """A machine screw with one kind of head."""

    size: str  # thread, "M4"
    head: Literal["socket", "button", "countersunk"]
    d_mm: float  # nominal diameter and coarse pitch
    pitch_mm: float
    # largest diameter and height of the head; of a countersunk one, theoretical diameter and height, which count
    # in its length
    head_mm: float
    height_mm: float


@dataclass(frozen=True, kw_only=True)
class TappingScrewRow(Row):
    """A self-tapping screw with a pan head."""

    d_mm: float  # thread diameter, core diameter, pitch
    core_mm: float
    pitch_mm: float
    head_mm: float  # largest diameter and height of the head
    height_mm: float
    sheet_hole_mm: float  # pilot hole in steel sheet of about 0.8 mm, and in a printed part
    plastic_hole_mm: float
    lengths_mm: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class ClearanceHoleRow(Row):
    """Hole a screw passes through."""

    d_mm: float  # nominal diameter of the screw, and the three series of holes
    fine_mm: float
    medium_mm: float
    coarse_mm: float


@dataclass(frozen=True, kw_only=True)
class WasherRow(Row):
    """A plain washer, of the normal and of the large series."""

    inner_mm: float
    outer_mm: float
    large_outer_mm: float
    height_mm: float  # nominal, normal series
    height_max_mm: float
    large_height_mm: float


@dataclass(frozen=True, kw_only=True)
class SleeveRow(Row):
    """A metal tube round a screw."""

    inner_mm: float
    outer_mm: float


@dataclass(frozen=True, kw_only=True)
class ToleranceRow(Row):
    """General tolerances of lengths."""

    upto_mm: tuple[float, ...]  # upper end of each range of sizes (which belongs to it), and the tolerance in it
    plus_minus_mm: tuple[float, ...]
    least_mm: float = 0.5  # where the first range begins


@dataclass(frozen=True, kw_only=True)
class FixingRow(Row):
    """One way of holding on to a panel, in one size and one kind of panel."""

    holds: str  # rivet nut, sheet nut, expansion nut, bolt, self-tap, stud, hook or pin
    screw: str  # what goes into it: "M5", "ST4.2", "" for nothing
    metal: Literal["steel", "plastic"]  # what it sits in
    hole_mm: float  # hole it needs in the panel
    grip_min_mm: float  # thickness of panel it takes
    grip_max_mm: float
    edge_mm: float  # minimum from the middle of its hole to the panel's edge
    engage_mm: float  # thread the screw must find in it
    behind_mm: float  # how far it stands behind the panel by itself
    pull_out_n: float  # lets go of a 0.8 mm panel, estimated on the low side
    flange_mm: float = 0.0  # its own flange in front of the panel, and how far that stands proud
    proud_mm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class LapRow(Row):
    """How far one thing has to lie on another, or stay clear of it, where a part meets metal or driver."""

    lap_mm: float


@dataclass(frozen=True, kw_only=True)
class FoamRow(Row):
    """A grade of closed-cell expanded rubber."""

    low_pa: float  # pressure band that pushes it in by `deflection`
    high_pa: float
    deflection: float  # 1, share of its height at which the band holds


@dataclass(frozen=True, kw_only=True)
class SizesRow(Row):
    """What something is sold in."""

    sizes_mm: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class ZoneRow(Row):
    """How hot a place in a parked vehicle gets."""

    hot_degc: float  # what a part there must stand
    seen: str  # published temperatures that it is held against


@dataclass(frozen=True, kw_only=True)
class ConductorRow(Row):
    """What a conductor is made of."""

    resistivity_ohm_mm2_m: float  # ohm mm2/m at 20 degC
    rise_per_k: float  # 1/K, of its resistance at 20 degC
    density_kg_m3: float


@dataclass(frozen=True, kw_only=True)
class CableSizeRow(Row):
    """A standard size of single-core flexible cable."""

    series: Literal["metric", "awg", "sold"]  # "sold": taken where it is there, never chosen
    area_mm2: float
    mohm_m: float  # mohm/m, the largest at 20 degC, in plain copper
    conductor_mm: float  # over the strands
    outer_mm: float  # over a thin insulation


@dataclass(frozen=True, kw_only=True)
class FuseRow(Row):
    """One style of fuse in all its ratings."""

    ratings_a: tuple[float, ...]  # A, rising
    breaking_a: float  # A, the most it breaks
    limit_v: float  # V, up to which
    colors: str = ""  # of the body of each rating, comma between; "": they have none

    def color(self, rating_a: float) -> str:
        """Color of the body of one rating, "" where there is none."""
        colors = [c.strip() for c in self.colors.split(",")]
        return dict(zip(self.ratings_a, colors)).get(rating_a, "")


@dataclass(frozen=True, kw_only=True)
class BatteryRow(Row):
    """A chemistry of battery."""

    charged_v: float  # V by 12 V of nominal voltage: fully charged, at rest
