"""What was said of the work and how far it is: ticks, gates, times, own tasks, what is there already, the teardown, consent."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from backwave.plan.event_log import Record, Said, Subject, Word, moment
from backwave.plan.task import Edit, Task


@dataclass(frozen=True)
class TimedRun:
    """A stretch of work on a task."""

    since: str  # when it began and ended; "" while it goes on
    until: str = ""
    minutes: float = 0.0  # min, how long it took; 0 while it goes on
    by: str = ""
    key: str = ""


@dataclass(frozen=True)
class Standing:
    """A task and how far it is."""

    task: Task
    done: bool = False
    waits: tuple[str, ...] = ()  # ids of tasks before it that are not done
    # what has to be true before it begins, and whether somebody confirmed it
    gates: tuple[tuple[str, bool], ...] = ()
    consent: bool = False  # it drills, and nobody has consented yet
    runs: tuple[TimedRun, ...] = ()
    # how long it took: as told with the tick, else the sum of its stretches; None where nobody knows
    took_min: float | None = None

    @property
    def unconfirmed(self) -> tuple[str, ...]:
        """Gates nobody confirmed."""
        return tuple(words for words, confirmed in self.gates if not confirmed)

    @property
    def state(self) -> Literal["done", "running", "ready", "gated", "waits"]:
        """ "done"; "waits" for others or for consent; "gated" until its gates are confirmed; "running"; "ready"."""
        if self.done:
            return "done"
        if self.waits or self.consent:
            return "waits"
        if self.unconfirmed:
            return "gated"
        return "running" if any(not run.until for run in self.runs) else "ready"

    @property
    def early(self) -> bool:
        """Ticked although something before it is open: two phones said so, or a tick was taken back."""
        return self.done and bool(self.waits or self.consent or self.unconfirmed)


def standing(
    tasks: Sequence[Task],
    done: Collection[str] = (),
    gates: Collection[tuple[str, str]] = (),
    consent: bool = False,
    runs: Mapping[str, Iterable[TimedRun]] | None = None,
    minutes: Mapping[str, float] | None = None,
) -> tuple[Standing, ...]:
    """How far each task is."""
    found = []
    for task in tasks:
        own = tuple((runs or {}).get(task.id, ()))
        ended = [run.minutes for run in own if run.until]
        found.append(
            Standing(
                task, task.id in done, tuple(name for name in task.after if name not in done),
                tuple((words, (task.id, words) in gates) for words in task.gates), task.drills and not consent, own,
                (minutes or {}).get(task.id, round(sum(ended), 2) if ended else None),
            )
        )  # fmt: skip
    return tuple(found)


def todays_cautions(rows: Iterable[Standing]) -> tuple[str, ...]:
    """Where it can hurt in what is done now or next, each once."""
    now = [row.task for row in rows if row.state in ("running", "ready", "gated")]
    return tuple(dict.fromkeys(caution for task in now for caution in task.cautions))


@dataclass(frozen=True)
class TeardownStep:
    """One step of the teardown."""

    id: str  # its name in the log
    text: str  # what came off and how; where ("" for anywhere)
    place: str = ""
    # how many screws, bolts and nuts came out, how many clips; None where nobody counted
    fasteners: int | None = None
    clips: int | None = None
    photos: tuple[str, ...] = ()  # paths inside the job folder
    when: str = ""  # when it was written down, and by whom
    by: str = ""
    back: bool = False
    fasteners_back: int | None = None  # how many went back in; None where nobody counted
    clips_back: int | None = None


@dataclass(frozen=True)
class Count:
    """Fasteners or clips of a place: what came out and what went back."""

    place: str
    kind: str
    out: int  # how many came out; how many went back in
    back: int
    whole: bool  # every counted step of the place is together again

    @property
    def even(self) -> bool:
        """As many went back as came out."""
        return self.out == self.back


def reassembly(steps: Sequence[TeardownStep]) -> tuple[TeardownStep, ...]:
    """The steps in the order in which it goes together: the last that came off is the first that goes on."""
    return tuple(reversed(steps))


def counts(steps: Iterable[TeardownStep]) -> tuple[Count, ...]:
    """What came out and what went back, place by place; only what was counted."""
    held = list(steps)
    found = []
    for place in dict.fromkeys(step.place for step in held):
        own = [step for step in held if step.place == place]
        for kind in ("fasteners", "clips"):
            pairs = [(getattr(step, kind), getattr(step, f"{kind}_back"), step.back) for step in own]
            counted = [pair for pair in pairs if pair[0] is not None or pair[1] is not None]
            if counted:
                out, back = (sum(pair[n] or 0 for pair in counted) for n in (0, 1))
                found.append(Count(place, kind, out, back, all(pair[2] for pair in counted)))
    return tuple(found)


@dataclass(frozen=True)
class Tick:
    """A task that was done, or taken up again."""

    id: str
    done: bool = True
    when: str = ""  # when it was said, as a date and time, and by whom
    minutes: float | None = None  # min, how long it took
    by: str = ""


@dataclass(frozen=True)
class Consent:
    """Somebody agreed to what is drilled and cut, or not any more."""

    id: str  # its name in the log; who agreed, to what, when
    who: str
    text: str
    when: str
    given: bool = True


@dataclass(frozen=True)
class Condition:
    """How something was before the work."""

    id: str  # its name in the log; what, where, when, written by whom
    text: str
    place: str = ""
    when: str = ""
    by: str = ""
    photos: tuple[str, ...] = ()  # paths inside the job folder


@dataclass(frozen=True)
class Dispute:
    """Two said different things of one thing, and neither knew of the other."""

    kind: str
    id: str
    part: str
    field: str
    counts: Word
    others: tuple[Word, ...]
    heads: tuple[str, ...]  # keys of all of them: a word said over these settles it


@dataclass(frozen=True)
class Done:
    """What the log says of the work."""

    ticks: Mapping[str, Tick] = field(default_factory=dict)  # the last word on each
    edits: tuple[Edit, ...] = ()  # changed tasks and tasks of one's own
    have: frozenset[str] = frozenset()  # ids of shopping rows that are there already
    prices: Mapping[str, float] = field(default_factory=dict)
    steps: tuple[TeardownStep, ...] = ()  # the teardown, in the order it was taken apart
    condition: tuple[Condition, ...] = ()  # how things were before
    consents: tuple[Consent, ...] = ()
    gates: frozenset[tuple[str, str]] = frozenset()
    # stretches of work, in the order they began
    runs: Mapping[str, tuple[TimedRun, ...]] = field(default_factory=dict)
    disputes: tuple[Dispute, ...] = ()  # where two contradict
    words: tuple[Word, ...] = ()  # all that was said, in the order of time, with what was taken back
    held: Mapping[Subject, Said] = field(default_factory=dict)

    @property
    def consented(self) -> bool:
        """Somebody agreed to the drilling, and still does."""
        return any(consent.given for consent in self.consents)


def done_of_words(words: Iterable[Word]) -> Done:
    """What words say of the work."""
    return done_of_record(Record(words))


def done_of_record(record: Record) -> Done:
    """What a record of words says of the work."""
    held = record.said()
    of: dict[str, dict[str, Said]] = {}  # of each kind, what was said last of each id
    for (kind, id_, _), one in held.items():
        of.setdefault(kind, {})[id_] = one
    ticks = {
        id_: Tick(id_, bool(one.get("done", True)), (told := one.told("done")).when, one.get("minutes"), told.by)
        for id_, one in of.get("tick", {}).items()
    }
    notes = [(id_, one) for id_, one in of.get("note", {}).items() if one.get("text")]
    items = of.get("item", {})
    return Done(
        ticks,
        edits=tuple(
            Edit(id_, one.get("title"), one.get("who"), one.get("minutes"), one.get("after"), bool(one.get("drop")))
            for id_, one in of.get("task", {}).items()
        ),
        have=frozenset(id_ for id_, one in items.items() if one.get("have")),
        prices={id_: price for id_, one in items.items() if (price := one.get("price")) is not None},
        steps=tuple(
            _step(id_, one, of.get("refit", {}).get(id_)) for id_, one in notes if one.get("about") != "condition"
        ),
        condition=tuple(
            Condition(id_, one.get("text"), one.get("place", ""), (first := one.words[0]).when, first.by, _photos(one))
            for id_, one in notes
            if one.get("about") == "condition"
        ),
        consents=tuple(
            Consent(id_, one.get("who", ""), one.get("text", ""), one.told("who").when, bool(one.get("given", True)))
            for id_, one in of.get("consent", {}).items()
        ),
        gates=frozenset((s[1], s[2]) for s, one in held.items() if s[0] == "gate" and one.get("done", True)),
        runs=_runs(held, ticks),
        disputes=tuple(
            Dispute(*subject, name, fact.word, fact.others, one.heads)
            for subject, one in held.items()
            for name, fact in one.facts.items()
            if fact.others and subject[0] != "time"  # of two ends of one stretch the later is right
        ),
        words=record.words,
        held=held,
    )


def _photos(one: Said) -> tuple[str, ...]:
    return tuple(one.get("photos", ()))


def _step(id_: str, one: Said, refit: Said | None) -> TeardownStep:
    first, back = one.words[0], Said(()) if refit is None else refit
    return TeardownStep(
        id_, one.get("text"), one.get("place", ""), one.get("count"), one.get("clips"), _photos(one), first.when,
        first.by, refit is not None and bool(back.get("done", True)), back.get("count"), back.get("clips"),
    )  # fmt: skip


def _runs(held: Mapping[tuple[str, str, str], Said], ticks: Mapping[str, Tick]) -> dict[str, tuple[TimedRun, ...]]:
    """Stretches of work by task; a tick ends those that are left running."""
    found: dict[str, list[TimedRun]] = {}
    for (kind, id_, part), one in held.items():
        begun = next((w for w in one.words if dict(w.fields).get("go", True)), None)
        if kind != "time" or begun is None:
            continue
        ended = one.told("go").when if not one.get("go", True) else ""
        tick = ticks.get(id_)
        if not ended and tick is not None and tick.done and moment(tick.when) >= moment(begun.when):
            ended = tick.when
        minutes = max(0.0, (moment(ended) - moment(begun.when)) / 60.0) if ended else 0.0
        found.setdefault(id_, []).append(TimedRun(begun.when, ended, round(minutes, 2), begun.by, part))
    return {id_: tuple(sorted(runs, key=lambda run: moment(run.since))) for id_, runs in found.items()}
