"""The checklist: every task that follows from the facts, from consent to hand-over, and why each is done.

Times are by experience (common trade practice) and meant to be edited; how long a machine runs is told by the facts.
Cautions defer to the vehicle maker's service information, to local codes and to licensed practice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import takewhile

from backwave.notation.wires import GAIN_GATE, PAIR_GATE
from backwave.plan.task import LoadFact, PartFact, PlaceFact, PlanInputs, StageFact, Task, ordered

_WHY = {
    "consent": "What is drilled stays drilled, and a scratch that nobody pictured before is yours afterwards.",
    "shop": "A fuse or a screw that is not there ends the day, and the shops are shut when it is missed.",
    "before": "Without a recording from before nobody can say afterwards what the work brought.",
    "battery-off": "A shorted lead burns, and airbags and belt tensioners can fire as long as they have power.",
    "strip": "Most damage is done here: clips pulled from the wrong side break, and by evening nobody knows the order.",
    "survey": "All that is made follows from these numbers, and now is the only time that the metal lies bare.",
    "again": "A single reading can be a slip; one taken afresh shows it before the part is made.",
    "identify": "Plus has to meet plus, and a pair taken for the speaker's may be an airbag's.",
    "quiet": "The metal beside the driver is shaken most, and nobody gets at it once trim and driver are on.",
    "try": "Ten minutes with card and a thin ring show what a print of hours would show too late.",
    "settle": "A part made against a stop is made twice, or breaks what it touches.",
    "print": "Once its first layers hold, the printer works by itself: the earlier it starts, the less anybody waits.",
    "cut": "A thick part comes from thin layers, and an edge that is not sealed swells in a wet door.",
    "inserts": "A screw holds in bare plastic a few times only; a metal thread holds whenever the door is opened again.",
    "foam": "What leaks past the ring takes mid-bass with it, and without a soft layer the part rattles on the metal.",
    "box": "A box that leaks is no longer the one that was computed, and one that is loose flies forward in a crash.",
    "network": "The network keeps from the tweeter what burns it; a coil that is loose hums and saws through its leads.",
    "fit": "A frame pulled down on one side bends, and the coil then rubs in its gap.",
    "wire": "Two doors joined the wrong way round cancel each other's bass; a loose joint comes apart where things move.",
    "cable": "A supply cable that is rubbed bare is a fire: it is guarded all the way and fused at the battery.",
    "mount": "A ground on paint or far away brings hum and lost voltage; a device that is loose flies forward in a crash.",
    "power": "Power on an open airbag circuit sets its warning lamp or worse; with the fuse last, no wrench meets current.",
    "gain": "Set too high, the amplifier clips long before the knob is at its end, and nobody sees why it sounds harsh.",
    "test": "A crossed wire or a buzz is mended in a minute while the trim is off, in an hour when it is on.",
    "trim": "Every clip that is left out becomes a rattle, a draft or water in the door.",
    "rattle": "Many rattles are rods, looms and clips, and only show when the trim is on.",
    "measure": "The ear forgets within a minute; a recording shows what the work brought and where the prediction was out.",
    "tune": "What is written down can be set again after the battery was off, and taken back where it was worse.",
    "again-taught": "Many vehicles forget radio, windows and steering angle while the battery is off.",
    "engine": "A whine that follows the engine, or a door out of phase, is what everybody hears first.",
    "asleep": "A battery that is flat on Monday is the commonest comeback: an amplifier that stays on, a control unit kept awake.",
    "warnings": "Chimes, parking tones and emergency calls often come through the very speakers that were changed.",
    "hand-over": "Whoever opens this door next has to know what is in it.",
}


def why(id_: str) -> str:
    """Why a task of the checklist is done; "" where nobody wrote it down."""
    return _WHY.get(id_) or _WHY.get(id_.partition("-")[0], "")


_AIRBAG = "Yellow leads, airbag and belt connectors are left alone; never a meter on them"
_IGNITION = "Ignition never on while an airbag or seat connector is open"
_GLASS = "Glass up and covered while drilling, down while trial fitting; eye protection"
_WINDOW = (
    "To move the window: every airbag and seat connector closed, nobody in front of an airbag, hands out of the door; "
    "then battery off again, and wait"
)
_PORTS = "No factory opening added or left open; the pressure sensor's port and the airbag's path stay free"
_PAIR = tuple(PAIR_GATE.values())
_LOUD = "Begin at -40 dB, limited to the driver's own band; ears away, ear protection for sweeps"


def checklist(facts: PlanInputs) -> tuple[Task, ...]:
    """The tasks that follow from the facts, in an order in which they can be done."""
    lead, helper = (*facts.people, *("lead", "helper")[len(facts.people) :])[:2]
    tasks = [replace(task, why=task.why or why(task.id)) for task in _Checklist(facts, lead, helper).tasks()]
    return ordered(tasks)


@dataclass(frozen=True)
class _Checklist:
    """The tasks of a job, part by part."""

    facts: PlanInputs
    lead: str
    helper: str

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
        yield from self._hand_over(done)

    def _before(self, earlier: tuple[StageFact, ...]) -> Iterator[Task]:
        phase, lead, first = "Before anything", self.lead, ["consent"]
        yield Task(
            "consent", "Agree in writing what is drilled, cut or kept, and picture the vehicle's condition", phase,
            lead, 20, tools=("phone",),
        )  # fmt: skip
        yield Task("shop", "Buy or find everything on the shopping list", phase, self.helper, 90)
        for stage in earlier:
            first.append(f"measure-{stage.id}")
            yield Task(
                f"measure-{stage.id}", f"Record the sweep at the seat: {stage.name}", phase, lead, 30, after=("consent",),
                tools=("recorder or phone",), cautions=(_LOUD,), why=why("before"),
            )  # fmt: skip
        if self.facts.loads:
            first.append("asleep-before")
            yield Task(
                "asleep-before", "Read what the vehicle draws asleep before anything is changed: doors and hood latched by hand, key away, "
                "wait 20 to 40 min; enter it under [hand_over]", phase, lead, 40, after=("consent",),
                tools=("multimeter or current clamp",),
                cautions=("Nobody starts the engine or switches anything heavy on through the meter",),
            )  # fmt: skip
        if self.facts.places or self.facts.loads:
            yield Task(
                "battery-off", "Write down the radio code, take every battery off (second batteries and converters too; capacitor banks "
                "discharged through a resistor and measured), wait as long as the vehicle maker says",
                phase, lead, 20, after=tuple(first), tools=("wrench",), gates=("Ignition off and the key out",),
                cautions=("No memory keeper while airbags are worked on", "Orange cable is not ours to touch"),
            )  # fmt: skip

    def _open(self, place: PlaceFact) -> Iterator[Task]:
        if place.zone == "box":
            return
        phase, door = f"Open up: {place.name}", place.zone == "door"
        count = "" if place.fasteners is None else f"; {place.fasteners} fixings hold the old speaker"
        yield Task(
            f"strip-{place.id}", f"Take the trim off; picture each step, bag and count screws and clips{count}", phase,
            self.lead, 30 if door else 20, after=("battery-off",), tools=("trim tools", "screwdrivers", "phone", "bags"),
            cautions=(_AIRBAG, _IGNITION),
        )  # fmt: skip
        yield Task(
            f"survey-{place.id}", "Measure and enter under Survey: hole, depth behind with the window up, half way and down, "
            "trim; picture the old speaker flat beside a ruler" if door else
            "Measure and enter under Survey: hole, depth behind, what is in front; picture the old speaker flat beside a ruler",
            phase, self.lead, 30 if door else 15, after=(f"strip-{place.id}",), tools=("caliper", "gauge", "tape", "phone"),
            cautions=(_WINDOW, _AIRBAG) if door else (_AIRBAG,),
        )  # fmt: skip
        for n, words in enumerate(place.again, 1):
            yield Task(
                f"again-{place.id}-{n}", words, phase, self.lead, 10, after=(f"survey-{place.id}",), tools=("gauge", "caliper"),
            )  # fmt: skip
        yield Task(
            f"identify-{place.id}", "Find the old speaker's two wires; note color, pin, plug, what hides in the plug",
            phase, self.helper, 15, after=(f"strip-{place.id}",), tools=("phone", "tape"), gates=_PAIR,
            cautions=(_AIRBAG, "Nothing is told from a resistance alone: an igniter reads like a speaker"),
        )  # fmt: skip
        if door:
            yield Task(
                f"quiet-{place.id}", "Damp the metal around the hole, tie loose looms and rods, refit the vapor barrier",
                phase, self.helper, 45, after=(f"strip-{place.id}",), tools=("roller", "gloves", "cleaner"),
                consumables=("damping sheet", "butyl tape", "loom tape"), cautions=(_PORTS, "Drain holes stay free"),
            )  # fmt: skip

    def _make(self, place: PlaceFact, part: PartFact) -> Iterator[Task]:
        phase, name, helper = f"Make: {part.name}", part.id, self.helper
        opened = (f"survey-{place.id}", *(f"again-{place.id}-{n}" for n in range(1, len(place.again) + 1)))
        marked = tuple(filter(None, (part.mark, part.fumes)))
        gates = ("Both bars of the sheet are as long as it says beside them",)
        dummy, door = " and the dummy" if part.stand_in else "", place.zone == "door"
        window = ", the window all the way up, half way and down" if door else ""
        yield Task(
            f"try-{name}", f"Try the test ring{dummy}, or the paper and card: outline, every hole{window}", phase, helper, 15,
            machine_min=40, after=opened, tools=("scissors", "marker"), consumables=("card",), gates=gates,
            cautions=(_GLASS, _WINDOW) if door else (),
        )  # fmt: skip
        last = f"try-{name}"
        if part.stopped:  # what is tried settles it; nothing else is begun
            yield Task(
                f"settle-{name}", "Settle what stops the part: enter what was tried and measured, then look at check again",
                phase, helper, 20, after=(last,), cautions=("The part is stopped: do not make it yet",),
            )  # fmt: skip
            return
        if part.process == "print":
            yield Task(
                f"print-{name}", f"Start the print in {part.material}; look at its first layers", phase, helper, 15,
                part.machine_min or 0.0, (last,), ("printer",), (f"{part.material} filament",),
                gates=("The test ring fitted",), cautions=marked,
            )  # fmt: skip
            last = f"print-{name}"
        else:
            yield Task(
                f"cut-{name}", f"Cut, drill and glue {part.layers} layers of {part.material}; seal every edge", phase,
                helper, 60 + 15 * part.layers, 0.0, (last,), ("saw or router", "drill", "clamps"),
                (f"{part.material} sheet", "glue", "sealer"), gates=gates,
                cautions=(*marked, "Eye and ear protection, dust mask"),
            )  # fmt: skip
            last = f"cut-{name}"
        if part.inserts:
            yield Task(
                f"inserts-{name}", f"Set {part.inserts} heat-set inserts {part.insert}, flush, straight; let them cool",
                phase, helper, 5 + 3 * part.inserts, 0.0, (last,), ("soldering iron with an insert tip",),
                (f"{part.inserts} inserts {part.insert}",), cautions=("Hot metal; plastic fumes: air",),
            )  # fmt: skip
            last = f"inserts-{name}"
        if part.ring or part.gasket:
            words = " and ".join(["the back gasket"] * part.gasket + ["the front ring"] * part.ring)
            yield Task(
                f"foam-{name}", f"Cut {words} to the template and stick on what lies on the part", phase, helper, 20,
                0.0, (last,), ("knife", "paper template"), ("closed-cell foam",), cautions=("Knife: cut away from you",),
            )  # fmt: skip

    def _stage(self, stage: StageFact, done: tuple[str, ...]) -> Iterator[Task]:
        phase = f"Stage: {stage.name}"
        if not _new(stage):
            yield from self._tune(stage, phase, done)
            return
        boxes = [
            Task(
                f"box-{stage.id}-{n}", f"Build the box ({box}), let the glue cure, fix it so that it stays in a crash",
                phase, self.lead, 180, 720, ("consent",), ("saw", "drill", "clamps"), ("sheet", "glue", "sealant"),
                gates=("Nothing is drilled where nobody has looked behind",), drills=True,
            )
            for n, box in enumerate(stage.boxes, 1)
        ]  # fmt: skip
        places = [place for place in self.facts.places if place.id in stage.places]
        loads = [load for load in self.facts.loads if load.id in stage.loads]
        before = (*done, *(task.id for task in boxes))
        tasks = [*boxes, *(task for place in places for task in self._fit(place, phase, before))]
        tasks += self._supply(stage, loads, phase, done) if loads else ()
        yield from tasks
        yield from self._prove(stage, loads, phase, tuple(task.id for task in tasks) or done, places)

    def _fit(self, place: PlaceFact, phase: str, done: tuple[str, ...]) -> Iterator[Task]:
        boxed, door = place.zone == "box", place.zone == "door"
        parts = {part.id: part for part in self.facts.parts}
        before = [*done, *(_last_of(parts[name]) for name in place.parts)]
        before += [] if boxed else [f"identify-{place.id}"]
        before += [f"quiet-{place.id}"] if door else []
        if place.network:
            yield Task(
                f"network-{place.id}", f"Build the passive network for {place.name}; fix its parts so that none can hum",
                phase, self.helper, 45, after=("shop",), tools=("soldering iron", "cable ties"),
                consumables=("network parts", "board", "heat-shrink"), cautions=("Hot iron: air, eye protection",),
            )  # fmt: skip
            before.append(f"network-{place.id}")
        yield Task(
            f"fit-{place.id}", f"Fit {place.driver} at {place.name}: "
            + ("gasket, adapter, driver, " if place.parts else "") + "screws by hand, then crosswise", phase, self.helper, 30,
            after=tuple(dict.fromkeys(before)), tools=("hand screwdriver",),
            cautions=() if boxed else (_GLASS, _PORTS) if door else (_AIRBAG,),
        )  # fmt: skip
        keep = "; its series capacitor stays in" if place.tweeter else ""
        yield Task(
            f"wire-{place.id}", f"Connect {place.name}: crimp, mark plus and minus" + ("" if boxed else f", keep the factory plug{keep}"),
            phase, self.lead, 20, after=(f"fit-{place.id}",), tools=("crimping tool", "meter"),
            consumables=("terminals", "heat-shrink", "loom tape"),
            gates=() if boxed else (PAIR_GATE["traced"], PAIR_GATE["not_yellow"]),
            cautions=("A drip loop before the driver",) if door else (),
        )  # fmt: skip

    def _supply(self, stage: StageFact, loads: list[LoadFact], phase: str, done: tuple[str, ...]) -> Iterator[Task]:
        before = ("battery-off", *done)
        if self.facts.battery and next(one.id for one in self.facts.stages if one.loads) == stage.id:
            yield Task(
                f"cable-{stage.id}", "Run the supply cable: grommet at every hole, tied down, away from signal leads",
                phase, self.lead, 120, after=before, tools=("fish wire", "crimping tool", "drill"),
                consumables=("cable", "conduit", "grommets", "cable ties"),
                gates=("Battery off", "The main fuse is out, and goes in last"), cautions=(_AIRBAG, _GLASS), drills=True,
            )  # fmt: skip
            before = (f"cable-{stage.id}",)
        for load in loads:
            words = f" (fuse {load.fuse})" if load.fuse else ""
            yield Task(
                f"mount-{load.id}", f"Fix {load.name} and connect ground, supply{words}, turn-on, signal", phase, self.helper,
                45, after=before, tools=("drill with depth stop", "file", "crimping tool"), consumables=("terminals",),
                gates=("Battery off", "Somebody has looked behind every hole before it is drilled"),
                cautions=("Tanks, lines and looms run under floors",), drills=True,
            )  # fmt: skip

    def _prove(
        self, stage: StageFact, loads: list[LoadFact], phase: str, ends: tuple[str, ...], places: list[PlaceFact]
    ) -> Iterator[Task]:
        lead, helper = self.lead, self.helper
        yield Task(
            f"power-{stage.id}", "Close every airbag and seat connector, then battery on"
            + (", main fuse last" if stage.loads else ""), phase, lead, 10, after=ends, tools=("wrench",),
            gates=("Every airbag and seat connector is closed", "Nobody sits in front of an airbag"),
            cautions=(_IGNITION,),
        )  # fmt: skip
        last = f"power-{stage.id}"
        names = ", ".join(name for load in loads for name in load.channels)
        if names:
            yield Task(
                f"gain-{stage.id}", f"Set the gain of {names} with a meter, as the supply page says", phase, lead, 30,
                after=(last,), tools=("meter", "ear protection"), gates=tuple(GAIN_GATE.values()),
                cautions=("Put the speakers back only with the gain down",),
            )  # fmt: skip
            last = f"gain-{stage.id}"
        yield Task(
            f"test-{stage.id}", "Before the trim goes back: which driver speaks on which channel, polarity, slow sweep",
            phase, lead, 30, after=(last,), tools=("phone", "1.5 V cell for woofers off their leads"),
            gates=("Each channel was heard by itself first",), cautions=(_LOUD,),
        )  # fmt: skip
        trims = [place for place in places if place.zone != "box"]
        for place in trims:
            yield Task(
                f"trim-{place.id}", f"Trim back on at {place.name}: pictures backwards, and no screw or clip left over", phase,
                helper, 30, after=(f"test-{stage.id}",), tools=("trim tools", "screwdrivers"),
                gates=("The bags come out even", "Vapor barrier and drain holes as they were"),
            )  # fmt: skip
        yield Task(
            f"rattle-{stage.id}", "Hunt rattles with the trim on: slow sweep, a hand on each zone", phase, helper, 20,
            after=tuple(f"trim-{place.id}" for place in trims) or (f"test-{stage.id}",), cautions=(_LOUD,),
        )  # fmt: skip
        yield from self._tune(stage, phase, (f"rattle-{stage.id}",))

    def _tune(self, stage: StageFact, phase: str, after: tuple[str, ...]) -> Iterator[Task]:
        yield Task(
            f"measure-{stage.id}", "Record the sweep at the seat and compare with what was predicted", phase, self.lead, 20,
            after=after, tools=("recorder or phone",), cautions=(_LOUD,),
        )  # fmt: skip
        yield Task(
            f"tune-{stage.id}", "Set crossovers, delays, levels and equalizer; write down every one", phase, self.lead, 45,
            after=(f"measure-{stage.id}",),
        )  # fmt: skip

    def _hand_over(self, done: tuple[str, ...]) -> Iterator[Task]:
        phase, lead, helper = "Hand over", self.lead, self.helper
        yield Task(
            "again-taught", "Radio code, window and steering relearned; clock set; no warning lamp stays lit", phase, lead,
            20, after=done,
        )  # fmt: skip
        yield Task(
            "engine", "Engine at 2000 rpm, volume low, lamps, fan and rear window heating on: no whine; both woofers mono, near each "
            "other: bass fuller than with one turned over. Enter both under [hand_over]", phase, helper, 15, after=("again-taught",),
            cautions=("Exhaust to the open air; hand brake on, gear out",),
        )  # fmt: skip
        yield Task(
            "asleep", "Current asleep, the commonest comeback: doors and hood latched by hand, key away, wait 20 to 40 min, read it as "
            "before the work; turn-on lead dead with the ignition off; enter both under [hand_over]", phase, lead, 45,
            after=("again-taught",), tools=("multimeter or current clamp",),
            cautions=("Nobody starts the engine or switches anything heavy on through the meter",),
        )  # fmt: skip
        yield Task(
            "warnings", "Every warning sounds: seat belt, parking, lights, phone, navigation, emergency call", phase, helper,
            15, after=("again-taught",), gates=("Whoever drives hears each of them",),
        )  # fmt: skip
        yield Task(
            "hand-over", "Hand over: dossier, factory parts in their bags, a label behind the trim", phase, lead, 30,
            after=("engine", "asleep", "warnings"),
        )  # fmt: skip


def _new(stage: StageFact) -> bool:
    return bool(stage.places or stage.loads or stage.boxes)


def _last_of(part: PartFact) -> str:
    if part.stopped:
        return f"settle-{part.id}"
    if part.ring or part.gasket:
        return f"foam-{part.id}"
    return f"inserts-{part.id}" if part.inserts else f"{'print' if part.process == 'print' else 'cut'}-{part.id}"
