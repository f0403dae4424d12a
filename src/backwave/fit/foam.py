"""The foam in front: a ring that closes to the trim, built up from strip, and the height over all.

What it pushes with is `gasket.force_n`: the band of ASTM D1056 at 25 %, extrapolated in proportion to the ring's
own compression.  The gasket behind the adapter is in `gasket` and given on from here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement
from math import ceil, pi

from backwave.errors import InputError
from backwave.finding import CalculationLine, Check, Message, Verdict, worst
from backwave.fit.gasket import (
    BACK_BAND,
    D1056,
    EXTRAPOLATED,
    MOST,
    BackGasket,
    back_gasket,
    band_step,
    force_n,
)
from backwave.stock import FoamRow

__all__ = [
    "BACK_BAND",
    "FORCE_LIMIT_N",
    "MOST",
    "RING_BAND",
    "SLENDER",
    "BackGasket",
    "FoamRing",
    "back_gasket",
    "force_n",
    "front_ring",
    "ring_diameters",
    "total_height",
]

PRACTICE = "common trade practice"
RING_BAND = (0.10, 0.20)  # compression of the ring; common trade practice
FORCE_LIMIT_N = 30.0  # what clipped trim bears all round; common trade practice
SLENDER = 1.5  # most height of a ring, in widths; common trade practice
LAYERS = 4  # most layers of strip in one ring
_SAME = 1e-9


@dataclass(frozen=True)
class FoamRing:
    """The ring between the rim (or the part's collar) and the trim.

    Parameters
    ----------
    inner_mm, outer_mm : float, mm
        Its diameters.
    free_mm, closed_mm : float, mm
        Its height before and after the trim is on.
    from_mm : float, mm
        Where it stands: height above the metal.
    layers_mm : tuple of float, mm
        Strips that add up to `free_mm`, thickest first.
    compression : float, no unit
        Share of its height that it gives.
    force_n : (low, high) float, N
        What it pushes on the trim with, all round; at `MOST` where it is closed further, so then at least.
    check : Check, no unit
        `fit.foam-ring`.
    """

    inner_mm: float
    outer_mm: float
    free_mm: float
    closed_mm: float
    from_mm: float
    layers_mm: tuple[float, ...]
    compression: float
    force_n: tuple[float, float]
    check: Check

    @property
    def width_mm(self) -> float:
        """Width of the ring."""
        return (self.outer_mm - self.inner_mm) / 2.0


def ring_diameters(
    outer_most_mm: float, inner_least_mm: float, width_mm: float | None = None, tall_mm: float = 0.0
) -> tuple[float, float]:
    """Where a ring lies between the rim (or collar) and the flat of the trim.

    Parameters
    ----------
    outer_most_mm : float, mm
        Outer diameter that both reach.
    inner_least_mm : float, mm
        Inner diameter that both leave free.
    width_mm : float or None, mm
        Width wanted; None: just wide enough for a ring of that height to stand, in whole millimeters, and 6 mm at
        least (common trade practice).
    tall_mm : float, mm
        Free height of the ring, where no width is given.

    Returns
    -------
    (inner, outer) float, mm
        Diameters; no wider than there is room.

    Raises
    ------
    InputError
        No room between the two.
    """
    room = (outer_most_mm - inner_least_mm) / 2.0
    if room <= 0.0:
        raise InputError(
            "room for a foam ring",
            f"{inner_least_mm:g} to {outer_most_mm:g} mm",
            "an inner diameter below the outer one",
        )
    width = max(6.0, float(ceil(tall_mm / SLENDER - _SAME))) if width_mm is None else width_mm
    return outer_most_mm - 2.0 * min(width, room), outer_most_mm


def front_ring(
    foam: FoamRow,
    thicknesses_mm: Sequence[float],
    from_mm: float,
    land_mm: float,
    inner_mm: float,
    outer_mm: float,
    compression: float = 0.15,
    free_mm: float | None = None,
    land_error_mm: float = 0.0,
    force_limit_n: float = FORCE_LIMIT_N,
) -> FoamRing:
    """The ring in front, built up from strip.

    Of all sums of stock thicknesses whose compression lies within `RING_BAND`, those come first that keep the
    force limit and stand steady, then the one nearest to the height wanted, then the one of fewest layers.

    Parameters
    ----------
    foam : FoamRow, Pa
        Its grade.
    thicknesses_mm : sequence of float, mm
        Strip on hand.
    from_mm : float, mm
        What it stands on, above the metal: seat height and rim, or the collar's top.
    land_mm : float, mm
        What it closes to, above the metal.
    inner_mm, outer_mm : float, mm
        Its diameters.
    compression : float, no unit
        Wanted.
    free_mm : float or None, mm
        A free height that was decided; None chooses one.
    land_error_mm : float, mm
        How far the gap may be out, either way; says whether the ring still touches.
    force_limit_n : float, N
        What the trim bears all round.

    Raises
    ------
    InputError
        Diameters or a compression that cannot be.
    """
    if not 0.0 < inner_mm < outer_mm:
        raise InputError("foam ring", f"{inner_mm:g} to {outer_mm:g} mm", "inner above 0, below outer")
    if not 0.0 < compression <= MOST:
        raise InputError("compression of the foam ring", compression, f"above 0, up to {MOST:g}")
    if not thicknesses_mm and free_mm is None:
        raise InputError("foam thicknesses", "none", "one or more")
    area = pi / 4.0 * (outer_mm**2 - inner_mm**2)
    closed = land_mm - from_mm
    if closed <= 0.0:
        return FoamRing(inner_mm, outer_mm, 0.0, closed, from_mm, (), 0.0, (0.0, 0.0), _no_room(from_mm, land_mm))
    layers: tuple[float, ...] = () if free_mm is None else (free_mm,)
    if not layers:
        steady = SLENDER * (outer_mm - inner_mm) / 2.0
        layers = _layers(closed, compression, thicknesses_mm, foam, area, force_limit_n, steady)
    free = sum(layers)
    given = 1.0 - closed / free
    force = force_n(foam, area, min(max(given, 0.0), MOST))
    ring = (inner_mm, outer_mm, free, closed, from_mm, layers, given, force)
    return FoamRing(*ring, _ring_check(ring, foam, compression, land_mm, land_error_mm, force_limit_n))


def total_height(from_mm: float, free_mm: float, factory_mm: float, allow_mm: float = 3.0) -> Check:
    """Whether driver and ring together stand as tall as the factory unit did.

    Parameters
    ----------
    from_mm : float, mm
        What the ring stands on, above the metal.
    free_mm : float, mm
        The ring's free height (0: no ring).
    factory_mm : float, mm
        The factory unit with its own foam, above the metal.
    allow_mm : float, mm
        Difference that the foam takes up (common trade practice).
    """
    total = from_mm + free_mm
    more = total - factory_mm
    title = "Driver and foam stand {total} tall; the factory unit stood {factory}"
    quantities: tuple[tuple[str, float | str, str], ...] = (("total", total, "mm"), ("factory", factory_mm, "mm"))
    remedy = None
    if more > allow_mm + _SAME:
        remedy = Message(
            "{more} taller: read the land again before the trim is pushed on", (("more", more, "mm"),)
        )
    elif more < -allow_mm - _SAME:
        remedy = Message("{less} lower: the ring may not reach; read the land again", (("less", -more, "mm"),))
    return Check(
        "fit.total-height",
        "caution" if remedy else "ok",
        Message(title, quantities),
        value=more,
        limit=allow_mm if more >= 0.0 else -allow_mm,
        unit="mm",
        remedy=remedy,
        working=(
            CalculationLine("h", "what the ring stands on", from_mm, "mm", "seat height + rim, or collar"),
            CalculationLine("h0", "free height of the ring", free_mm, "mm"),
            CalculationLine("H", "factory unit with its own foam", factory_mm, "mm", "the job"),
            CalculationLine("d", "h + h0 - H", more, "mm", PRACTICE),
        ),
        sources=(PRACTICE,),
        key="factory.height",
    )


def _layers(
    closed: float, wanted: float, stock: Sequence[float], foam: FoamRow, area: float, limit: float, steady: float
) -> tuple[float, ...]:
    """The pile of strips to take; outside the band the nearest one, which the check then says."""
    strips = sorted(set(stock), reverse=True)
    low, high = RING_BAND
    target = closed / (1.0 - wanted)
    reach = closed / (1.0 - high)  # taller piles only matter where nothing shorter does
    best: tuple[tuple[bool, int, float, int], tuple[float, ...]] | None = None
    for count in range(1, LAYERS + 1):
        for pile in combinations_with_replacement(strips, count):
            total = sum(pile)
            given = 1.0 - closed / total
            if total > reach + strips[-1]:
                continue
            outside = not low - _SAME <= given <= high + _SAME
            hard = force_n(foam, area, min(max(given, 0.0), MOST))[1] > limit + _SAME
            faults = int(hard) + int(total > steady + _SAME)
            rank = (outside, faults, round(abs(total - target), 9), count)
            if best is None or rank < best[0]:
                best = rank, pile
    return best[1] if best else (strips[-1],)


def _no_room(from_mm: float, land_mm: float) -> Check:
    return Check(
        "fit.foam-ring",
        "stop",
        Message(
            "No room for foam: the rim stands {rim} off the metal, what the foam presses on only {land}",
            (("rim", from_mm, "mm"), ("land", land_mm, "mm")),
        ),
        value=land_mm - from_mm,
        limit=0.0,
        unit="mm",
        remedy=Message(
            "Lower the driver by more than {need} (thinner adapter, deeper seat), or space the trim out",
            (("need", from_mm - land_mm, "mm"),),
        ),
        working=(
            CalculationLine(
                "h", "top of the rim or collar above the metal", from_mm, "mm", "seat height + rim, or collar"
            ),
            CalculationLine("l", "what the foam presses on, above the metal", land_mm, "mm", "the job"),
        ),
        sources=(PRACTICE,),
        key="trim.land",
    )


def _ring_check(
    ring: tuple[float, float, float, float, float, tuple[float, ...], float, tuple[float, float]],
    foam: FoamRow,
    wanted: float,
    land_mm: float,
    error_mm: float,
    limit_n: float,
) -> Check:
    inner, outer, free, closed, from_mm, layers, given, force = ring
    width = (outer - inner) / 2.0
    low, high = RING_BAND
    # Each criterion: verdict, value, limit, unit, remedy.
    found: list[tuple[Verdict, float, float, str, Message | None]] = []
    fault: Message | None = None
    if not low - _SAME <= given <= high + _SAME:
        fault = Message(
            "For {least} to {most} of compression the ring should be {short} to {tall} tall",
            (
                ("least", 100 * low, "%"),
                ("most", 100 * high, "%"),
                ("short", closed / (1 - low), "mm"),
                ("tall", closed / (1 - high), "mm"),
            ),
        )
    found.append(("caution" if fault else "ok", 100 * given, 100 * (low if given < low else high), "%", fault))
    if error_mm > 0.0 and closed + error_mm >= free:
        fault = Message(
            "Read the land again: {error} more and the ring of {free} does not touch",
            (("error", error_mm, "mm"), ("free", free, "mm")),
        )
        found.append(("caution", free - closed, error_mm, "mm", fault))
    if free > SLENDER * width + _SAME:
        # A collar takes the same off the closed height.
        collar = closed - SLENDER * width * (1.0 - given)
        fault = Message(
            "{free} of foam on a width of {width} leans over: stand it {collar} higher on a collar of the part, "
            "or make it {wide} wide",
            (
                ("free", free, "mm"),
                ("width", width, "mm"),
                ("collar", collar, "mm"),
                ("wide", free / SLENDER, "mm"),
            ),
        )
        found.append(("caution", free, SLENDER * width, "mm", fault))
    if force[1] > limit_n + _SAME:
        found.append(("caution", force[1], limit_n, "N", _softer(closed, given, force[1], limit_n)))
    verdict = worst([f[0] for f in found])
    shown = next(f for f in found if f[0] == verdict)
    title = "Foam ring: {free} free, {closed} closed, {compression} compressed, "
    title += "pushes with {force} or more" if given > MOST else "pushes with up to {force} all round"
    if given <= 0.0:
        title = "Foam ring: {free} free does not reach across {closed}"
    remedies = [f[4] for f in found if f[4] is not None]
    return Check(
        "fit.foam-ring",
        verdict,
        Message(
            title,
            (
                ("free", free, "mm"),
                ("closed", closed, "mm"),
                ("compression", 100 * given, "%"),
                ("force", force[1], "N"),
            ),
        ),
        value=shown[1],
        limit=shown[2],
        unit=shown[3],
        remedy=_joined(remedies) if remedies else None,
        working=(
            CalculationLine("l", "what the foam presses on, above the metal", land_mm, "mm", "the job"),
            CalculationLine(
                "h", "top of the rim or collar above the metal", from_mm, "mm", "seat height + rim, or collar"
            ),
            CalculationLine("h1", "closed height, l - h", closed, "mm"),
            CalculationLine("c0", "compression wanted", 100 * wanted, "%", PRACTICE),
            CalculationLine(
                "h0", "free height, strips of " + " + ".join(f"{x:g}" for x in layers) + " mm", free, "mm"
            ),
            CalculationLine("c", "1 - h1 / h0", 100 * given, "%"),
            CalculationLine("w", "width of the ring", width, "mm"),
            CalculationLine("A", "pi/4 (D^2 - d^2)", pi / 4.0 * (outer**2 - inner**2), "mm2"),
            band_step(foam),
            CalculationLine(
                "F",
                "p A c / 0.25, at the band's upper end",
                force[1],
                "N",
                EXTRAPOLATED if abs(given - foam.deflection) > _SAME else D1056,
            ),
            CalculationLine("F_most", "what clipped trim bears", limit_n, "N", PRACTICE),
        ),
        sources=(D1056, PRACTICE),
        key="foam.ring",
    )


def _softer(closed: float, given: float, force: float, limit: float) -> Message:
    """What brings the force down: less compression where that is enough, else less foam."""
    gentle = given * limit / force
    if gentle >= RING_BAND[0]:
        return Message(
            "Up to {force} on clipped trim: trim the ring to {free}",
            (("force", force, "N"), ("free", closed / (1.0 - gentle), "mm")),
        )
    return Message(
        "Up to {force} on clipped trim, {limit} wanted: take a softer grade, or a ring {share} as wide",
        (("force", force, "N"), ("limit", limit, "N"), ("share", 100.0 * limit / force, "%")),
    )


def _joined(texts: Sequence[Message]) -> Message:
    """Several remedies as one; each one's quantities keep to themselves."""
    templates, quantities = [], []
    for i, text in enumerate(texts):
        template = text.template
        for name, value, unit in text.quantities:
            template = template.replace("{" + name + "}", "{" + name + str(i) + "}")
            quantities.append((name + str(i), value, unit))
        templates.append(template)
    return Message(". ".join(templates), tuple(quantities))
