"""One driver in one opening on one side: every room called once, in the order in which the answers depend on each other.

A place that was worked out before, and that no edit has touched since, is not worked out again: what it follows from is
frozen tables of the job, so they themselves are the name its result is kept under.  Last its dummy: what that is given of
each direction, and what a trial of one says of the job as it is now."""

from __future__ import annotations

import re
from collections.abc import Hashable
from contextlib import suppress
from dataclasses import fields, replace
from functools import partial
from math import ceil, hypot, pi

import numpy as np

from backwave.assess.budgets import DRAWS, fit_budget
from backwave.assess.choosing import Free, lifting, score, searched, stuck, worth_changing
from backwave.assess.inputs.adapter import material_of, printer_of, zone_of
from backwave.assess.inputs.mounting import lip_of, mounting_of, trim_checks
from backwave.assess.inputs.opening import lean_of
from backwave.assess.memo import Memo
from backwave.assess.place_findings import (
    advice_checks,
    asks_rim,
    mirrored_checks,
    notch_checks,
    pattern_checks,
    screws_found,
    thickness_checks,
    with_rim_asked,
    with_rim_tried,
)
from backwave.assess.place_result import Dimensions, FoamResult, PlaceResult, stopped_too
from backwave.assess.size import Premises, choice_at, dimensions_at, gasket_kinds, premises_of, thread_kinds
from backwave.budget import within
from backwave.errors import InputError, TooMuchError
from backwave.finding import Check, Ledger, Message
from backwave.fit import Advice, DriverShape, Fit, GaugeTrial, Margins, Opening, ScrewTail, Stack, advise, judge
from backwave.fit.bolt_pattern import play_check
from backwave.fit.clocking import clocking_checks
from backwave.fit.coverage import between_readings
from backwave.fit.laps import flange_lap
from backwave.fit.mounting import mounting_checks
from backwave.fit.types import MOVES, GasketKind, PlaceChoice, edge_mm
from backwave.job import Job, Place
from backwave.job.model import TABLES, JobFile
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.part.checks import plan_checks
from backwave.part.fit_gauge import coded, split_code
from backwave.part.flat_patterns import check_ring
from backwave.part.order import PartOrder
from backwave.part.types import AdapterSpec, Material, RingSpec, SheetStock, StandInSpec
from backwave.shape import Outline, circle, polygon
from backwave.stock import Stock
from backwave.units import in_unit

TRIAL_DRAWS = 4_000  # tells a stop from what is none; what is taken is judged with all of them


def assess_place(
    job: Job, stock: Stock, place: Place, adapter: AdapterTable, speaker: SpeakerTable, ledger: Ledger, memo: Memo,
    draws: int, like: tuple[str, GasketKind] | None = None, *, lettered: bool = True,
) -> PlaceResult:  # fmt: skip
    """Choose what can be chosen for one place, judge it, and specify what is made for it; `like` is the other side's;
    `lettered`: with what is engraved looked at, which changes no size."""
    premises = premises_of(job, stock, place, adapter, speaker, ledger)
    kinds, gaskets = thread_kinds(premises), gasket_kinds(premises)
    usual = (kinds[0], gaskets[0])
    if like is not None:
        kinds, gaskets = (like[0],), (like[1],)
    free = Free(kinds, gaskets, turn=bool(premises.holes) and adapter.turn == "auto")

    def tried(choice: PlaceChoice, why: Message | None) -> PlaceResult:
        return result_at(premises, choice, why, Ledger(), memo, TRIAL_DRAWS)

    choice, why = choice_at(premises, memo, kinds[0], gaskets[0])
    first = result_at(premises, choice, why, own := Ledger(), memo, draws, lettered=lettered)
    if stuck(first):
        if not lettered:  # a mark that found no room counts where choices are compared
            first = result_at(premises, choice, why, own := Ledger(), memo, draws)
        better, why = searched(first, free, partial(choice_at, premises, memo), tried)
        if better != choice:
            second = result_at(premises, better, why, others := Ledger(), memo, draws)
            if score(second) < score(first):
                assert why is not None
                chosen = Check("fit.choice", "ok", why, key="adapter.threads")
                first, own = replace(second, fit_checks=(*second.fit_checks, chosen)), others
    if like is not None and first.taken.kinds != usual:
        said = Message("Taken: {threads}, as on the other side, so that one kind does", (("threads", kinds[0], ""),))
        chosen = Check("fit.choice", "ok", said, key="adapter.threads")
        first = replace(first, fit_checks=(*(c for c in first.fit_checks if c.code != "fit.choice"), chosen))
    ledger.take(own.assumed.values())
    return first


