"""From the job's tables to what the fit is judged from: readings, with a stated default for what nobody measured."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import count
from math import hypot
from typing import Any

import numpy as np
from pydantic import BaseModel

from backwave.finding import PRACTICE, Ledger, Message
from backwave.fit import DepthReading, DriverShape, FrontHeights, Margins, Obstacle, Opening, Terminals, Vent
from backwave.fit.coverage import STATES, Unread, unread_behind, window_moves
from backwave.fit.plausible import range_of
from backwave.job import Bench, Job, Place, Written, best_mm, places
from backwave.job.opening import OpeningTable as OpeningTable
from backwave.job.speaker import SpeakerTable
from backwave.shape import Outline, circle, ellipse, measured, rounded_polygon
from backwave.uncertainty import Error, Reading, exact
from backwave.units import Quantity, in_unit

SKIN_MM, SKIN_HALF_MM = 0.8, 0.2  # a common door skin
Read = Callable[[str, Written], Reading]
StandsIn = Callable[[str, float, float, str, tuple[float, float]], Reading]


def bench_of(job: Job, owner: str) -> Bench:
    """The instruments for the readings of one opening or driver."""
    instruments = job.file.instruments
    half_mm = {name: q.to("mm") for name, q in instruments.items()}
    default = instruments.get("default")
    return Bench(owner, half_mm, default.text if default is not None and default.text in half_mm else None)


def margins_of(job: Job) -> Margins:
    """The margins, in millimeters."""
    m = job.file.margins
    return Margins(m.glass.to("mm"), m.grille.to("mm"), m.metal.to("mm"), m.hole.to("mm"))


def lean_of(place: Place) -> tuple[float, float]:
    """Tilt in degrees and offset in mm of a speaker that is not mounted flat on the opening's axis."""
    mounting, seat = place.opening.mounting, place.opening.seat
    if mounting is not None:
        x, y = (q.to("mm") for q in mounting.offset) if mounting.offset is not None else (0.0, 0.0)
        return mounting.tilt.to("deg"), hypot(x, y)
    return (seat.tilt.to("deg"), seat.offset.to("mm")) if seat is not None else (0.0, 0.0)


def opening_of(job: Job, place: Place, ledger: Ledger) -> Opening:
    """An opening at its place, as the fit wants it."""
    opening, bench = place.opening, bench_of(job, place.opening.id)
    hole, outline = None, None
    edge = exact(f"{opening.id}.hole.outline", 0.0)
    if opening.hole is not None and opening.hole.diameter is not None:
        hole = _read(ledger, bench, place.key("hole") + ".diameter", opening.hole.diameter, "metal", opening.hole.by)
    elif opening.hole is not None and opening.hole.outline is not None:
        outline = np.array(place.points("hole", opening.hole.outline))
        half = bench.default_of("metal")[0] if opening.hole.by is None else bench.half_mm[opening.hole.by]
        edge = bench.assumed("hole.outline", 0.0, half)
    if opening.skin is None:
        skin = bench.assumed("skin", skin_mm(opening, ledger), SKIN_HALF_MM, range_of("skin"))
    else:
        skin = _read(ledger, bench, place.key("skin"), opening.skin, "metal", None)
    trim = opening.trim
    clear = None
    if trim is not None and trim.clear is not None:
        clear = _read(ledger, bench, place.key("trim") + ".clear", trim.clear, "trim", trim.by)
    window = opening.window or ("unsaid" if opening.zone == "door" else "")
    made = Opening(hole, outline, edge, skin, _obstacles(place, bench, ledger), clear, window)
    return _with_difference(place, made)


# either way, in mm, by key of the opening: another regulator, other clips, one press tool; common trade practice
DIFFERS_MM = {"behind": 1.0, "trim": 0.5, "hole": 0.2}


def _with_difference(place: Place, opening: Opening) -> Opening:
    """The opening with that doubt in whatever was read on the first side alone; all depths behind differ together."""
    taken = {key for key in DIFFERS_MM if place.mirrored and key not in place.own}
    if not taken:
        return opening

    def wider(key: str, reading: Reading) -> Reading:
        error = Error(f"{place.opening.id}.{key}: the other side", "rectangular", DIFFERS_MM[key])
        return replace(reading, errors=(*reading.errors, error))

    changes: dict[str, object] = {}
    if "behind" in taken:
        changes["behind"] = tuple(
            replace(o, spots=tuple(DepthReading(s.radius, wider("behind", s.clear)) for s in o.spots))
            for o in opening.behind
        )
    if "trim" in taken and opening.trim_clear is not None:
        changes["trim_clear"] = wider("trim", opening.trim_clear)
    if "hole" in taken:
        key = "hole" if opening.hole is not None else "outline_error"
        changes[key] = wider("hole", opening.hole or opening.outline_error)
    return replace(opening, **changes)  # type: ignore[arg-type]


