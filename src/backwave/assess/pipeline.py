"""The one computation: a job becomes an assessment.

For each adapter on each side: the turn, then the screws, then the least material, then the thickness, then the fit at
that thickness, the foam, the part, and what the drawings are told.  Rooms are called through the memo, so that an
edit recomputes only what depends on it; `provisional` is what can be shown at once after one."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

from backwave.assess.budgets import DRAWS, SOUND_S, SUPPLY_S, fit_budget, table_budget
from backwave.assess.choosing import score
from backwave.assess.job_findings import cautions, job_findings, names_of, shared_places, twins_of, with_waits
from backwave.assess.memo import Memo
from backwave.assess.place_result import Dimensions, PlaceResult, named_apart, stopped_too
from backwave.assess.result import Assessment
from backwave.budget import within
from backwave.errors import InputError, JobError, TooMuchError
from backwave.finding import VERDICTS, Finding, Ledger, check_of, worst
from backwave.fit.types import GasketKind
from backwave.job import Job, Place, places
from backwave.job.model import TABLES
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.stock import Stock, with_rows

if TYPE_CHECKING:
    from backwave.assess.proof.before_after import Proof
    from backwave.assess.proof.recordings import Reader
    from backwave.assess.sound.engine import SoundEngine
    from backwave.assess.sound.results import Prediction
    from backwave.power.gain import DriverOnChannel


_Mounted = tuple[Place, AdapterTable, SpeakerTable]
_SHARED = Memo(room=512)
_HEARD = ("vehicle", "seat", "speaker", "source", "stage", "box")
_SUPPLIED = ("supply", "distribution", "load", "battery", "converter", "wire", "cable_test", "supply_test")
_WIRED = ("stage", "speaker_cable", "plug", "boot", "pair", "factory_output", "signal", "wire", "load", "distribution")
# The key at which each kind of row is asked for.
_AT: dict[str, tuple[str, ...]] = {
    "material": ("material",), "insert": ("threads",), "nut": ("threads",), "tapping screw": ("threads",),
    "screw": ("screw",), "foam": ("foam", "grade"),
}  # fmt: skip


def assess(
    job: Job, memo: Memo | None = None, draws: int = DRAWS, *, whole: bool = True, remedies: bool = False,
    known: Mapping[tuple[str, str], PlaceResult] | None = None,
) -> Assessment:  # fmt: skip
    """Everything that follows from a job. `whole`: with sound, supply and wires; False: what fits and what is made,
    which takes a third of the time; `remedies`: tried with these too; `known`: the places before an edit, by subject and speaker: what it touched is
    judged by first order and nothing is chosen anew; JobError: the job asks for a row that no table has, or adds one
    that cannot be."""
    from backwave.assess.place import kept_remedies

    memo = memo or _SHARED
    stock = _stock(job)
    ledger = Ledger({one.key: one for one in job.assumed})
    here = {place.subject: place for place in places(job)}
    findings: list[Finding] = list(job_findings(job, tuple(here.values())))
    results: list[PlaceResult] = []
    mounted = tuple(_mounted(job, here))
    for (place, adapter, speaker), worked in zip(mounted, _worked(job, stock, mounted, ledger, memo, draws, known)):
        if whole or remedies:
            worked = kept_remedies(worked, job, stock, place, adapter, speaker, memo, draws)
        results.append(worked)
        findings += [Finding(check, place.subject) for check in results[-1].checks]
    shared = list(shared_places(job, results, here))
    findings += shared
    results = [stopped_too(one, [f.check for f in shared if f.subject == one.subject]) for one in results]
    findings = with_waits(findings, twins_of([(place, speaker.id) for place, _, speaker in mounted]))
    results = named_apart(results)
    sized: dict[tuple[str, str], Dimensions] = {(one.subject, one.speaker_id): one for one in results}
    predicted, wires = None, None
    limits: Mapping[str, tuple[DriverOnChannel, ...]] = {}
    guarded: Mapping[tuple[str, str], bool] = {}
    after = follows(job) if whole else frozenset()
    if "sound" in after:
        from backwave.assess.sound.engine import engine_from, solved_channels
        from backwave.assess.sound.findings import channel_drivers, guarded_tweeters
        from backwave.assess.sound.prediction import prediction

        try:
            with within(table_budget("the prediction", SOUND_S, job, *_HEARD)):
                engine = engine_from(job, here, sized, ledger, memo)
                predicted = prediction(engine)
                solved = [solved_channels(engine, stage) for stage in job.file.stage]
                limits, guarded = channel_drivers(solved), guarded_tweeters(solved[-1])
            findings += predicted.findings
        except (InputError, TooMuchError) as error:  # numbers that pass one by one and cannot be together
            findings.append(_unworkable("sound.data", "the sound", error))
    if "power" in after:
        from backwave.assess.power.supply import wires_of

        try:
            with within(table_budget("supply and wires", SUPPLY_S, job, *_SUPPLIED)):
                wires = wires_of(job, ledger, memo, limits)
            findings += () if wires is None else wires.findings
        except (InputError, TooMuchError) as error:
            findings.append(_unworkable("power.load", "supply and wires", error))
    harness, factory = None, None
    if "wire" in after:
        from backwave.assess.power.harness import wired

        with within(table_budget("the harness", SUPPLY_S, job, *_WIRED)):
            harness, factory, found = wired(job, here, sized, wires, ledger, memo, guarded)
        findings += found
    ranked = sorted(findings, key=lambda f: -VERDICTS.index(f.check.verdict))
    materials = {a.material: stock.material(a.material) for a in job.file.adapter}
    return Assessment(
        title=job.file.title, show=job.file.show, verdict=worst([f.check.verdict for f in findings]),
        findings=tuple(ranked),
        cautions=(
            *cautions((p.opening.zone for p in here.values()), ((n, row.fumes) for n, row in materials.items())),
            *(() if wires is None else wires.cautions),
        ),
        assumed=tuple(ledger.assumed.values()), places=tuple(results), names=names_of(job, here), digest=job.digest,
        wires=wires, harness=harness, factory=factory,
        prediction=predicted if predicted is not None and predicted.stages else None,
    )  # fmt: skip


def engine_of(job: Job, memo: Memo | None = None, draws: int = DRAWS) -> SoundEngine:
    """What plays the stages of a job as they are and otherwise. JobError: as `assess`; InputError: numbers of drivers
    or sources that cannot be together."""
    from backwave.assess.sound.engine import engine_from

    memo, stock, ledger = memo or _SHARED, _stock(job), Ledger()
    here = {place.subject: place for place in places(job)}
    worked = _worked(job, stock, tuple(_mounted(job, here)), ledger, memo, draws, lettered=False)
    sized: dict[tuple[str, str], Dimensions] = {(one.subject, one.speaker_id): one for one in worked}
    with within(table_budget("the prediction", SOUND_S, job, *_HEARD)):
        return engine_from(job, here, sized, ledger, memo)


def follows(job: Job) -> frozenset[str]:
    """What is worked out after the fit of a job: subjects of findings ("sound", "power", "wire")."""
    filled = (table for table in TABLES.values() if table.topic.starts and getattr(job.file, table.key))
    return frozenset(subject for table in filled for subject in table.topic.starts)


def predict(job: Job, memo: Memo | None = None) -> Prediction | None:
    """What each stage will bring, and nothing else; None where nothing can be said. JobError, InputError: as
    `engine_of`."""
    from backwave.assess.sound.prediction import prediction

    engine = engine_of(job, memo)
    with within(table_budget("the prediction", SOUND_S, job, *_HEARD)):
        made = prediction(engine)
    return made if made.stages else None


def with_comparisons(job: Job, result: Assessment, memo: Memo | None = None) -> Assessment:
    """An assessment whose prediction says what each thing is worth."""
    made = result.prediction
    if made is None or made.comparisons is not None:
        return result
    from backwave.assess.sound.prediction import compared

    return replace(result, prediction=compared(engine_of(job, memo), made))


def proven(
    job: Job, result: Assessment, read: Reader, progress: Callable[[float, str], None] | None = None
) -> Assessment:
    """An assessment with what the job's readings say; as it was where the job has none. `progress`: told the share that
    is done and the file at hand; what it raises ends the work."""
    if not job.file.reading:
        return result
    from backwave.assess.proof.before_after import proof_of
    from backwave.assess.proof.recordings import hear

    return with_proof(result, proof_of(job, result.prediction, hear(job, read, progress)))


def with_proof(result: Assessment, proof: Proof) -> Assessment:
    """The same assessment with what the readings say."""
    findings = sorted((*result.findings, *proof.findings), key=lambda f: -VERDICTS.index(f.check.verdict))
    names = {one.name: one.row.file for one in proof.heard} | {
        f"{pair.seat}-seat": f"{pair.seat.replace('-', ' ').capitalize()} seat" for pair in proof.pairs
    }
    return replace(
        result, findings=tuple(findings), verdict=worst([f.check.verdict for f in findings]),
        names=names | result.names, proof=proof,
    )  # fmt: skip


def _unworkable(code: str, what: str, error: InputError | TooMuchError) -> Finding:
    """What cannot be worked out, and why; all else stands."""
    own = error.accepted or error.what if isinstance(error, InputError) else error.key
    again = own or "the largest and the smallest of them"
    about = (("what", what.capitalize(), ""), ("why", str(error), ""), ("accepted", again, ""))
    said, remedy = "{what} cannot be worked out: {why}", "Look at these numbers again: {accepted}"
    return Finding(check_of(code, "caution", said, remedy, about, sources=(), part="whole"), "job")


def _stock(job: Job) -> Stock:
    try:
        return with_rows(job.file.stock)
    except InputError as error:
        problem = job.problem(("stock",), f"a row that cannot be: {error.what}", error.found, error.accepted)
        raise JobError((problem,)) from None


def _mounted(job: Job, here: dict[str, Place]) -> Iterator[_Mounted]:
    """Each driver in each opening it goes into, in the order of the adapters."""
    speakers = {s.id: s for s in job.file.speaker}
    for adapter in job.file.adapter:
        for place in here.values():
            if place.opening.id == adapter.opening:
                yield place, adapter, speakers[adapter.speaker]


def _worked(
    job: Job, stock: Stock, mounted: Sequence[_Mounted], ledger: Ledger, memo: Memo, draws: int,
    known: Mapping[tuple[str, str], PlaceResult] | None = None, *, lettered: bool = True,
) -> list[PlaceResult]:  # fmt: skip
    """Every place; both sides of an opening share thread and gasket where one kind leaves neither any worse off, nor with
    a stop that its own choice has not."""
    from backwave.assess.place import kept_place, place_at_once

    def work(one: _Mounted, like: tuple[str, GasketKind] | None = None) -> PlaceResult:
        place, adapter, speaker = one
        with _named(job, adapter), within(fit_budget(place, adapter, speaker)):
            if known is not None:
                before = known.get((place.subject, speaker.id))
                return place_at_once(job, stock, place, adapter, speaker, ledger, memo, before)
            return kept_place(job, stock, place, adapter, speaker, ledger, memo, draws, like, lettered=lettered)

    found = [work(one) for one in mounted]
    if known is not None:
        return found
    for (i, a), (j, b) in combinations(enumerate(mounted), 2):
        if a[1] is b[1] and found[i].taken.kinds != found[j].taken.kinds:
            if not lettered:  # what is engraved counts where two are compared
                return _worked(job, stock, mounted, ledger, memo, draws)
            for kinds in (found[j].taken.kinds, found[i].taken.kinds):
                pair = [work(one, kinds) if found[k].taken.kinds != kinds else found[k] for k, one in ((i, a), (j, b))]
                before = (found[i], found[j])
                if all(score(n)[:3] <= score(b)[:3] and _stops(n) <= _stops(b) for n, b in zip(pair, before)):
                    found[i], found[j] = pair
                    break
    return found


def _stops(place: PlaceResult) -> frozenset[str]:
    return frozenset(check.name for check in place.part.stopped)


@contextmanager
def _named(job: Job, adapter: AdapterTable) -> Iterator[None]:
    """A row that no table has is a fault of the job, named with its key."""
    try:
        yield
    except InputError as error:
        if isinstance(error, JobError):
            raise
        number = next(n for n, one in enumerate(job.file.adapter) if one is adapter)
        path: tuple[str | int, ...] = ("adapter", number, *_AT.get(error.what, ()))
        what = f"no such {error.what} in the tables" if error.what in _AT else error.what
        problem = job.problem(path, what, error.found, error.accepted)
        raise JobError((problem,)) from None


_LATER = frozenset(subject for table in TABLES.values() for subject in table.topic.starts)


def provisional(
    job: Job, before: Assessment | None, memo: Memo, *, at_once: bool = True, remedies: bool = False
) -> Assessment:
    """What fits and what is made; sound, supply and wires stand as they were before, until they follow. `at_once`: by
    first order, with what was chosen before; else as it will stay, but for remedies where they are not wanted yet."""
    places = () if before is None else before.places
    known = {(one.subject, one.speaker_id): one for one in places} if at_once else None
    result, stays = assess(job, memo, whole=False, remedies=remedies, known=known), follows(job)
    if before is None or not stays:
        return result
    here, said = {f.id for f in result.findings}, {one.key for one in result.assumed}
    old = [f for f in before.findings if f.topic in _LATER and f.id not in here]
    found = sorted((*result.findings, *old), key=lambda f: -VERDICTS.index(f.check.verdict))
    return replace(
        result, findings=tuple(found), verdict=worst([f.check.verdict for f in found]),
        cautions=tuple({f.id: f for f in (*result.cautions, *before.cautions)}.values()),
        assumed=(*result.assumed, *(one for one in before.assumed if one.key not in said)),
        prediction=before.prediction if "sound" in stays else None, wires=before.wires if "power" in stays else None,
        harness=before.harness if "wire" in stays else None, factory=before.factory if "wire" in stays else None,
    )  # fmt: skip