def place_at_once(
    job: Job, stock: Stock, place: Place, adapter: AdapterTable, speaker: SpeakerTable, ledger: Ledger, memo: Memo,
    before: PlaceResult | None,
) -> PlaceResult:  # fmt: skip
    """One place right after an edit: as kept where the edit did not touch it, with the thread and gasket that it shares
    with the other side; else by first order, with what was chosen before where the person left it open."""
    likes = (None,) if before is None else (before.taken.kinds, None)
    kept = [one for one in likes if memo.kept(_name(job, place, adapter, speaker, DRAWS, one)) is not None]
    like, known = kept[0] if kept else None, bool(kept)
    if before is not None and not known:
        premises, was = premises_of(job, stock, place, adapter, speaker, ledger), before.taken
        threads, gaskets = thread_kinds(premises), gasket_kinds(premises)
        with suppress(InputError):  # what was chosen goes no more
            choice, why = choice_at(
                premises, memo, was.threads if was.threads in threads else threads[0],
                was.gasket if was.gasket in gaskets else gaskets[0],
                was.turn_deg if premises.holes and adapter.turn == "auto" else None, was.thickness_mm,
            )  # fmt: skip
            return result_at(premises, choice, why, ledger, memo, 0)
    worked = kept_place(job, stock, place, adapter, speaker, ledger, memo, DRAWS if known else 0, like)
    remedied: PlaceResult | None = memo.kept(_name(job, place, adapter, speaker, DRAWS, worked.taken))
    return remedied or worked


def with_remedies(
    result: PlaceResult, job: Job, stock: Stock, place: Place, adapter: AdapterTable, speaker: SpeakerTable,
    memo: Memo, draws: int,
) -> PlaceResult:  # fmt: skip
    """The same place with the single changes of its part that lift a stop or open the window, each tried."""

    def tried(changed: AdapterTable, driver: SpeakerTable = speaker) -> PlaceResult:
        premises = premises_of(job, stock, place, changed, driver, Ledger())
        threads = result.taken.threads if changed.threads == "auto" else changed.threads
        kinds = gasket_kinds(premises)
        gasket = result.taken.gasket if result.taken.gasket in kinds else kinds[0]
        choice, why = choice_at(premises, memo, threads, gasket)
        return result_at(premises, choice, why, Ledger(), memo, TRIAL_DRAWS)

    def proven(changed: AdapterTable) -> PlaceResult:
        return assess_place(job, stock, place, changed, speaker, Ledger(), memo, draws)

    taken = adapter.model_copy(update={"threads": "auto"})
    kinds = thread_kinds(premises_of(job, stock, place, taken, speaker, Ledger()))
    found = lifting(result, adapter, kinds, filter(worth_changing, result.checks), tried, proven)
    return with_rim_tried(found, lambda rim: tried(adapter, speaker.model_copy(update={"rim": rim})))


