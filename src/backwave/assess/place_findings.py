"""Findings that need the job and a fit together: what was not read here, what is too thin, and all that is screwed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import hypot, inf

from backwave.assess.inputs.screws import bears_mpa, clamps_n, hot_modulus, support_of
from backwave.assess.place_result import MAGNET_SHARE, Dimensions, PlaceResult
from backwave.finding import Check, Message, check_of, worst
from backwave.fit import Advice, Fit, GaugeTrial, Opening
from backwave.fit.assembly import Lip
from backwave.fit.fixing_load import FixingPoint, fixing_checks, lip_checks, metal_checks, missing_checks
from backwave.fit.plausible import RANGES, row_of
from backwave.fit.screw import Threads
from backwave.fit.screw_holes import (
    bearing_check,
    driver_hold_check,
    driver_hole_checks,
    head_checks,
    metal_hole_checks,
    suits,
    thread_holds_n,
    tightening_check,
    unknown_hold_check,
)
from backwave.job import Place
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.shape import circle, polygon
from backwave.stock import InsertRow, MaterialRow, Stock
from backwave.units import Quantity, parse

ON_RIM = ("fit.foam-ring", "fit.total-height", "fit.flat.rim", "fit.flat.driver-heads", "fit.screw.driver")


def advice_checks(advice: Advice | None) -> list[Check]:
    """Which one reading to take again."""
    if advice is None or advice.kind == "settled":
        return []
    entered = next((row.entered for key, row in RANGES.items() if advice.reading.endswith(f".{key}")), "")
    waits = (f"fit.assumed.{entered}",) if entered else (advice.answered,) if advice.answered else ()
    return [
        Check("fit.read-again", "caution", advice.text, key=advice.reading, sources=("JCGM 100:2008",), waits=waits)
    ]


def mirrored_checks(place: Place, fit: Fit, stand_in: GaugeTrial | None) -> list[Check]:
    """A second side on which nothing was read."""
    tried = stand_in is not None and stand_in.of != "other"
    if not place.mirrored or "behind" in place.own or tried or not fit.clearances:
        return []
    said = "Nothing was measured on this side: it is assumed to mirror the other"
    remedy = "Measure once behind the face here, to check: regulator, motor and loom are not mirrored"
    key = f"opening.{place.opening.id}.{place.side}.behind"
    return [check_of("fit.mirrored", "caution", said, remedy, key=key)]


def pattern_checks(speaker: SpeakerTable, place: Place) -> list[Check]:
    """A driver whose holes nobody measured; `mount.held` asks what holds one that has none."""
    if speaker.kind == "tweeter" or place.opening.held_by not in (None, "screws"):
        return []
    remedy, key = (
        "Measure the bolt circle and the holes: holes = {{ count, circle, diameter, first }}",
        f"speaker.{speaker.id}.holes",
    )
    return [
        check_of(
            "job.missing", "caution", "No holes of the speaker entered yet", remedy, sources=(), key=key, part="holes"
        )
    ]


def with_rim_asked(found: PlaceResult) -> PlaceResult:
    """The same place; where no rim was entered, with the question for it, and what rests on it waiting."""
    rim, name = found.driver.rim, "fit.assumed.rim"
    if rim is None or not rim.assumed or rim.plausible is None:
        return found

    def waiting(checks: Sequence[Check]) -> tuple[Check, ...]:
        return tuple(
            replace(c, waits=(*c.waits, name)) if c.verdict == "caution" and c.name in ON_RIM else c for c in checks
        )

    fit_checks = waiting(found.fit_checks)
    if not any(c.name == name and c.verdict == "caution" for c in fit_checks):
        rests = any(c.name in ON_RIM for c in found.checks)
        low, high = rim.plausible
        about = (("low", low, "mm"), ("high", high, "mm"), ("taken", rim.value, "mm"))
        ask = Check(
            "fit.assumed", "caution" if rests else "ok",
            Message("Not entered: the rim; it may be {low} to {high} thick, {taken} is taken", about),
            remedy=Message("Measure how thick the rim of the frame is") if rests else None,
            sources=(row_of(rim.name).standing,), key=rim.name, part="rim",
        )  # fmt: skip
        fit_checks = (*(c for c in fit_checks if c.name != name), ask)
    foam = replace(found.foam, checks=waiting(found.foam.checks))
    return replace(found, fit_checks=fit_checks, foam=foam, part_checks=waiting(found.part_checks))


def asks_rim(check: Check) -> bool:
    """Whether it is the open question how thick the rim is."""
    return check.name == "fit.assumed.rim" and check.verdict == "caution"


def with_rim_tried(found: PlaceResult, judged: Callable[[Quantity], PlaceResult]) -> PlaceResult:
    """The same place; the question for the rim says what hangs on it comes to at its ends and as taken, each judged."""
    rim = found.driver.rim
    if rim is None or rim.plausible is None or not any(map(asks_rim, found.fit_checks)):
        return found
    told, about = [], []
    for n, value in enumerate(sorted({rim.plausible[0], rim.value, rim.plausible[1]})):
        then = worst([c.verdict for c in judged(parse(f"{value:g} mm", "length")).checks if c.name in ON_RIM])
        told.append(f"{then} at {{rim{n}}}")
        about.append((f"rim{n}", value, "mm"))
    do = Message("Measure how thick the rim of the frame is; what rests on it is " + ", ".join(told), tuple(about))
    checks = tuple(replace(c, remedy=do) if asks_rim(c) else c for c in found.fit_checks)
    return replace(found, fit_checks=checks)


def notch_checks(adapter: AdapterTable, notch_deg: float | None) -> list[Check]:
    """A notch that should follow terminals of which nobody knows where they are."""
    if adapter.notch != "terminals" or notch_deg is not None:
        return []
    said = "The notch is left out: no place of the terminals entered yet"
    remedy = "Enter the angle of the terminals, the speaker seen from its front: terminals.angle"
    return [check_of("job.missing", "caution", said, remedy, sources=(), key="adapter.notch", part="notch")]


def thickness_checks(adapter: AdapterTable, thickness: float, least: float) -> list[Check]:
    """A fixed thickness that leaves too little material."""
    if not isinstance(adapter.thickness, Quantity) or thickness >= least - 1e-9:
        return []
    return [
        check_of(
            "part.engagement", "stop", "The adapter is {thickness} thick; its threads and heads need {least}",
            "Make it {least} thick, or take shorter inserts and flatter heads",
            (("thickness", thickness, "mm"), ("least", least, "mm")), (thickness, least, "mm"), sources=(),
            key="adapter.thickness", part="thickness",
        ),
    ]  # fmt: skip


COLD_DEGC = 20.0
ROOM_MM = 4.2  # part under an insert: room for the screw's end, and a floor


def screws_found(
    stock: Stock, sized: Dimensions, part_kg: float, material: str, process: str, hot_degc: float,
    unsaid: Sequence[bool] = (), lip: Lip | None = None, unplaced: bool = False,
    heads_mm: Sequence[float | None] = (),
) -> tuple[Check, ...]:  # fmt: skip
    """Screws, their holes, the metal they sit in, and what holds at a slam; `unsaid`: fixings whose `holds` is assumed."""
    screws, spec = sized.screws, sized.spec
    found: list[Check] = []
    if screws.driver is not None and sized.holes:
        found = [screws.driver.check, *driver_hole_checks(stock, screws.driver, sized.holes)]
    longest: dict[str, tuple[float, Check]] = {}
    for m in screws.metal:
        if m.screw is not None:
            key = f"{m.row.holds} {m.screw.size} {m.screw.length_mm} {m.screw.washer} {m.screw.check.verdict}"
            if key not in longest or m.screw.tail_mm > longest[key][0]:
                longest[key] = (m.screw.tail_mm, m.screw.check)
    for i, (_, check) in enumerate(longest.values(), 1):
        found.append(replace(check, part="metal" if len(longest) == 1 else f"metal-{i}"))
    points = [
        FixingPoint(m.x_mm, m.y_mm, m.row, f"fixing {i}", _edge_mm(sized.opening, m.x_mm, m.y_mm))
        for i, m in enumerate(screws.metal, 1)
    ]
    found += (*metal_checks(points), *(() if lip is None else lip_checks(points, lip.width)))
    reads = [(p.name, m.row, m.read_mm) for p, m in zip(points, screws.metal)]
    guessed = [*unsaid, *[False] * len(reads)][: len(reads)]
    said = metal_hole_checks(stock, [read for read, guess in zip(reads, guessed) if not guess])
    found += said or map(_ask_holds, metal_hole_checks(stock, [r for r, guess in zip(reads, guessed) if guess]))
    found += head_checks(stock, [(p.name, p.row, head) for p, head in zip(points, heads_mm)])
    behind = spec.seat_z_mm - MAGNET_SHARE * sized.driver.profile[-1][1].value
    middle = spec.thickness_mm / 2.0
    mass = screws.mass_kg or 0.0
    z = (mass * behind + part_kg * middle) / (mass + part_kg)
    found += _held(stock, sized, part_kg, z, material, process, hot_degc)
    _, steady = clamps_n(screws, sized.foam.back, part_kg, z, spec.outline)
    if not points or screws.mass_kg is None:
        one_kg = replace(sized, screws=replace(screws, mass_kg=1.0))
        own = [c for c in _held(stock, one_kg, part_kg, z, material, process, hot_degc) if c.code == "fit.hold"]
        kg = min((c.limit / c.value for c in own if c.limit is not None and c.value), default=inf)  # linear in the mass
        asked = missing_checks(
            points, part_kg, middle, behind, edge=spec.outline, steady_n=steady, thread_kg=kg, unplaced=unplaced
        )
        return (*found, *asked)
    assert sized.opening.skin is not None  # measured or a noted default
    skin, at = sized.opening.skin.value, (0.0, 0.0, z)
    return (*found, *fixing_checks(points, mass + part_kg, at, skin, steady_n=steady, edge=spec.outline))


def _ask_holds(check: Check) -> Check:
    """A hole that does not suit a fixing of which nobody said how it holds: another kind may."""
    template = check.title.template + ", if that is how it holds: `holds` is not entered"
    remedy = Message("Look what holds there, and enter it: holds = rivet nut, sheet nut, self-tap, bolt, stud ...")
    return replace(check, verdict="caution", title=replace(check.title, template=template), remedy=remedy)


def _held(
    stock: Stock, sized: Dimensions, part_kg: float, z_mm: float, material: str, process: str, hot_degc: float
) -> list[Check]:
    """What holds the driver on the part, the part under its heads, and how tight both go."""
    screws, creep, found = sized.screws, stock.creep(material), []
    source = hot_modulus(stock, material, hot_degc)[1]
    clamps, steady = clamps_n(screws, sized.foam.back, part_kg, z_mm, sized.spec.outline)
    supports = [
        (support_of(m, clamp, steady), i, m)
        for i, (m, clamp) in enumerate(zip(screws.metal, clamps), 1)
        if m.hole_mm > 0.0 and m.head_mm > m.hole_mm
    ]
    if supports:
        worst, i, fixing = max(supports, key=lambda one: one[0].pressure_mpa)
        allowed = bears_mpa(stock, material, hot_degc)
        others = [
            row.name for row in stock.of(MaterialRow) if row.kind == process and row.service_degc >= hot_degc + 15.0
            and bears_mpa(stock, row.name, hot_degc) >= worst.pressure_mpa
        ]  # fmt: skip
        found.append(bearing_check(f"fixing {i}", worst, material, allowed, hot_degc, source, others[:2]))
        gives = fixing.row.pull_out_n
        if fixing.sleeve is None:
            gives = min(gives, bears_mpa(stock, material, COLD_DEGC) * worst.area_mm2)
        d = stock.clearance_hole(fixing.row.screw).d_mm
        found.append(tightening_check("Screws into the metal", "the part is down", d, gives, "metal"))
    cold = None if creep is None else creep.hold_pa(COLD_DEGC)
    hot = None if creep is None else creep.hold_pa(hot_degc)
    if screws.driver is None or not sized.holes:
        return found
    if cold is None or hot is None:
        return [*found, unknown_hold_check(material)]
    over = sized.spec.seat_z_mm - screws.thread.nut_height_mm

    def holds(threads: Threads, pa: float) -> float:
        assert screws.driver is not None
        return thread_holds_n(stock, threads, screws.driver.engagement_mm, over, pa)

    across = [hole.diameter_mm for hole in sized.holes]
    others_at = [
        (f'"insert {row.name}"', holds(Threads("insert", row.name), hot))
        for row in stock.of(InsertRow)
        if suits(stock, row.size, min(across), max(across)) and row.length_mm + ROOM_MM <= sized.spec.seat_z_mm
    ]
    if screws.mass_kg is not None:
        behind = -MAGNET_SHARE * sized.driver.profile[-1][1].value
        found.append(driver_hold_check(
            [(h.x_mm, h.y_mm) for h in sized.holes], screws.mass_kg, behind,
            {"insert": "insert", "nut": "nut", "screw": "screw"}[screws.threads.kind] + f" {screws.threads.name}",
            (holds(screws.threads, cold), holds(screws.threads, hot)), others_at, hot_degc, source, circle(sized.frame_mm / 2.0),
        ))  # fmt: skip
    d = stock.clearance_hole(screws.threads.size).d_mm
    found.append(tightening_check("The driver's screws", "the frame is down", d, holds(screws.threads, cold), "driver"))
    return found


def _edge_mm(opening: Opening, x_mm: float, y_mm: float) -> float | None:
    """From a point in the metal to the edge of the hole, negative inside the hole; None where that was not read."""
    if opening.hole is not None:
        return hypot(x_mm, y_mm) - opening.hole.value / 2.0
    if opening.outline_mm is None:
        return None
    return -polygon([(float(x), float(y)) for x, y in opening.outline_mm]).inside_mm(x_mm, y_mm)