def skin_mm(opening: OpeningTable, ledger: Ledger) -> float:
    """Thickness of the metal at the best estimate, or a common door skin's, which is noted."""
    if opening.skin is not None:
        return best_mm(opening.skin)
    ledger.note(f"opening.{opening.id}.skin", SKIN_MM, "mm", "a common door skin; " + PRACTICE)
    return SKIN_MM


def _read(ledger: Ledger, bench: Bench, name: str, written: Written, kind: str, by: str | None) -> Reading:
    if by is None and (isinstance(written, tuple) or (written.half is None and written.u is None)):
        half, why = bench.default_of(kind)  # type: ignore[arg-type]
        why = why if why.startswith("[") else f"{why}; {PRACTICE}"
        ledger.note(f"{bench.owner}.{name}: how sure", Message("± {half}", (("half", half, "mm"),)), "", why)
    return bench.read(name, written, kind, by)  # type: ignore[arg-type]


AXIS_MM = 5.0  # so near to the axis all directions are one


def _obstacles(place: Place, bench: Bench, ledger: Ledger) -> tuple[Obstacle, ...]:
    """Rows of one thing in one direction and state of the window together, in the order in which they are met. A row at
    the axis belongs to every direction of its thing and state, and alone does not speak for all round where there are
    rows with a direction."""
    groups: dict[tuple[str, str, float | None], list[DepthReading]] = {}
    for i, row in enumerate(place.opening.behind or ()):
        angle, name = place.angle_deg("behind", row.angle), f"{place.key('behind')}[{i}]"
        if angle is not None:
            ledger.note(f"opening.{place.opening.id}.behind: sector", "30° either side of its angle", "", PRACTICE)
        spot = DepthReading(
            _where(bench, f"{name}.radius", row.radius),
            _read(ledger, bench, f"{name}.clear", row.clear, "depth", row.by),
        )
        groups.setdefault((row.what, row.window or "", angle), []).append(spot)
    for (what, window, angle), spots in list(groups.items()):
        directions = [a for w, s, a in groups if (w, s) == (what, window) and a is not None]
        axis = [spot for spot in spots if spot.radius.value <= AXIS_MM]
        if angle is None and directions and axis:
            for direction in directions:
                groups[what, window, direction] += axis
            if len(axis) == len(spots):
                del groups[what, window, None]
    return tuple(Obstacle(what, tuple(spots), window, angle) for (what, window, angle), spots in groups.items())  # type: ignore[arg-type]


def _where(bench: Bench, name: str, written: Written) -> Reading:
    """A radius is where a person chose to read: exact, unless they say how far out it may be."""
    if isinstance(written, tuple) or written.half is not None or written.u is not None:
        return bench.read(name, written, "depth")
    return exact(f"{bench.owner}.{name}", written.to("mm"))


def cutout_of(speaker: SpeakerTable) -> Written:
    """The cutout of a driver that goes into an adapter, as written."""
    assert speaker.cutout is not None  # the rules of the job ask for it
    return speaker.cutout


def driver_of(job: Job, speaker: SpeakerTable, ledger: Ledger) -> DriverShape:
    """A driver as far as it has to clear."""
    bench, key = bench_of(job, speaker.id), f"speaker.{speaker.id}"

    def read(name: str, written: Written) -> Reading:
        return bench.read(name, written, "sheet", speaker.by)

    def stand_in(name: str, value_mm: float, half_mm: float, why: str, plausible: tuple[float, float]) -> Reading:
        taken = Message("{value} ± {half}", (("value", value_mm, "mm"), ("half", half_mm, "mm")))
        ledger.note(f"{key}.{name}", taken, "", why)
        return bench.assumed(name, value_mm, half_mm, plausible)

    profile = _profile(speaker, bench, read, ledger)
    small = " of a tweeter" if speaker.kind == "tweeter" else ""
    front = speaker.front
    written = (None, None, None) if front is None else (front.moving, front.crest, front.fixed)
    moving, crest, fixed = (
        None if w is None else read(f"front.{part}", w) for part, w in zip(("moving", "crest", "fixed"), written)
    )
    if moving is None:  # a fixed part or the crest alone says nothing of how far the cone comes out
        usual, what = (3.0, "a dome above its rim") if small else (8.0, "a woofer's dust cap above its rim")
        moving = stand_in("front", usual, 2.0, f"{what}; {PRACTICE}", range_of("front" + small))
    made = FrontHeights(moving, crest, fixed)
    rim = (
        read("rim", speaker.rim)
        if speaker.rim is not None
        else stand_in("rim", 2.5 if small else 5.0, 1.0, "a usual frame; " + PRACTICE, range_of("rim" + small))
    )
    return DriverShape(
        profile, made, _xmech(speaker, read, stand_in), rim, _terminals(speaker, profile, read, bench, ledger),
        _vent(job, speaker, read),
    )  # fmt: skip


