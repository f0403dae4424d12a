"""From what is written to readings and places: the rules of "how sure", and an opening on one side, mirrored.

- an explicit ± or u is that reading's own error, independent of all others;
- an instrument's half-width is shared by all readings of one opening that name the instrument: one draw for all;
- a reading that names none takes the default for its kind, or `[instruments] default`, shared in the same way;
- a list is its mean, with its scatter of its own and the instrument once.

An opening is measured on its first side; the second is its mirror image (x to -x, cabin y to width - y).  What stands
under `[opening.right]` was measured there and is not mirrored.  The driver is never mirrored."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

from backwave.job.fields import best_mm
from backwave.job.load import Job
from backwave.job.named_files import Trace
from backwave.job.opening import MeasuresTable, OpeningTable
from backwave.uncertainty import Error, Reading, mean_reading
from backwave.units import Quantity, parse

if TYPE_CHECKING:
    from backwave.shape.positions import Dot, Positions, Span

Kind = Literal["metal", "depth", "trim", "sheet"]
Written = Quantity | tuple[Quantity, ...]  # one reading, or several of the same thing

# half-width in mm that a reading may be out by when it names no instrument, by kind; common trade practice
DEFAULTS: dict[Kind, tuple[float, str]] = {
    "metal": (0.3, "pressed, painted metal, whatever the caliper"),
    "depth": (1.0, "a depth found through a hole"),
    "trim": (1.0, "putty between skin and trim"),
    "sheet": (0.5, "a dimension of a data sheet"),
}


@dataclass(frozen=True)
class Bench:
    """The instruments on the bench, for the readings of one opening or one driver."""

    owner: str  # the opening's or the driver's id: readings of one owner share an instrument's error
    half_mm: Mapping[str, float]  # what each instrument may be out by, either way
    default_by: str | None = None  # the instrument that a reading was made with which names none

    def read(self, name: str, written: Written, kind: Kind, by: str | None = None) -> Reading:
        """A measured length as a reading in millimeters."""
        full = f"{self.owner}.{name}"
        if isinstance(written, tuple):
            return mean_reading(full, [q.to("mm") for q in written], self._instrument(full, kind, by))
        half, u = written.half_to("mm"), written.u_to("mm")
        if half is not None:
            return Reading(full, written.to("mm"), (Error(full, "rectangular", half),))
        if u is not None:
            return Reading(full, written.to("mm"), (Error(full, "normal", u),))
        return Reading(full, written.to("mm"), (self._instrument(full, kind, by),))

    def assumed(
        self, name: str, value_mm: float, half_mm: float, plausible_mm: tuple[float, float] | None = None
    ) -> Reading:
        """A length nobody gave: its default, what that is out by in the chances, and what it may plausibly be."""
        full = f"{self.owner}.{name}"
        errors = (Error(full, "rectangular", half_mm),) if half_mm else ()
        if plausible_mm is not None:  # a default is plausible itself
            plausible_mm = min(plausible_mm[0], value_mm), max(plausible_mm[1], value_mm)
        return Reading(full, value_mm, errors, assumed=True, plausible=plausible_mm)

    def default_of(self, kind: Kind) -> tuple[float, str]:
        """Half-width of a reading that names no instrument, in mm, and the ground for it."""
        if "default" in self.half_mm:
            return self.half_mm["default"], "[instruments] default"
        return DEFAULTS[kind]

    def _instrument(self, full: str, kind: Kind, by: str | None) -> Error:
        if kind != "sheet":
            by = by or self.default_by
        if by is not None:
            return Error(f"{self.owner}:{by}", "rectangular", self.half_mm[by])
        half = self.default_of(kind)[0]
        # A data sheet's dimensions are rounded and printed one by one: nothing is shared between them.
        return Error(full if kind == "sheet" else f"{self.owner}:{kind}", "rectangular", half)


Point = tuple[float, float]


@dataclass(frozen=True)
class Place:
    """An opening on one side."""

    opening: OpeningTable  # with the overrides of this side applied
    side: str  # "left", "right", or "" where there is just one
    mirrored: bool
    own: frozenset[str]  # keys that were measured on this side
    trace: Trace | None = None  # mm, the traced flange, if it has one
    cabin_width_m: float | None = None
    positions: Positions | None = None  # what its distances come to, if it has any

    @property
    def subject(self) -> str:
        """The opening and its side: "front-door.left"."""
        return f"{self.opening.id}.{self.side}" if self.side else self.opening.id

    @property
    def name(self) -> str:
        """What a person calls it: "Front door, left"."""
        words = self.opening.name or self.opening.id.replace("-", " ").replace("_", " ")
        words = words[:1].upper() + words[1:]
        return f"{words}, {self.side}" if self.side else words

    def key(self, field: str) -> str:
        """Where a field was read, for its reading's name: "behind" or "right.behind"."""
        return f"{self.side}.{field}" if field in self.own else field

    def x(self, field: str, x_mm: float) -> float:
        """A coordinate of a field, as it lies on this side, in mm."""
        return -x_mm if self._turned(field) else x_mm

    def angle_deg(self, field: str, angle: Quantity | None) -> float | None:
        """An angle of a field, as it lies on this side, from +x toward +y, in degrees."""
        if angle is None:
            return None
        degrees = angle.to("deg")
        return (180.0 - degrees) % 360.0 if self._turned(field) else degrees % 360.0

    def points(self, field: str, points: tuple[Point, ...]) -> tuple[Point, ...]:
        """Points of a field, as they lie on this side."""
        return tuple((self.x(field, x), y) for x, y in points)

    @property
    def position_m(self) -> tuple[float, float, float] | None:
        """Where it is in the cabin, in meters; None where not said."""
        at = self.opening.at
        if at is None:
            return None
        x, y, z = (q.to("m") for q in at)
        if self._turned("at"):
            if self.cabin_width_m is None:
                return None
            y = self.cabin_width_m - y
        return x, y, z

    def _turned(self, field: str) -> bool:
        return self.mirrored and field not in self.own