def result_at(
    premises: Premises, choice: PlaceChoice, why: Message | None, ledger: Ledger, memo: Memo, draws: int, *,
    lettered: bool = True,
) -> PlaceResult:  # fmt: skip
    """One place at one choice: sized, judged, and what is made for it."""
    job, stock, place, adapter, speaker = (
        premises.job, premises.stock, premises.place, premises.adapter, premises.speaker,
    )  # fmt: skip
    sized = dimensions_at(premises, choice, ledger, memo, why)
    spec, dummy = sized.spec, dummy_of(place, sized)
    stand_in = trial_of(place, dummy, sized)
    fit, advice = memo.call(
        _judged, between_readings(sized.opening), sized.driver, sized.stack, sized.margins,
        sized.screws.tails(place.opening.id), stand_in, lean_of(place), sized.turn_deg, draws,
    )  # fmt: skip
    sheets = SheetStock(sized.layers_mm, job.file.sheet.cutter, adapter.sealed)
    how = printer_of(job) if adapter.process == "print" else sheets
    material, zone = material_of(stock, adapter), zone_of(stock, place)
    part_id = adapter.id or f"{adapter.opening}-{adapter.speaker}"
    part = PartOrder(
        id=part_id + (f"-{place.side}" if place.side else ""), side=place.side, subject=place.subject, label=place.name,
        spec=spec, material=material, how=how, zone=zone, ring=_ring(sized.foam), stand_in=dummy,
        check_ring=check_ring(spec), metal_hole=_metal_hole(sized.opening),
        flags=_flags(sized.driver) if dummy is not None else (),
    )  # fmt: skip
    screw_checks = screws_found(
        stock, sized, _mass_kg(spec, material), adapter.material, adapter.process, zone.service_degc,
        _left_out(job, place)[1:], lip_of(job, place), unplaced=place.positions is not None and place.positions.loose != (),
        heads_mm=[in_unit(f.head, "mm") for f in place.opening.fixings or ()],
    )  # fmt: skip
    play: tuple[Check, ...] = ()
    if sized.joints and sized.opening.hole_radius_mm is not None:
        off = (sized.stack.off_x, sized.stack.off_y)
        play = (memo.call(play_check, sized.joints, off, sized.margins.hole_mm),)
    mounting = mounting_of(job, stock, place, speaker, sized, stand_in)
    found = PlaceResult(
        **{field.name: getattr(sized, field.name) for field in fields(sized)}, opening_id=place.opening.id,
        side=place.side, subject=place.subject, name=place.name, speaker_id=speaker.id,
        speaker_name=speaker.name or speaker.id, fit=fit, advice=advice, part=part,
        fit_checks=(
            *fit.checks, *play, *advice_checks(advice), *mirrored_checks(place, fit, stand_in),
            *trim_checks(job, place, speaker, sized),
        ),
        mount_checks=memo.call(mounting_checks, mounting), lap=flange_lap(mounting),
        hole_checks=tuple(
            clocking_checks(sized.clocking) if sized.clocking is not None else pattern_checks(speaker, place),
        ),
        part_checks=(
            *screw_checks,
            *memo.call(plan_checks, spec if draws and lettered else replace(spec, lettering=None), material, how, zone),
            *notch_checks(adapter, sized.taken.notch_deg),
            *thickness_checks(adapter, spec.thickness_mm, sized.least_mm),
        ),
    )  # fmt: skip
    found = with_rim_asked(found)
    return stopped_too(found, found.checks)


def _judged(
    opening: Opening, driver: DriverShape, stack: Stack, margins: Margins, tails: tuple[ScrewTail, ...],
    stand_in: GaugeTrial | None, lean: tuple[float, float], turn: float, draws: int,
) -> tuple[Fit, Advice | None]:  # fmt: skip
    """The fit and the advice that follows from it, kept together: both follow from the same numbers."""
    tilt, offset = lean
    fit = judge(
        opening, driver, stack, margins, turn_deg=turn, tails=tails, stand_in=stand_in, tilt_deg=tilt, offset_mm=offset,
        draws=draws,
    )  # fmt: skip
    if not draws or not fit.clearances or all(c.verdict == "ok" for c in fit.clearances):
        return fit, None  # where only a second reading is lacking, fit.read-once says so already
    return fit, advise(fit, opening, driver, stack, margins, turn_deg=turn)


def _ring(foam: FoamResult) -> RingSpec | None:
    ring = foam.front
    if ring is None or ring.free_mm <= 0.0:
        return None
    return RingSpec(circle(ring.outer_mm / 2.0), circle(ring.inner_mm / 2.0), ring.free_mm, ring.holes_mm, "foam ring")


def _flags(driver: DriverShape) -> tuple[str, ...]:
    """What the part rests on without a reading, for its drawing and its files' names."""
    held = driver.terminals
    known = held is not None and held.angle_deg is not None and not held.radius.assumed
    return () if known else ("terminals not measured",)


def _metal_hole(opening: Opening) -> Outline | None:
    if opening.outline_mm is not None:
        return polygon([(float(x), float(y)) for x, y in opening.outline_mm])
    return None if opening.hole is None else circle(opening.hole.value / 2.0)


def _mass_kg(spec: AdapterSpec, material: Material) -> float:
    """Mass of the part from its plan, near enough for a load: the flange less the bore."""
    area = spec.outline.area_mm2 - pi * spec.bore_mm**2
    return area * spec.thickness_mm * 1e-9 * material.density_kg_m3


# What every fit follows from; its own rows a place is given by themselves, and of all other tables no fit hears.
_SHARED = tuple(key for key, table in TABLES.items() if table.topic.subject == "fit")