def _profile(speaker: SpeakerTable, bench: Bench, read: Read, ledger: Ledger) -> tuple[tuple[Reading, Reading], ...]:
    if speaker.profile is not None:
        return tuple(
            (read(f"profile[{i}].radius", radius), read(f"profile[{i}].depth", depth))
            for i, (radius, depth) in enumerate(speaker.profile)
        )
    assert speaker.depth is not None  # the rules ask for depth and magnet where there is no profile
    assert speaker.magnet is not None
    written = (("cutout", cutout_of(speaker)), ("magnet", speaker.magnet), ("depth", speaker.depth))
    cutout, magnet, depth = (read(name, value) for name, value in written)
    ledger.note(
        f"speaker.{speaker.id}.profile", "a cylinder and a cone", "",
        "through cutout, magnet and mounting depth; " + PRACTICE,
    )  # fmt: skip
    pole = replace(_scaled(magnet, 0.5), name=f"{magnet.name}.radius")
    basket = _missing(bench, cutout, 0.5, "profile.basket.radius")
    return (
        (basket, exact(f"{depth.name}.rim", 0.0)),
        (basket, _missing(bench, depth, 0.15, "profile.basket.depth")),
        (pole, _missing(bench, depth, 0.6, "profile.plate.depth")),
        (pole, depth),
    )


def _scaled(reading: Reading, factor: float) -> Reading:
    """A length in fixed proportion to one that was read: its error comes along."""
    errors = tuple(replace(e, size=e.size * factor) for e in reading.errors)
    return replace(reading, value=reading.value * factor, errors=errors)


def _missing(bench: Bench, reading: Reading, factor: float, name: str) -> Reading:
    """A point of the profile that nobody read, in proportion to one that was."""
    made = _scaled(reading, factor)
    base = made.value if name == "profile.basket.radius" else reading.value
    return replace(made, name=f"{bench.owner}.{name}", assumed=True, plausible=range_of(name, base))


def _xmech(speaker: SpeakerTable, read: Read, stand_in: StandsIn) -> Reading:
    motor = speaker.motor
    if motor is not None and motor.Xmech is not None:
        return read("motor.Xmech", motor.Xmech)
    if motor is not None and motor.Xmax is not None:
        linear = motor.Xmax.to("mm")
        plausible = range_of("motor.Xmech of Xmax", linear)
        return stand_in("motor.Xmech", 1.6 * linear + 1.0, 1.0, "1.6 Xmax + 1 mm; " + PRACTICE, plausible)
    if speaker.kind == "tweeter":
        return stand_in("motor.Xmech", 1.0, 0.5, "a dome; " + PRACTICE, range_of("motor.Xmech of a tweeter"))
    why = "1.6 Xmax + 1 mm for an Xmax of 5 mm; " + PRACTICE
    return stand_in("motor.Xmech", 9.0, 2.0, why, range_of("motor.Xmech"))


def _terminals(
    speaker: SpeakerTable, profile: tuple[tuple[Reading, Reading], ...], read: Read, bench: Bench, ledger: Ledger
) -> Terminals:
    held = speaker.terminals
    if held is not None:
        angle = in_unit(held.angle, "deg")
        return Terminals(
            read("terminals.radius", held.radius), read("terminals.width", held.width),
            read("terminals.depth", held.depth), angle,
        )  # fmt: skip
    # Halfway down the basket, where most drivers have them, 10 mm beyond it, all round; a tweeter's lugs are small.
    small = " of a tweeter" if speaker.kind == "tweeter" else ""
    beyond, width = (3.0, 12.0) if small else (10.0, 35.0)
    depths, radii = [d.value for _, d in profile], [r.value for r, _ in profile]
    depth = 0.4 * depths[-1]
    basket = float(np.interp(depth, depths, radii))
    radius = basket + beyond
    taken = Message(
        "{width:0} wide, out to {radius}, {depth} deep, all round",
        (("width", width, "mm"), ("radius", radius, "mm"), ("depth", depth, "mm")),
    )
    ledger.note(f"speaker.{speaker.id}.terminals", taken, "", f"{beyond:g} mm beyond the basket; {PRACTICE}")
    return Terminals(
        bench.assumed("terminals.radius", radius, 2.0, range_of("terminals.radius" + small, basket)),
        bench.assumed("terminals.width", width, 0.0, range_of("terminals.width" + small)),
        bench.assumed("terminals.depth", depth, 3.0, range_of("terminals.depth", depths[-1])),
    )


