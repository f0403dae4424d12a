"""What is open as a person reads it: twins in one line, what blocks first; and the next few actions over the whole job.

Findings that differ only in the side, or in the number or name of a screw, wire or output, are one group; each keeps its id.
A step is one action: it settles every finding that asks for it, and whatever waits for those alone.  Steps are ranked
by what they settle a minute, a stop as much as ten cautions, after the gates that guard whoever works."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from backwave.finding import ANSWERS, Answer, Check, Finding, Message, is_room, verdict_line, words

if TYPE_CHECKING:
    from backwave.plan import Standing

STOP_COUNTS = 10  # as many cautions
NEAR = 0.02  # numbers no further apart than this share are one
MOST_NAMES = 4  # told one by one

# parts of a code that something else answers
_PARTS: dict[str, tuple[Answer, float]] = {
    "fit.coverage.window": ("enter", 2), "fit.flat.inner": ("measure", 5), "fit.terminals.unread": ("measure", 5),
    "job.missing.adapter": ("enter", 2),
}  # fmt: skip
_TRY_MIN = 15.0  # as the plan's task of trying the dummy


@dataclass(frozen=True)
class FindingGroup:
    """Findings that are one line."""

    check: Check  # the worst of them; its text names all, with ranges where numbers differ
    name: str  # whose: "Front door, both sides"
    findings: tuple[Finding, ...]  # worst first, each reachable by its id
    kind: Answer  # what answers it

    @property
    def is_open(self) -> bool:
        """Not ok, and waits for no other answer."""
        return self.check.verdict != "ok" and not self.check.waits

    @property
    def ids(self) -> tuple[str, ...]:
        return tuple(f.id for f in self.findings)


@dataclass(frozen=True)
class NextStep:
    """One thing to do next."""

    kind: Answer
    name: str  # whose: "Front door, both sides"; "" for the whole job
    do: Message
    why: Check | Message  # what was found, or what it is good for
    minutes: float  # min, how long a person is busy with it
    settles: tuple[str, ...]  # ids of findings, last those that wait for the others
    waiting: int = 0  # so many of them wait
    stops: int = 0  # of them
    machine_min: float = 0.0  # how long the printer runs by itself
    finding: Finding | None = None  # what leads to where it is done; None for a task of the plan
    task: str = ""  # id of the plan's task
    part: str = ""  # id of the part whose dummy is printed

    def said(self, system: str) -> str:
        """Why, in words."""
        return verdict_line(self.why, system) if isinstance(self.why, Check) else words(self.why, system)

    @property
    def command(self) -> str:
        """What does it at the command line: a command, or a key of job.toml."""
        check = self.finding.check if self.finding is not None else None
        if self.part:
            return "backwave make JOB"
        if check is None:
            return f"backwave plan JOB --tick {self.task}" if self.task else ""
        if self.kind == "confirm":
            return "backwave pair JOB " + (check.part if len(self.settles) == 1 else "PAIR")
        return f"job.toml: {check.key}" if re.fullmatch(r"[\w.\[\]-]+", check.key) else ""


def kind_of(check: Check) -> tuple[Answer, float]:
    """What answers a check, and the minutes a person is busy with it."""
    if check.code in ("wire.pair", "wire.live") and (check.remedy or check.title).template.startswith("Confirm"):
        return "confirm", 10.0  # nothing is read before the lines of its gate are confirmed
    if check.code == "wire.load-resistor" and check.value is None:
        return "measure", 10.0
    found = _PARTS.get(check.name) or ANSWERS[check.code]
    if found[0] and (found[0] != "know" or check.verdict != "stop"):
        return found
    if check.remedy is None:
        return "know", 0.0
    if check.remedy.template.startswith("Measure"):
        return "measure", 10.0
    return ("enter", 5.0) if check.key and check.verdict != "stop" and not check.tries else ("change", 10.0)


def grouped(findings: Iterable[Finding], names: Mapping[str, str]) -> tuple[FindingGroup, ...]:
    """Findings as lines: what blocks first, then what is to be done, then what is only worth knowing.  `names`: what
    a person calls each subject.  What waits for a question of its own name on the other side stands with it."""
    alike: dict[object, list[Finding]] = {}
    keys: dict[str, object] = {}
    for f in findings:
        root = next((one for one in f.check.waits if one.startswith(f"{f.check.name}@") and one in keys), "")
        keys[f.id] = keys[root] if root else _alike(f)
        alike.setdefault(keys[f.id], []).append(f)
    groups = [_group(found, names) for found in alike.values()]
    return tuple(sorted(groups, key=lambda g: _rank(g.check, g.kind)))


def _rank(check: Check, kind: Answer) -> int:
    if check.verdict != "caution":
        return 4 if check.verdict == "ok" else 0
    return 3 if check.waits else 2 if kind == "know" else 1


def tally(groups: Collection[FindingGroup]) -> str:
    """How many are open, wait and are ok, in words: the same on every face."""
    if not groups:
        return "nothing entered yet"
    bad = sum(g.is_open for g in groups)
    waiting = sum(bool(g.check.waits) for g in groups)
    good = sum(len(g.findings) for g in groups if g.check.verdict == "ok")
    parts = [f"{bad} open" if bad else "nothing open"]
    parts += [f"{waiting} waiting"] if waiting else []
    return ", ".join([*parts, f"{good} check{'s' * (good != 1)} ok"])


_SIDE = re.compile(r"\b(left|right)\b")
_NUMBERED = re.compile(r"\b(screw|insert|nut|bolt|fixing|contact|wire|boss|ear|hole|terminal) \d+\b|\bW\d+\b")
_SHARED = ("wire", "power", "measure")  # whose subjects are things of a kind, not places to be told apart


def _alike(f: Finding) -> object:
    check = f.check
    own = sorted({f.subject, *check.part.split()} - {""}, key=len, reverse=True)

    def plain(said: str) -> str:
        for name in own:
            said = re.sub(rf"(?<![\w-]){re.escape(name)}(?![\w-])", "*", said)
        return _NUMBERED.sub("#", _SIDE.sub("*", said))

    texts = [text for text in (check.title, check.remedy) if text is not None]
    values = {(n, plain(v) if isinstance(v, str) else "", unit) for text in texts for n, v, unit in text.quantities}
    whose = "" if f.topic in _SHARED else _SIDE.sub("*", f.subject)
    return (
        check.code, check.verdict, bool(check.waits), whose, tuple(t.template for t in texts), frozenset(values)
    )  # fmt: skip


def _group(found: Sequence[Finding], names: Mapping[str, str]) -> FindingGroup:
    ranked = sorted(found, key=_badness)
    asked = [f for f in ranked if not f.check.waits] or ranked
    first = asked[0].check
    spread = not is_room(first)
    title = _joined([f.check.title for f in asked], spread=spread)
    remedies = [f.check.remedy for f in asked if f.check.remedy is not None]
    check = replace(first, title=title, remedy=_joined(remedies, spread=spread) if remedies else None)
    return FindingGroup(check, whose([f.subject for f in found], names), tuple(ranked), kind_of(first)[0])


def _badness(f: Finding) -> tuple[bool, float, float]:
    """The least chance first, then the furthest from the limit."""
    check = f.check
    value, limit = check.value or 0.0, check.limit or 0.0
    off = value if is_room(check) or value < limit else -value
    return bool(check.waits), 1.0 if check.chance is None else check.chance, off


def _joined(texts: Sequence[Message], *, spread: bool) -> Message:
    """One text for several of one template: their names one after the other, their numbers as a range."""
    template, made = texts[0].template, list[tuple[str, float | str, str]]()
    for name, value, unit in texts[0].quantities:
        values = [v for text in texts for n, v, _ in text.quantities if n == name]
        numbers = [v for v in values if not isinstance(v, str)]
        if isinstance(value, str):
            made.append((name, listed([v for v in values if isinstance(v, str)]), unit))
        elif spread and max(numbers) - min(numbers) > NEAR * max(map(abs, numbers)):
            template = re.sub(rf"{{{name}(:\d+)?}}", rf"{{{name}\1}} to {{{name}_to\1}}", template)
            made += [(name, min(numbers), unit), (f"{name}_to", max(numbers), unit)]
        else:
            made.append((name, value, unit))
    return Message(template, tuple(made))


def listed(names: Iterable[str]) -> str:
    """Names one after the other: "a, b and c"."""
    found = list(dict.fromkeys(names))
    if len(found) > MOST_NAMES:
        return f"{', '.join(found[: MOST_NAMES - 1])} and {len(found) - MOST_NAMES + 1} more"
    return " and ".join(filter(None, (", ".join(found[:-1]), found[-1])))


def whose(subjects: Iterable[str], names: Mapping[str, str]) -> str:
    """What a person calls these subjects: "Front door, both sides"."""
    found: dict[str, list[str]] = {}
    for subject in dict.fromkeys(subjects):
        base, _, side = subject.rpartition(".")
        name = names.get(subject, subject)
        sided = side in ("left", "right") and name.endswith(f", {side}")
        found.setdefault(base if sided else subject, []).append(name)
    told = [f"{ones[0].rpartition(', ')[0]}, both sides" if len(ones) > 1 else ones[0] for ones in found.values()]
    more = [f"and {len(told) - MOST_NAMES + 1} more"] if len(told) > MOST_NAMES else []
    return "; ".join([*told[: MOST_NAMES - 1], *more] if more else told)


def step_json(step: NextStep) -> dict[str, Any]:
    """One row of `next` in the document of `check --json`."""
    return {
        "kind": step.kind, "whose": step.name, "do": words(step.do), "why": step.said("metric"), "minutes": step.minutes,
        "machine_minutes": step.machine_min, "settles": list(step.settles), "stops": step.stops,
        "command": step.command, "task": step.task,
    }  # fmt: skip


def next_steps(
    findings: Sequence[Finding], names: Mapping[str, str], dummies: Mapping[str, str], tasks: Sequence[Standing] = ()
) -> tuple[NextStep, ...]:
    """What to do next over the whole job, first what settles most a minute.  `dummies`: for each place that has one, the
    id of the part it goes with; `tasks`: the plan's, of which what can be begun now comes last."""
    bad = {f.id: f for f in findings if f.check.verdict != "ok"}
    groups = [g for g in grouped(bad.values(), names) if not g.check.waits and g.kind != "know"]
    left = [*(_answer(g) for g in groups), *(_trial(s, part, bad, names) for s, part in dummies.items())]
    left = [*_together(left, bad, names)]
    settled: set[str] = set()
    made: list[NextStep] = []
    while True:
        steps = [_settling(one, bad, settled) for one in left]
        steps = [one for one in steps if one.settles and not (one.part and len(one.settles) < 2)]
        if not steps:
            break
        best = min(steps, key=lambda one: _worth(one, bad))
        settled |= set(best.settles)
        made.append(replace(best, stops=sum(bad[one].check.verdict == "stop" for one in best.settles)))
    if any(f.check.code == "job.missing" and f.subject == "job" for f in bad.values()):
        return tuple(made)  # nothing of the plan before there is something to plan
    return (*made, *_tasks(tasks, blocked=any(f.check.verdict == "stop" for f in bad.values())))


