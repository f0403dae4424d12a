"""The checklist: every task that follows from the facts, from consent to hand-over, in an order in which it can be done.

What each kind of task says, takes and needs stands in tasks.toml; here stands which follow, and what comes before each."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from itertools import takewhile
from pathlib import Path
from typing import Any

from backwave.notation.wires import GAIN_GATE, PAIR_GATE
from backwave.plan.task import LoadFact, PartFact, PlaceFact, PlanInputs, StageFact, Task, ordered


@cache
def _rows() -> dict[str, Any]:
    return tomllib.loads(Path(__file__).with_name("tasks.toml").read_text(encoding="utf-8"))


def why(id_: str) -> str:
    """Why a task of the checklist is done; "" where nobody wrote it down."""
    found = _rows().get(id_) or _rows().get(id_.partition("-")[0], {})
    return str(found.get("why", ""))


def checklist(facts: PlanInputs) -> tuple[Task, ...]:
    """The tasks that follow from the facts, in an order in which they can be done."""
    lead, helper = (*facts.people, *("lead", "helper")[len(facts.people) :])[:2]
    return ordered(list(_Checklist(facts, {"lead": lead, "helper": helper}).tasks()))


@dataclass(frozen=True)
class _Checklist:
    """The tasks of a job, part by part."""

    facts: PlanInputs
    people: dict[str, str]

    def task(self, kind: str, phase: str, after: Iterable[str] = (), of: str = "", id_: str = "", gates: Iterable[str] = (),
             cautions: Iterable[str] | None = None, **told: Any) -> Task:  # fmt: skip
        """A task of a kind, of something. `told`: what its words name, and minutes that follow from the facts."""
        row, words = _rows()[kind], _rows()["words"]

        def texts(key: str, more: Iterable[str] = ()) -> tuple[str, ...]:
            return tuple(words.get(text, text.format(**told)) for text in (*row.get(key, ()), *more))

        return Task(
            id_ or (f"{kind}-{of}" if of else kind), row["title"].format(**told), phase, self.people[row["who"]],
            told.get("minutes", row.get("minutes", 15)), told.get("machine_min", row.get("machine_min", 0.0)), tuple(after),
            texts("tools"), texts("consumables"), texts("gates", gates),
            texts("cautions") if cautions is None else tuple(words.get(text, text) for text in cautions),
            row.get("drills", False), why=row["why"],
        )  # fmt: skip

    def tasks(self) -> Iterator[Task]:
        facts, parts = self.facts, {part.id: part for part in self.facts.parts}
        # stages before anything is new: the vehicle as it came, to be recorded before it is opened
        earlier = tuple(takewhile(lambda stage: not _new(stage), facts.stages))
        whole = StageFact("all", "Everything", tuple(place.id for place in facts.places))
        yield from self._before(earlier)
        for place in facts.places:
            yield from self._open(place)
            for name in place.parts:
                yield from self._make(place, parts[name])
        done: tuple[str, ...] = ()
        for stage in facts.stages[len(earlier) :] or (whole,):
            new = [*self._stage(stage, done)]
            yield from new
            done = (new[-1].id,) if new else done
        phase = "Hand over"
        yield self.task("again-taught", phase, done)
        for kind in ("engine", "asleep", "warnings"):
            yield self.task(kind, phase, ("again-taught",))
        yield self.task("hand-over", phase, ("engine", "asleep", "warnings"))

    def _before(self, earlier: tuple[StageFact, ...]) -> Iterator[Task]:
        phase, first = "Before anything", ["consent"]
        yield self.task("consent", phase)
        yield self.task("shop", phase)
        for stage in earlier:
            first.append(f"measure-{stage.id}")
            yield self.task("before", phase, ("consent",), id_=f"measure-{stage.id}", stage=stage.name)
        if self.facts.loads:
            first.append("asleep-before")
            yield self.task("asleep-before", phase, ("consent",))
        if self.facts.places or self.facts.loads:
            yield self.task("battery-off", phase, first)

    def _open(self, place: PlaceFact) -> Iterator[Task]:
        if place.zone == "box":
            return
        phase, door, of = f"Open up: {place.name}", place.zone == "door", place.id
        count = "" if place.fasteners is None else f"; {place.fasteners} fixings hold the old speaker"
        stripped = (f"strip-{of}",)
        minutes: dict[str, Any] = {"minutes": 30} if door else {}
        yield self.task("strip", phase, ("battery-off",), of, count=count, **minutes)
        what = " with the window up, half way and down, trim" if door else ", what is in front"
        moved = ("window", "airbag") if door else None
        yield self.task("survey", phase, stripped, of, cautions=moved, what=what, **minutes)
        for n, words in enumerate(place.again, 1):
            yield self.task("again", phase, (f"survey-{of}",), f"{of}-{n}", words=words)
        yield self.task("identify", phase, stripped, of, gates=PAIR_GATE.values())
        if door:
            yield self.task("quiet", phase, stripped, of)

    def _make(self, place: PlaceFact, part: PartFact) -> Iterator[Task]:
        phase, name, door = f"Make: {part.name}", part.id, place.zone == "door"
        opened = (f"survey-{place.id}", *(f"again-{place.id}-{n}" for n in range(1, len(place.again) + 1)))
        marked = tuple(filter(None, (part.mark, part.fumes)))
        yield self.task(
            "try", phase, opened, name, cautions=("glass", "window") if door else (), dummy=" and the dummy" * part.stand_in,
            window=", the window all the way up, half way and down" if door else "",
        )  # fmt: skip
        if part.stopped:  # what is tried settles it; nothing else is begun
            yield self.task("settle", phase, (f"try-{name}",), name)
            return
        last, kind = (f"try-{name}",), "print" if part.process == "print" else "cut"
        if kind == "print":
            yield self.task(
                kind, phase, last, name, cautions=marked, material=part.material, machine_min=part.machine_min or 0.0
            )
        else:
            guard = (*marked, "Eye and ear protection, dust mask")
            yield self.task(
                kind, phase, last, name, cautions=guard, material=part.material, layers=part.layers,
                minutes=60 + 15 * part.layers,
            )  # fmt: skip
        last = (f"{kind}-{name}",)
        if part.inserts:
            minutes = 5 + 3 * part.inserts
            yield self.task("inserts", phase, last, name, inserts=part.inserts, insert=part.insert, minutes=minutes)
            last = (f"inserts-{name}",)
        if part.ring or part.gasket:
            what = " and ".join(["the back gasket"] * part.gasket + ["the front ring"] * part.ring)
            yield self.task("foam", phase, last, name, what=what)

    def _stage(self, stage: StageFact, done: tuple[str, ...]) -> Iterator[Task]:
        phase = f"Stage: {stage.name}"
        if not _new(stage):
            yield from self._tune(stage, phase, done)
            return
        boxes = [
            self.task("box", phase, ("consent",), f"{stage.id}-{n}", box=box) for n, box in enumerate(stage.boxes, 1)
        ]
        places = [place for place in self.facts.places if place.id in stage.places]
        loads = [load for load in self.facts.loads if load.id in stage.loads]
        before = (*done, *(task.id for task in boxes))
        tasks = [*boxes, *(task for place in places for task in self._fit(place, phase, before))]
        tasks += self._supply(stage, loads, phase, done) if loads else ()
        yield from tasks
        yield from self._prove(stage, loads, phase, tuple(task.id for task in tasks) or done, places)

    def _fit(self, place: PlaceFact, phase: str, done: tuple[str, ...]) -> Iterator[Task]:
        boxed, door, of = place.zone == "box", place.zone == "door", place.id
        parts = {part.id: part for part in self.facts.parts}
        before = [*done, *(_last_of(parts[name]) for name in place.parts)]
        before += [] if boxed else [f"identify-{of}"]
        before += [f"quiet-{of}"] if door else []
        if place.network:
            yield self.task("network", phase, ("shop",), of, place=place.name)
            before.append(f"network-{of}")
        yield self.task(
            "fit", phase, dict.fromkeys(before), of, cautions=() if boxed else ("glass", "ports") if door else ("airbag",),
            driver=place.driver, place=place.name, first="gasket, adapter, driver, " if place.parts else "",
        )  # fmt: skip
        keep = "; its series capacitor stays in" if place.tweeter else ""
        yield self.task(
            "wire", phase, (f"fit-{of}",), of, gates=() if boxed else (PAIR_GATE["traced"], PAIR_GATE["not_yellow"]),
            cautions=("A drip loop before the driver",) if door else (), place=place.name,
            keep="" if boxed else f", keep the factory plug{keep}",
        )  # fmt: skip

    def _supply(self, stage: StageFact, loads: list[LoadFact], phase: str, done: tuple[str, ...]) -> Iterator[Task]:
        before = ("battery-off", *done)
        if self.facts.battery and next(one.id for one in self.facts.stages if one.loads) == stage.id:
            yield self.task("cable", phase, before, stage.id)
            before = (f"cable-{stage.id}",)
        for load in loads:
            yield self.task(
                "mount", phase, before, load.id, load=load.name, fuse=f" (fuse {load.fuse})" if load.fuse else ""
            )

    def _prove(
        self, stage: StageFact, loads: list[LoadFact], phase: str, ends: tuple[str, ...], places: list[PlaceFact]
    ) -> Iterator[Task]:
        of = stage.id
        yield self.task("power", phase, ends, of, fuse=", main fuse last" if stage.loads else "")
        last = f"power-{of}"
        if names := ", ".join(name for load in loads for name in load.channels):
            yield self.task("gain", phase, (last,), of, gates=GAIN_GATE.values(), names=names)
            last = f"gain-{of}"
        yield self.task("test", phase, (last,), of)
        trims = [place for place in places if place.zone != "box"]
        for place in trims:
            yield self.task("trim", phase, (f"test-{of}",), place.id, place=place.name)
        yield self.task("rattle", phase, tuple(f"trim-{place.id}" for place in trims) or (f"test-{of}",), of)
        yield from self._tune(stage, phase, (f"rattle-{of}",))

    def _tune(self, stage: StageFact, phase: str, after: tuple[str, ...]) -> Iterator[Task]:
        yield self.task("measure", phase, after, stage.id)
        yield self.task("tune", phase, (f"measure-{stage.id}",), stage.id)


def _new(stage: StageFact) -> bool:
    return bool(stage.places or stage.loads or stage.boxes)


def _last_of(part: PartFact) -> str:
    if part.stopped:
        return f"settle-{part.id}"
    if part.ring or part.gasket:
        return f"foam-{part.id}"
    return f"inserts-{part.id}" if part.inserts else f"{'print' if part.process == 'print' else 'cut'}-{part.id}"
