"""How far each task is: done, running, ready, or what it waits for."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from backwave.plan.task import Task


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
                task,
                task.id in done,
                tuple(name for name in task.after if name not in done),
                tuple((words, (task.id, words) in gates) for words in task.gates),
                task.drills and not consent,
                own,
                (minutes or {}).get(task.id, round(sum(ended), 2) if ended else None),
            )
        )
    return tuple(found)


def todays_cautions(rows: Iterable[Standing]) -> tuple[str, ...]:
    """Where it can hurt in what is done now or next, each once."""
    now = [row.task for row in rows if row.state in ("running", "ready", "gated")]
    return tuple(dict.fromkeys(caution for task in now for caution in task.cautions))