def _together(steps: Iterable[NextStep], bad: Mapping[str, Finding], names: Mapping[str, str]) -> Iterator[NextStep]:
    """Steps of one kind in the same words as one: doing it is doing all of them."""
    alike: dict[object, list[NextStep]] = {}
    for one in steps:
        alike.setdefault((one.kind, words(one.do)), []).append(one)
    for ones in alike.values():
        ids = tuple(id_ for one in ones for id_ in one.settles)
        name = ones[0].name if len(ones) == 1 else whose([bad[id_].subject for id_ in ids], names)
        yield replace(ones[0], settles=ids, minutes=sum(one.minutes for one in ones), name=name)


def _worth(one: NextStep, bad: Mapping[str, Finding]) -> tuple[bool, float]:
    count = sum(STOP_COUNTS if bad[id_].check.verdict == "stop" else 1 for id_ in one.settles)
    return one.kind != "confirm", -count / max(one.minutes, 1.0)


def _settling(one: NextStep, bad: Mapping[str, Finding], before: Collection[str]) -> NextStep:
    """With what of it is still open, and what waits for that and for nothing else that is open."""
    own = tuple(id_ for id_ in one.settles if id_ not in before)
    done = {*own, *before}
    waits = tuple(f.id for f in bad.values() if f.check.waits and f.id not in done and done.issuperset(f.check.waits))
    return replace(one, settles=(*own, *waits) if own else (), waiting=len(waits))