def _vent(job: Job, speaker: SpeakerTable, read: Read) -> Vent | None:
    if speaker.vent is None or speaker.vent.value == 0:
        return None
    return Vent(_scaled(read("vent", speaker.vent), 0.5), job.file.margins.vent.to("mm"))


FLANGE_OVER_FRAME_MM = 16.0


def outline_of(place: Place, frame: float, ledger: Ledger) -> Outline:
    """The flange's edge on this side."""
    flange = place.opening.flange
    if flange is None:
        reach = [hypot(*f.center_mm) + 9.0 for f in place.opening.fixings or ()]
        diameter = max([frame + FLANGE_OVER_FRAME_MM, *(2.0 * r for r in reach)])
        ledger.note(
            f"opening.{place.opening.id}.flange", Message("round, {diameter}", (("diameter", diameter, "mm"),)), "",
            f"the driver's frame and {FLANGE_OVER_FRAME_MM:g} mm, or what the fixings need; {PRACTICE}",
        )  # fmt: skip
        return circle(diameter / 2.0)
    if flange.diameter is not None:
        return circle(flange.diameter.to("mm") / 2.0)
    if flange.ellipse is not None:
        width, height = (q.to("mm") / 2.0 for q in flange.ellipse)
        return ellipse(width, height)
    if flange.corners is not None:
        rounding = flange.rounding.to("mm") if flange.rounding is not None else 0.0
        return rounded_polygon(place.points("flange", flange.corners), rounding)
    if place.trace is not None:
        return measured(place.points("flange", place.trace.outline_mm))
    assert flange.outline is not None  # the model lets exactly one through
    return measured(place.points("flange", flange.outline))


@dataclass(frozen=True)
class SeenOpening:
    """An opening on one side, as it is drawn from the front; what was not entered is None there."""

    side: str
    own: tuple[str, ...]  # keys that were measured on this side
    mirrored: tuple[str, ...]  # keys that were measured on the other one: as they are there
    opening: Mapping[str, Any]  # its tables, lengths in mm and angles in degrees
    unread: tuple[Unread, ...]  # as they lie on this side
    windows: tuple[str, ...]  # states of the window to look at; none where no window moves


_SEEN = ("hole", "lip", "flange", "fixings", "behind", "trim")


def seen_at(job: Job, opening_id: str) -> tuple[SeenOpening, ...]:
    """An opening on each of its sides."""
    found = []
    for place in (p for p in places(job) if p.opening.id == opening_id):
        opening = opening_of(job, place, Ledger())
        tables = {key: _plain(getattr(place.opening, key)) for key in _SEEN}
        if place.trace is not None:
            tables["flange"] = {"outline": [list(point) for point in place.trace.outline_mm]}
        missing = () if place.positions is None else place.positions.loose
        numbers = (n for n in count() if f"fixing {n + 1}" not in missing)
        for n, row in zip(numbers, tables["fixings"] or ()):
            row["n"] = n
        mirrored = tuple(key for key in _SEEN if place.mirrored and key not in place.own)
        states = STATES if window_moves(opening) else ()
        found.append(SeenOpening(place.side, tuple(place.own), mirrored, tables, unread_behind(opening), states))
    return tuple(found)


def _plain(value: Any, key: str = "") -> Any:
    """A value of the job with plain numbers in it; of several readings their mean."""
    if isinstance(value, Quantity):
        return (
            value.to("deg" if value.dimension == "angle" else "mm") if value.dimension in ("angle", "length") else None
        )
    if isinstance(value, tuple):
        several = bool(value) and isinstance(value[0], Quantity) and key != "ellipse"
        return best_mm(value) if several else [_plain(one) for one in value]
    fields = type(value).model_fields if isinstance(value, BaseModel) else None
    return value if fields is None else {name: _plain(getattr(value, name), name) for name in fields}
