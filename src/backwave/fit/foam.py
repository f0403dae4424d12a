"""The foam in front: a ring that closes to the trim, built up from strip, clear of screw heads; the height over all.

What it pushes with is `gasket.force_n`: the band of ASTM D1056 at 25 %, extrapolated in proportion to the ring's
own compression.  The gasket behind the adapter is in `gasket` and given on from here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations_with_replacement
from math import acos, ceil, floor, hypot, pi, sqrt
from typing import NamedTuple

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Quantities, Verdict, check_of
from backwave.fit.gasket import D1056, EXTRAPOLATED, MOST, band_step, force_n
from backwave.stock import FoamRow

RING_BAND = (0.10, 0.20)  # compression of the ring; common trade practice
FORCE_LIMIT_N = 30.0  # what clipped trim bears all round; common trade practice
SLENDER = 1.5  # height of a ring at most, in widths; common trade practice
LAYERS = 4  # strips in one ring at most
WIDTH_MM = 6.0  # minimum width of a ring; common trade practice
HEAD_PLAY_MM = 0.5  # room in the foam round a screw head, all round; common trade practice
WEB_MM = 3.0  # foam that goes past a screw head unbroken; common trade practice
CUT_MM = 0.5  # less foam than this past a hole does not hold a ring together
TRY_MM = 15.0  # how far a rim is thought lower or higher, for a remedy
NO_RING = Message(
    "No ring of the strip on hand is good here: leave it out (ring = none) and close the gap with soft foam on the trim "
    "itself"
)
_SAME = 1e-9

Head = tuple[float, float, float]  # x, y, diameter, mm


@dataclass(frozen=True)
class RingRoom:
    """Where a ring may lie, and what is in its way there."""

    from_mm: float  # what it stands on, above the metal: rim, or the collar's top
    land_mm: float  # what it closes to, above the metal
    inner_mm: float  # diameters between which both are there
    outer_mm: float
    heads_mm: tuple[Head, ...] = ()  # screw heads (and washers) that stand up in it: x, y, diameter


@dataclass(frozen=True)
class RingWish:
    """What was decided of a ring, and what it is made from."""

    foam: FoamRow
    strips_mm: tuple[float, ...]  # thicknesses on hand
    compression: float = 0.15  # wanted, share of its height
    free_mm: float | None = None  # a height that was decided; None: chosen here
    width_mm: float | None = None
    softer: tuple[FoamRow, ...] = ()  # grades that are softer, the nearest first
    error_mm: float = 0.0  # what the gap may be out by, either way
    limit_n: float = FORCE_LIMIT_N  # what the trim bears all round


@dataclass(frozen=True)
class FoamRing:
    """The ring between the rim (or the part's collar) and the trim."""

    inner_mm: float  # diameters
    outer_mm: float
    free_mm: float  # height before and after the trim is on
    closed_mm: float
    from_mm: float  # what it stands on, above the metal
    layers_mm: tuple[float, ...]  # strips that add up to `free_mm`, thickest first
    compression: float  # share of its height that it gives
    force_n: tuple[float, float]  # on the trim, all round; at `MOST` where it is closed further, so then at least
    check: Check  # `fit.foam-ring`
    holes_mm: tuple[Head, ...] = ()  # cut in it for screw heads: x, y, diameter

    @property
    def width_mm(self) -> float:
        """Width of the ring."""
        return (self.outer_mm - self.inner_mm) / 2.0


@dataclass(frozen=True)
class _Band:
    inner_mm: float  # radii
    outer_mm: float
    holes_mm: tuple[Head, ...]
    area_mm2: float
    web_mm: float | None  # foam past the holes; None without holes


class _Fault(NamedTuple):
    kind: str  # a key of `_SAID`
    value: float
    limit: float
    unit: str


_SAID = {  # {of} is the fault's value, {to} its limit
    "band": "it should be compressed by 10 % to 20 %",
    "reach": "where the trim is {to} farther out it does not touch",
    "lean": "it leans over where it is taller than {to}",
    "force": "clipped trim bears {to}",
    "web": "only {of} of foam goes past the screw heads",
}


def choose_ring(room: RingRoom, wish: RingWish, collar: RingRoom | None = None) -> FoamRing:
    """The ring in front: height and width together, of what was not decided, with holes where screw heads stand. Those
    come first that have no fault (compression within `RING_BAND`, force, standing steady, reaching for all the gap may
    be, unbroken past the heads), then those that need no holes, the nearest to the height wanted, the fewest layers,
    the narrowest. A remedy is a change that was made here and found good. `room`, mm; `wish`, mm; `collar`, mm: where
    it could lie on a collar of the part, `from_mm` without the collar's height; None: there cannot be one; InputError:
    diameters, a compression or strips that cannot be."""
    if not 0.0 < room.inner_mm < room.outer_mm:
        raise InputError("foam ring", f"{room.inner_mm:g} to {room.outer_mm:g} mm", "inner above 0, below outer")
    if not 0.0 < wish.compression <= MOST:
        raise InputError("compression of the foam ring", wish.compression, f"above 0, up to {MOST:g}")
    if not wish.strips_mm and wish.free_mm is None:
        raise InputError("foam thicknesses", "none", "one or more")
    if room.land_mm <= room.from_mm:
        return FoamRing(
            room.inner_mm, room.outer_mm, 0.0, room.land_mm - room.from_mm, room.from_mm, (), 0.0, (0.0, 0.0),
            _no_room(room.from_mm, room.land_mm),
        )  # fmt: skip
    best, faults = _best(room, wish)
    remedy, tries = _remedy(room, wish, best, faults, collar) if faults else (None, ())
    check = replace(_check(room, wish, best, faults, remedy), tries=tries)
    return replace(best, check=check)


def _best(room: RingRoom, wish: RingWish) -> tuple[FoamRing, tuple[_Fault, ...]]:
    closed = room.land_mm - room.from_mm
    target = closed / (1.0 - wish.compression)
    piles = {wish.free_mm: (wish.free_mm,)} if wish.free_mm is not None else _piles(wish.strips_mm)
    # Beyond the band only the nearest matters, where none is within.
    near = min(piles, key=lambda free: abs(free - target))
    heights = [x for x in piles if 1.0 / (1.0 - RING_BAND[0]) - 0.01 <= x / closed <= 1.26 or x == near]
    best: tuple[tuple[int, float, bool, float, int, float], _Band, float] | None = None
    for band in _bands(room, wish, closed):
        for free in heights:
            faults = _faults(room, wish, band, free)
            outside = any(f.kind == "band" for f in faults)
            rank = (
                len(faults) + 10 * outside, _worse(faults), bool(band.holes_mm), round(abs(free - target), 9), len(piles[free]),
                round(band.outer_mm - band.inner_mm, 9),
            )  # fmt: skip
            if best is None or rank < best[0]:
                best = rank, band, free
    assert best is not None  # there is a band and a pile
    _, band, free = best
    given = 1.0 - closed / free
    force = force_n(wish.foam, band.area_mm2, min(max(given, 0.0), MOST))
    ring = FoamRing(
        2.0 * band.inner_mm, 2.0 * band.outer_mm, free, closed, room.from_mm, piles[free], given, force,
        _no_room(room.from_mm, room.land_mm), band.holes_mm if (band.web_mm or 0.0) > CUT_MM else (),
    )  # fmt: skip
    return ring, _faults(room, wish, band, free)


def _worse(faults: tuple[_Fault, ...]) -> float:
    """How far beyond their limits, each as a share of it."""
    return round(sum(abs(f.value - f.limit) / f.limit for f in faults), 6)


@lru_cache(maxsize=16)
def _piles(strips_mm: tuple[float, ...]) -> dict[float, tuple[float, ...]]:
    """Every height that strips add up to, with its fewest strips, thickest first."""
    found: dict[float, tuple[float, ...]] = {}
    for count in range(1, LAYERS + 1):
        for pile in combinations_with_replacement(sorted(set(strips_mm), reverse=True), count):
            found.setdefault(round(sum(pile), 9), pile)
    return dict(sorted(found.items()))


def _bands(room: RingRoom, wish: RingWish, closed_mm: float) -> Iterator[_Band]:
    """Where a ring may lie: against the outer or the inner edge, or wholly outside or inside the screw heads."""
    inner, outer = room.inner_mm / 2.0, room.outer_mm / 2.0
    most = outer - inner
    if wish.width_mm is not None:
        widths = [min(wish.width_mm, most)]
    else:
        steady = ceil(closed_mm / (1.0 - RING_BAND[1]) / SLENDER)  # wider only pushes harder
        high = max(WIDTH_MM, min(most, float(steady)))
        widths = [w + WIDTH_MM for w in range(floor(high - WIDTH_MM) + 1) if w + WIDTH_MM <= most]
        widths += [most] if most <= high else []
    edges = [(inner, outer)]
    if room.heads_mm:
        far = [(hypot(x, y), d / 2.0 + HEAD_PLAY_MM) for x, y, d in room.heads_mm]
        edges += [(max(inner, *(r + h for r, h in far)), outer), (inner, min(outer, *(r - h for r, h in far)))]
    for low, high in edges:
        for width in widths:
            if width <= high - low + _SAME:
                for ri in {high - width, low} if room.heads_mm else {high - width}:
                    yield _band(ri, ri + width, room.heads_mm)


def _band(inner: float, outer: float, heads: Sequence[Head]) -> _Band:
    holes, area, web = [], pi * (outer**2 - inner**2), None
    for x, y, d in heads:
        far, r = hypot(x, y), d / 2.0 + HEAD_PLAY_MM
        cut = _shared_mm2(outer, r, far) - _shared_mm2(inner, r, far)
        if cut > 1e-6:
            holes.append((x, y, 2.0 * r))
            area -= cut
            past = max(far - r - inner, outer - far - r)
            web = past if web is None else min(web, past)
    return _Band(inner, outer, tuple(holes), area, web)


def _shared_mm2(a: float, b: float, apart: float) -> float:
    """Area that two circles share (closed form of the lens)."""
    if apart >= a + b:
        return 0.0
    if apart <= abs(a - b):
        return pi * min(a, b) ** 2
    # two that just touch may come out beyond their edges by a rounding
    ca = max(-a, min((apart**2 + a**2 - b**2) / (2.0 * apart), a))
    cb = max(-b, min((apart**2 + b**2 - a**2) / (2.0 * apart), b))
    return a**2 * acos(ca / a) - ca * sqrt(a**2 - ca**2) + b**2 * acos(cb / b) - cb * sqrt(b**2 - cb**2)


def _faults(room: RingRoom, wish: RingWish, band: _Band, free: float) -> tuple[_Fault, ...]:
    closed, width = room.land_mm - room.from_mm, band.outer_mm - band.inner_mm
    given, (low, high) = 1.0 - closed / free, RING_BAND
    found = []
    if not low - _SAME <= given <= high + _SAME:
        found.append(_Fault("band", 100.0 * given, 100.0 * (low if given < low else high), "%"))
    if wish.error_mm > 0.0 and closed + wish.error_mm >= free:
        found.append(_Fault("reach", free - closed, wish.error_mm, "mm"))
    if free > SLENDER * width + _SAME:
        found.append(_Fault("lean", free, SLENDER * width, "mm"))
    force = force_n(wish.foam, band.area_mm2, min(max(given, 0.0), MOST))[1]
    if force > wish.limit_n + _SAME:
        found.append(_Fault("force", force, wish.limit_n, "N"))
    if band.web_mm is not None and band.web_mm < WEB_MM - _SAME:
        found.append(_Fault("web", max(0.0, band.web_mm), WEB_MM, "mm"))
    return tuple(found)


def _remedy(
    room: RingRoom, wish: RingWish, best: FoamRing, faults: tuple[_Fault, ...], collar: RingRoom | None
) -> tuple[Message, tuple[tuple[str, str], ...]]:
    """The first change that leaves no fault: of the ring, of where it stands, of a reading, of the rim's height. What
    changes the part's table is also given as such, since only the whole place tells whether all else allows it."""
    for freed in _freed(wish):
        ring, left = _best(room, freed)
        if not left:
            said = Message("Make the ring {free} tall and {width} wide", _size(ring))
            kept = (freed.free_mm == wish.free_mm, freed.width_mm == wish.width_mm)
            key = {(False, True): ("foam.ring", "auto"), (True, False): ("foam.width", "")}.get(kept)
            return said, () if key is None else (key,)
    free = replace(wish, free_mm=None, width_mm=None)
    for grade in wish.softer:
        ring, left = _best(room, replace(free, foam=grade))
        if not left:
            said = Message("Take foam {grade}, {free} tall and {width} wide", (("grade", grade.name, ""), *_size(ring)))
            return said, (("foam.grade", str(grade.name)),)
    if collar is not None:
        for height in range(1, max(1, floor(room.land_mm - collar.from_mm))):
            ring, left = _best(replace(collar, from_mm=collar.from_mm + height), free)
            if not left:
                outer = collar.inner_mm + 2.0 * ring.width_mm
                placed = replace(collar, from_mm=collar.from_mm + height, outer_mm=outer)
                ring, left = _best(placed, free)
                if not left:
                    said = Message(
                        "Stand the ring on a collar of the part: collar = {{ height = {height}, width = {width} }}; "
                        "then it is {free} tall",
                        (("height", float(height), "mm"), *_size(ring)),
                    )
                    written = f'{{ height = "{height} mm", width = "{ring.width_mm:g} mm" }}'
                    return said, (("collar", written),)
    spare = best.free_mm - best.closed_mm
    if len(faults) == 1 and faults[0].kind == "reach" and spare > 0.0:
        return Message("Measure the land again, to ± {spare} or better", (("spare", spare, "mm"),)), ()
    for step in range(1, round(2.0 * TRY_MM) + 1):
        for way, words in ((-0.5, "lower"), (0.5, "higher")):
            if room.from_mm + way * step < room.land_mm:
                ring, left = _best(replace(room, from_mm=room.from_mm + way * step), free)
                if not left:
                    change = f"Set the rim {{step}} {words} (thickness or recess of the part): then a ring {{free}} tall does"
                    said = Message(change, (("step", 0.5 * step, "mm"), *_size(ring)))
                    return said, (("rise", f"{way * step:g}"),)
    return NO_RING, ()


def _size(ring: FoamRing) -> Quantities:
    return ("free", ring.free_mm, "mm"), ("width", ring.width_mm, "mm")


def _freed(wish: RingWish) -> Iterator[RingWish]:
    if wish.free_mm is not None:
        yield replace(wish, free_mm=None)
    if wish.width_mm is not None:
        yield replace(wish, width_mm=None)
    if wish.free_mm is not None and wish.width_mm is not None:
        yield replace(wish, free_mm=None, width_mm=None)


def total_height(from_mm: float, free_mm: float, factory_mm: float, allow_mm: float = 3.0) -> Check:
    """Whether driver and ring (free, on what it stands on) stand as tall as the factory unit with its own foam did.
    `allow_mm` is the difference that the foam takes up (common trade practice)."""
    total = from_mm + free_mm
    more = total - factory_mm
    title = "Driver and foam stand {total} tall; the factory unit stood {factory}"
    about = (("total", total, "mm"), ("factory", factory_mm, "mm"), ("more", more, "mm"), ("less", -more, "mm"))
    remedy = ""
    if more > allow_mm + _SAME:
        remedy = "{more} taller: read the land again before the trim is pushed on"
    elif more < -allow_mm - _SAME:
        remedy = "{less} lower: the ring may not reach; read the land again"
    return check_of(
        "fit.total-height", "caution" if remedy else "ok", title, remedy, about,
        (more, allow_mm if more >= 0.0 else -allow_mm, "mm"),
        (
            CalculationLine("h", "what the ring stands on", from_mm, "mm", "stand-off + rim, or collar"),
            CalculationLine("h0", "free height of the ring", free_mm, "mm"),
            CalculationLine("H", "factory unit with its own foam", factory_mm, "mm", "the job"),
            CalculationLine("d", "h + h0 - H", more, "mm", PRACTICE),
        ),
        key="factory.height",
    )  # fmt: skip


def _no_room(from_mm: float, land_mm: float) -> Check:
    return check_of(
        "fit.foam-ring", "stop",
        "No room for foam: the rim stands {rim} off the metal, what the foam presses on only {land}",
        "Space the trim out by more than {need}, or take a speaker that stands lower in front",
        (("rim", from_mm, "mm"), ("land", land_mm, "mm"), ("need", from_mm - land_mm, "mm")), (land_mm - from_mm, 0.0, "mm"),
        (
            _stands_on(from_mm),
            CalculationLine("l", "what the foam presses on, above the metal", land_mm, "mm", "the job"),
        ),
        key="trim.land",
    )  # fmt: skip


def _stands_on(from_mm: float) -> CalculationLine:
    return CalculationLine("h", "top of the rim or collar above the metal", from_mm, "mm", "stand-off + rim, or collar")


def _check(room: RingRoom, wish: RingWish, ring: FoamRing, faults: tuple[_Fault, ...], remedy: Message | None) -> Check:
    low, high = RING_BAND
    given, force = ring.compression, ring.force_n[1]
    title = "Foam ring: {free} free, {closed} closed, {compression} compressed, "
    title += "pushes with {force} or more" if given > MOST else "pushes with up to {force} all round"
    if given <= 0.0:
        title = "Foam ring: {free} free does not reach across {closed}"
    elif ring.holes_mm:
        title += f", with {len(ring.holes_mm)} holes for the screw heads"
    quantities: list[tuple[str, float | str, str]] = [
        ("free", ring.free_mm, "mm"), ("closed", ring.closed_mm, "mm"), ("compression", 100.0 * given, "%"),
        ("force", force, "N"),
    ]  # fmt: skip
    for i, fault in enumerate(faults if given > 0.0 else ()):
        quantities += [(f"of{i}", fault.value, fault.unit), (f"to{i}", fault.limit, fault.unit)]
        said = _SAID[fault.kind].replace("{of}", f"{{of{i}}}").replace("{to}", f"{{to{i}}}")
        title += ("; " if i else ": ") + said
    verdict: Verdict = "caution" if faults else "ok"
    value, limit, unit = 100.0 * given, 100.0 * (low if given < low else high), "%"
    if faults:
        value, limit, unit = faults[0].value, faults[0].limit, faults[0].unit
    area = 0.0 if force == 0.0 else force / (wish.foam.high_pa * 1e-6 * min(given, MOST) / wish.foam.deflection)
    strips = " + ".join(f"{x:g}" for x in ring.layers_mm)
    return Check(
        "fit.foam-ring", verdict, Message(title, tuple(quantities)), value=value, limit=limit, unit=unit, remedy=remedy,
        working=(
            CalculationLine("l", "what the foam presses on, above the metal", room.land_mm, "mm", "the job"),
            _stands_on(room.from_mm),
            CalculationLine("h1", "closed height, l - h", ring.closed_mm, "mm"),
            CalculationLine("c0", "compression wanted", 100.0 * wish.compression, "%", PRACTICE),
            CalculationLine("h0", f"free height, strips of {strips} mm", ring.free_mm, "mm"),
            CalculationLine("c", "1 - h1 / h0", 100.0 * given, "%"),
            CalculationLine("w", "width of the ring", ring.width_mm, "mm"),
            CalculationLine("A", "pi/4 (D^2 - d^2), less the holes for screw heads", area, "mm2"),
            band_step(wish.foam),
            CalculationLine(
                "F", "p A c / 0.25, at the band's upper end", force, "N",
                EXTRAPOLATED if abs(given - wish.foam.deflection) > _SAME else D1056,
            ),
            CalculationLine("F_most", "what clipped trim bears", wish.limit_n, "N", PRACTICE),
        ),
        sources=(D1056, PRACTICE), key="foam.ring",
    )  # fmt: skip