def _answer(group: FindingGroup) -> NextStep:
    check, (kind, minutes) = group.check, kind_of(group.check)
    times = sum(not f.check.waits for f in group.findings) if kind in ("measure", "confirm") else 1
    do, name = check.remedy or Message("Enter it"), "" if group.findings[0].subject == "job" else group.name
    return NextStep(kind, name, do, check, minutes * times, group.ids, finding=group.findings[0])


def _trial(subject: str, part: str, bad: Mapping[str, Finding], names: Mapping[str, str]) -> NextStep:
    """The dummy of a place, tried: it shows what is behind the metal, whatever was read of it."""
    ids = [
        f.id for f in bad.values()
        if f.subject == subject and not f.check.waits and (
            (f.check.code == "fit.coverage" and f.check.part != "window")
            or (f.check.code == "fit.read-once" and ".behind[" in f.check.key)
        )
    ]  # fmt: skip
    window = any(bad[id_].check.part for id_ in ids if bad[id_].check.code == "fit.coverage")
    do = "Print the dummy and hold it in place" + (
        "; move the window its full travel, glass pushed toward it" if window else ""
    )
    why = Message("It shows all round what readings leave open; enter what came of it as stand_in")
    first = bad.get(ids[0]) if ids else None
    return NextStep(
        "print", names.get(subject, subject), Message(do), why, _TRY_MIN, tuple(ids), finding=first, part=part,
        machine_min=40.0,
    )  # fmt: skip


def _tasks(tasks: Sequence[Standing], *, blocked: bool) -> list[NextStep]:
    """Of the plan what can be begun now: agreed, bought; printed where nothing stops a part."""
    found = []
    for row in tasks:
        task, kind = row.task, _TASKS.get(row.task.id.partition("-")[0])
        if kind is None or row.state not in ("ready", "gated") or (blocked and kind != "confirm"):
            continue
        do, why = (Message("{words}", (("words", words, ""),)) for words in (task.title, task.why))
        found.append(NextStep(kind, "", do, why, task.minutes, (), machine_min=task.machine_min, task=task.id))
    return found


_TASKS: Mapping[str, Answer] = {"consent": "confirm", "shop": "buy", "print": "print"}