def kept_place(
    job: Job, stock: Stock, place: Place, adapter: AdapterTable, speaker: SpeakerTable, ledger: Ledger, memo: Memo,
    draws: int, like: tuple[str, GasketKind] | None = None, *, lettered: bool = True,
) -> PlaceResult:  # fmt: skip
    """One place, worked out unless it is kept; what was assumed for it is noted either way."""
    name = _name(job, place, adapter, speaker, draws, like)
    lettered = lettered or memo.kept(name) is not None

    def make() -> tuple[PlaceResult, Ledger]:
        own = Ledger()
        return assess_place(job, stock, place, adapter, speaker, own, memo, draws, like, lettered=lettered), own

    worked, own = memo.keep(name if lettered else (name, "not lettered"), make)
    ledger.take(own.assumed.values())
    return worked


def _name(job: Job, place: Place, adapter: AdapterTable, speaker: SpeakerTable, *also: Hashable) -> Hashable:
    return "place", _shared(job.file), place, adapter, speaker, *also, _left_out(job, place)


def kept_remedies(
    worked: PlaceResult, job: Job, stock: Stock, place: Place, adapter: AdapterTable, speaker: SpeakerTable,
    memo: Memo, draws: int,
) -> PlaceResult:  # fmt: skip
    """The same place with the single changes that lift what stops it; without any where that takes too long."""

    if not any(worth_changing(check) or asks_rim(check) for check in worked.checks):
        return worked

    def make() -> PlaceResult:
        return with_remedies(worked, job, stock, place, adapter, speaker, memo, draws)

    try:
        with within(fit_budget(place, adapter, speaker)):
            return memo.keep(_name(job, place, adapter, speaker, draws, worked.taken), make)
    except TooMuchError:
        return worked


def _left_out(job: Job, place: Place) -> tuple[bool, ...]:
    """What stands as its default because nobody entered it, where that is asked: the printer's bed, each `holds`."""
    fixings = place.opening.fixings or ()
    holds = ("holds" not in fixing.model_fields_set for fixing in fixings)
    return ("bed" not in job.file.printer.model_fields_set, *holds)


class _Named:
    """A value whose hash is worked out once."""

    __slots__ = ("_hash", "value")

    def __init__(self, value: Hashable) -> None:
        self.value, self._hash = value, hash(value)

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        return self is other or (isinstance(other, _Named) and self.value == other.value)


_latest: list[tuple[JobFile, _Named]] = []  # the file whose shared tables were named last


def _shared(file: JobFile) -> _Named:
    """The tables that belong to no single place; those that are free in form by their text."""
    for held, named in _latest:  # as it is at this moment: another thread may put in its own
        if held is file:
            return named
    values = ((name, getattr(file, name)) for name in _SHARED)
    named = _Named(tuple((name, repr(value) if isinstance(value, dict) else value) for name, value in values))
    _latest[:] = [(file, named)]
    return named


# so much less than the hole's margin it is grown by: it is printed, and has to go in; common trade practice
PLAY_MM = 0.3
BEHIND_MM = 2.0  # the passage through the metal reaches so far behind it
PLATE_MM = 6.0  # of the plate lie on the metal round the hole, or more
STEP_DEG = 5
POST = 0.6  # of a screw's diameter: its stand-in goes through the nut's thread; common trade practice


def dummy_of(place: Place, sized: Dimensions) -> StandInSpec | None:
    """The dummy of a place with its code; None where nothing comes behind the metal, or the seat is not flat."""
    driver, opening = sized.driver, sized.opening
    profile = tuple((r.value, d.value) for r, d in driver.profile)
    if profile[-1][1] <= sized.seat_height_mm or any(lean_of(place)):
        return None
    margins = sized.margins
    margin, deeper = _margins(opening, margins, place.opening.zone == "door")
    growth = max(0.0, margins.hole_mm - PLAY_MM)
    near, far = _hole(opening)
    block: tuple[float | None, float, float, float] | None = None
    held = driver.terminals
    if held is not None:
        turned = None if held.angle_deg is None else round(held.angle_deg + sized.turn_deg, 1) % 360.0
        reach = held.radius.value
        if turned is None and near is not None:  # all round it goes in only as far as the hole lets it
            reach = min(reach, near - margins.hole_mm)
        block = (turned, held.width.value, reach, held.depth.value)
    skin = opening.skin.value if opening.skin is not None else 0.0
    tails = tuple(
        (m.x_mm, m.y_mm, POST * float(re.sub(r"[^\d.]", "", m.screw.size) or 5.0), float(ceil(skin + m.screw.tail_mm + margin)))
        for m in sized.screws.metal
        if m.screw is not None and m.screw.tail_mm > 0.0
    )  # fmt: skip
    return coded(StandInSpec(
        profile_mm=profile, seat_height_mm=round(sized.seat_height_mm, 1),
        rim_mm=max(sized.frame_mm / 2.0, (far or 0.0) + PLATE_MM), margin_mm=margin, deeper=deeper, growth_mm=growth,
        passage_mm=skin + BEHIND_MM, terminals_mm=block, tails_mm=tails, name=place.name,
    ))  # fmt: skip