def places(job: Job) -> tuple[Place, ...]:
    """Every opening on every side, in the order of the file."""
    cabin = job.file.vehicle.cabin
    width = None if cabin is None else cabin.width.to("m")
    return tuple(_place(job, opening, side, width) for opening in job.file.opening for side in opening.sides or ("",))


_BY_KEY = ("trim", "factory", "cavity", "gap")  # what an override leaves out of these is that of the first side


def _merged(opening: OpeningTable, override: MeasuresTable) -> dict[str, Any]:
    changes = {name: getattr(override, name) for name in override.model_fields_set}
    for name in _BY_KEY:
        own, first = changes.get(name), getattr(opening, name)
        if own is not None and first is not None:
            changes[name] = first.model_copy(update={k: getattr(own, k) for k in own.model_fields_set})
    return changes


def _place(job: Job, opening: OpeningTable, side: str, width: float | None) -> Place:
    override: MeasuresTable | None = getattr(opening, side) if side else None
    own = frozenset(override.model_fields_set) if override is not None else frozenset()
    merged = opening if override is None else opening.model_copy(update=_merged(opening, override))
    flange = merged.flange
    trace = job.traces.get(flange.traced) if flange is not None and flange.traced is not None else None
    instruments = {name: q.to("mm") for name, q in job.file.instruments.items()}
    merged, positions = _placed(merged, instruments)
    return Place(merged, side, bool(side) and side != opening.sides[0], own, trace, width, positions)


def _placed(opening: OpeningTable, instruments: dict[str, float]) -> tuple[OpeningTable, Positions | None]:
    """The opening with fixings where its distances put them, and what these come to. A fixing that has no place yet is
    left out: it is asked for."""
    fixings, distances = opening.fixings or (), opening.distances or ()
    if not distances and all(f.x is not None for f in fixings):
        return opening, None
    from backwave.shape.positions import Dot, Span  # loads what judges outlines

    bench, dots, spans = Bench(opening.id, instruments), dict[str, Dot](), list[Span]()
    for n, f in enumerate(fixings, 1):
        angle = None if f.angle is None else f.angle.to("deg")
        dots[f"fixing {n}"] = Dot(f.hole.to("mm") / 2.0, None if f.x is None else f.center_mm, angle)
    for n, d in enumerate(distances):
        for written, ends in ((d.centre, 0), (d.edge, -1), (d.across, 1)):
            if written is not None:
                read = bench.read(f"distances[{n}]", written, "metal", d.by)
                spans.append(Span(d.from_, d.to, read.value, max(read.u, 0.01), ends))
    hole = None if opening.hole is None else opening.hole.diameter
    # Kept by the numbers alone: tables are equal though one says what the other leaves to its default.
    positions = _located(tuple(dots.items()), 0.0 if hole is None else best_mm(hole) / 2.0, tuple(spans))
    if positions.loose:  # then none of them has a place
        positions = replace(positions, loose=tuple(name for name, dot in dots.items() if dot.at_mm is None))
    found = [
        f if f.x is not None else f.model_copy(update={k: _length(v, u) for k, v in (("x", x), ("y", y))})
        for n, f in enumerate(fixings, 1)
        for x, y, u in [positions.at_mm.get(f"fixing {n}", (0.0, 0.0, 0.0))]
        if f.x is not None or f"fixing {n}" in positions.at_mm
    ]
    return opening.model_copy(update={"fixings": tuple(found) or None}), positions


@lru_cache(64)
def _located(dots: tuple[tuple[str, Dot], ...], hole_radius_mm: float, spans: tuple[Span, ...]) -> Positions:
    from backwave.shape.positions import located

    return located(dict(dots), hole_radius_mm, spans)


def _length(value_mm: float, u_mm: float) -> Quantity:
    return parse(f"{value_mm:.3f} mm u {max(u_mm, 0.001):.3f} mm", "length")