def trial_of(place: Place, spec: StandInSpec | None, sized: Dimensions) -> GaugeTrial | None:
    """What the dummy did at a place; a pair's second side does not inherit the first one's."""
    held = place.opening.stand_in
    if held is None or (place.mirrored and "stand_in" not in place.own):
        return None
    metal, wanted = sized.margins.metal_mm, "" if spec is None else spec.code
    shown = _shows_spigot(spec, sized)
    trial = GaugeTrial(held.outcome, held.where, held.travel, held.code or "", wanted, metal, metal, spigot=shown)
    if spec is None or held.code is None:
        return trial  # an older one had the margin to metal all round
    given, now = split_code(held.code), split_code(spec.code)
    assert now is not None  # our own
    # one that hung deeper and went clear, or hung less deep and touched, says the same of this one
    says = given is not None and (given[1] <= now[1] if held.outcome == "clear" else given[1] >= now[1])
    same = given is not None and given[0] == now[0] and says
    held_at = sized.driver.terminals
    reaches = spec.terminals_mm is None or held_at is None or spec.terminals_mm[2] >= held_at.radius.value - 1e-9
    return GaugeTrial(
        held.outcome, held.where, held.travel, held.code, wanted,
        max([spec.margin_mm, *(m for *_, m in spec.deeper)]), min([spec.margin_mm, *(m for *_, m in spec.deeper)]),
        reaches, shown, "this" if same else "other",
    )  # fmt: skip


def _shows_spigot(spec: StandInSpec | None, sized: Dimensions) -> bool:
    """Whether the part's spigot lies within the driver that the dummy stands for; it has none of its own."""
    made = sized.spec
    if made.spigot is None or not made.keeps_spigot or made.spigot.length_mm <= sized.back_closed_mm:
        return True
    radii, depths = zip(*((0.0, 0.0),) if spec is None else spec.profile_mm)
    at = np.linspace(0.0, depths[-1], 200)
    wide = at[np.interp(at, depths, radii) >= made.spigot.radius_mm]
    reach = float(wide.max(initial=0.0)) - sized.seat_height_mm
    return reach >= made.spigot.length_mm - sized.back_closed_mm


def _hole(opening: Opening) -> tuple[float | None, float | None]:
    """Least and largest distance from the axis to the hole's edge."""
    if opening.outline_mm is not None:
        far = max(hypot(float(x), float(y)) for x, y in opening.outline_mm)
        return edge_mm(opening.outline_mm), far
    return (None, None) if opening.hole is None else (opening.hole.value / 2.0, opening.hole.value / 2.0)


def _margins(opening: Opening, margins: Margins, door: bool) -> tuple[float, tuple[tuple[float, float, float], ...]]:
    """The least depth margin, and the directions in which it is larger. In each direction counts what is there and has
    least to spare; where nothing was measured glass is taken to be there, if there is any, or in a door nobody has said
    so."""
    moves = any(o.what in MOVES for o in opening.behind)

    def margin(angle: float) -> float:
        found = [
            (min(spot.clear.value for spot in o.spots) - m, m)
            for o in opening.behind
            for m in [margins.glass_mm if o.what in MOVES else margins.metal_mm]
            if o.angle_deg is None or abs((angle - o.angle_deg + 180.0) % 360.0 - 180.0) <= o.half_deg
        ]
        unread = margins.glass_mm if moves or (door and not opening.behind) else margins.metal_mm
        return min(found)[1] if found else unread

    around = [margin(float(angle)) for angle in range(0, 360, STEP_DEG)]
    least, most = min(around), max(around)
    if least == most:
        return least, ()
    starts = [k for k, m in enumerate(around) if m == most and around[k - 1] == least]
    sectors = []
    for k in starts:
        long = next(n for n in range(1, len(around)) if around[(k + n) % len(around)] == least)
        sectors.append((float(k * STEP_DEG), float((k + long - 1) * STEP_DEG) % 360.0, most))
    return least, tuple(sectors)
