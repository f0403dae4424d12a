"""Whether a harness does what its paths say, found by following its wires.

Wires, splices and mated contacts make nets; a crossover's output leads to its input, a part in line either way.  From
each terminal of a speaker every way upstream is followed to the pins of the sources; what is reached, and through
what, is held against the route.  Nothing here knows how the harness was generated."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Quantities, Verdict, check_of
from backwave.power.cable import GUESS_M, sizes_of
from backwave.power.harness import Harness, Route, Wire
from backwave.power.harness_leads import check_leads, wire_check
from backwave.stock import ConductorRow, Stock, shipped

_SHOWN = 4  # wires or pins named in one sentence


@dataclass(frozen=True)
class _Reach:
    """A pin of a source that a speaker's terminal comes to, and what lies between."""

    pin: str
    through: frozenset[str]
    backward: bool = False


class _Nets:
    """The harness as nets and what leads from one to the next."""

    def __init__(self, harness: Harness) -> None:
        self._over = {pin: pin for pin in harness.pins()}
        self.sources: dict[str, list[str]] = {}
        up: list[tuple[str, str, str]] = []  # from, to, name: toward the source
        back: list[tuple[str, str, str]] = []
        for device in harness.devices:
            pins = [f"{device.id}.{p}" for p in device.pins]
            if device.kind == "splice":
                self._join((pins[0], pin) for pin in pins)
            elif device.kind == "connector":
                for contact in dict.fromkeys(p.rpartition(" ")[0] for p in device.pins):
                    ends = f"{device.id}.{contact} in", f"{device.id}.{contact} out"
                    if contact in device.hides:
                        name = f"{device.id}.{contact}"
                        up += [(*ends, name), (*ends[::-1], name)]
                    else:
                        self._join((ends,))
            elif device.kind == "part":
                up += [(pins[0], pins[1], device.id), (pins[1], pins[0], device.id)]
            elif device.kind == "crossover":
                outputs = [(pin, f"{device.id}.in{pin[-1]}", pin) for pin in pins if pin[:-1] != f"{device.id}.in"]
                up += outputs
                back += [(end, start, name) for start, end, name in outputs]
        self._join((w.from_pin, w.to_pin) for w in harness.wires)
        self.members: dict[str, list[str]] = {}
        for pin in self._over:
            self.members.setdefault(self.net(pin), []).append(pin)
        for route in harness.routes:
            for pole in "+-":
                pin = route.source_pin(pole)
                known = self.sources.setdefault(self.net(pin), [])
                known += [pin] if pin not in known else []
        self._up, self._any = self._by_net(up), self._by_net([*up, *back])

    def net(self, pin: str) -> str:
        while self._over[pin] != pin:
            self._over[pin] = self._over[self._over[pin]]
            pin = self._over[pin]
        return pin

    def _join(self, pairs: Iterable[tuple[str, str]]) -> None:
        for a, b in pairs:
            self._over[self.net(a)] = self.net(b)

    def _by_net(self, steps: list[tuple[str, str, str]]) -> dict[str, list[tuple[str, str]]]:
        found: dict[str, list[tuple[str, str]]] = {}
        for start, end, name in steps:
            found.setdefault(self.net(start), []).append((self.net(end), name))
        return found

    def reach(self, pin: str) -> frozenset[_Reach]:
        """Everything upstream of a pin; against the sense of a crossover only where there is nothing else."""
        return self._walk(pin, self._up, False) or self._walk(pin, self._any, True)

    def _walk(self, pin: str, steps: dict[str, list[tuple[str, str]]], backward: bool) -> frozenset[_Reach]:
        start = (self.net(pin), frozenset[str]())
        seen, front, found = {start}, [start], set()
        while front:
            net, through = front.pop()
            found |= {_Reach(p, through, backward) for p in self.sources.get(net, ())}
            for end, name in steps.get(net, ()):
                step = (end, through | {name})
                if name not in through and step not in seen:
                    seen.add(step)
                    front.append(step)
        return frozenset(found)


def check_harness(harness: Harness, stock: Stock | None = None) -> tuple[Check, ...]:
    """Everything that is wrong with a harness, and an `ok` for each thing that is right."""
    nets = _Nets(harness)
    found = [*_pins(harness), *_ties(nets), *_grounded(harness, nets)]
    sides = {route.source_pin(pole): route.path.side for route in harness.routes for pole in "+-"}
    for route in harness.routes:
        found += _route(route, nets, sides)
        found += _protection(route, nets, harness)
        found += _hidden(route)
    found += _leads(harness, nets)
    found += check_leads(harness, stock or shipped())
    found += _lengths(harness.wires, stock or shipped())
    wrong = {check.code for check in found}
    return (*found, *(Check(code, "ok", Message(words)) for code, words in _RIGHT.items() if code not in wrong))


_RIGHT = {
    "wire.pin": "No contact holds two wires", "wire.open": "Every pin has its wire",
    "wire.short": "No two outputs are joined", "wire.poles": "Every driver has both poles on one output",
    "wire.polarity": "Plus comes from plus along every path",
    "wire.channel": "Every driver is on the output its path says", "wire.sides": "Left and right are not crossed",
    "wire.crossover": "Every driver is on its own output of its crossover",
    "wire.tweeter": "Every tweeter has its protection in its path",
    "wire.thin": "Every wire is rated for the fuse before it", "wire.fuse": "Every fuse of the plan is there",
    "wire.feed": "Supply, ground and turn-on leads join nothing else",
}  # fmt: skip


def _pins(harness: Harness) -> list[Check]:
    uses = Counter(pin for wire in harness.wires for pin in (wire.from_pin, wire.to_pin))
    found = []
    for pin in harness.pins():
        if uses[pin] > 1:
            wires = ", ".join(w.id for w in harness.wires if pin in (w.from_pin, w.to_pin))
            found.append(wire_check(
                "wire.pin", "caution", "{pin} holds {wires}: one contact, one wire",
                "Join them in a splice, or take off the one that does not belong", pin, pin=pin, wires=wires,
            ))  # fmt: skip
        elif not uses[pin]:
            found.append(
                wire_check("wire.open", "caution", "{pin} has no wire", "Wire it as the schedule says", pin, pin=pin)
            )
    return found


def _ties(nets: _Nets) -> list[Check]:
    return [
        wire_check(
            "wire.short", "stop", "{pins} are joined: an output works into a short",
            "Part them before anything is switched on", min(pins), pins=", ".join(sorted(pins)),
        )
        for pins in nets.sources.values()
        if len(pins) > 1
    ]  # fmt: skip


def _grounded(harness: Harness, nets: _Nets) -> list[Check]:
    """A leg of a speaker or an output on the body: a bridge output works into a short there."""
    kinds = {device.id: device.kind for device in harness.devices}
    outputs = {pin for pins in nets.sources.values() for pin in pins}
    found = []
    for pins in nets.members.values():
        body = next((p for p in pins if p.partition(".")[0] in ("ground", "body")), None)
        legs = sorted(
            p for p in pins if p in outputs or kinds[p.rpartition(".")[0]] in ("speaker", "crossover", "part")
        )
        if body is not None and legs:
            found.append(wire_check(
                "wire.short", "stop", "{legs} is joined to the body ({net}): both wires of a bridge output swing",
                "Part it before anything is switched on; both wires of a speaker go to its output", legs[0],
                legs=", ".join(legs), net=body,
            ))  # fmt: skip
    return found


def _route(route: Route, nets: _Nets, sides: Mapping[str, str]) -> list[Check]:
    """One speaker: what its two terminals reach against what they should."""
    name, path = route.speaker, route.path
    ends = {terminal: nets.reach(f"{name}.{terminal}") for terminal in "+-"}
    straight = path.polarity == 1
    wanted = {
        terminal: _Reach(route.source_pin(pole), frozenset(route.plus if pole == "+" else route.minus))
        for terminal, pole in (("+", "+" if straight else "-"), ("-", "-" if straight else "+"))
    }
    if all(ends[t] == {wanted[t]} for t in "+-"):
        return []

    def fault(code: str, words: str, remedy: str) -> Check:
        return wire_check(code, "caution", words, remedy, name, name=name, output=f"{path.source} {path.channel}")

    silent = [t for t in "+-" if not ends[t]]
    if silent:
        return [fault("wire.open", "Nothing reaches {name} " + " and ".join(silent), "Follow its wires from {output}")]
    if any(len({r.pin for r in ends[t]}) > 1 for t in "+-"):
        return []  # outputs are tied; said there
    plus, minus = (next(iter(ends[t])) for t in "+-")
    found = []
    if plus.pin == minus.pin or plus.pin[:-1] != minus.pin[:-1]:
        words = f"{{name}} hangs between {plus.pin} and {minus.pin}"
        two = plus.pin.partition(".")[0] != minus.pin.partition(".")[0]
        words += ": two amplifiers drive against each other through it" if two else ""
        said = fault("wire.poles", words, "Both of its wires go to {output}, before anything is switched on")
        found.append(replace(said, verdict="stop") if two else said)
    elif plus.pin[:-1] != wanted["+"].pin[:-1]:
        here = sides.get(plus.pin, "")
        if path.side and here and here != path.side:
            words = f"{{name}} plays the {here} side: it is on {plus.pin[:-1]}"
            found.append(
                fault("wire.sides", words, "Cross its wires over with the other side's: it belongs on {output}")
            )
        else:
            found.append(fault("wire.channel", f"{{name}} is on {plus.pin[:-1]}", "Its path says {output}"))
    elif plus.pin != wanted["+"].pin:
        words = "{name} is out of phase: its plus comes from " + plus.pin
        found.append(fault("wire.polarity", words, "Swap the two wires somewhere on its path, once"))
    if any({r.through for r in ends[t]} != {wanted[t].through} or any(r.backward for r in ends[t]) for t in "+-"):
        flipped = not found or found[-1].code != "wire.polarity"
        same = {t: {r.through for r in ends[t]} for t in "+-"} == {t: {wanted[u].through} for t, u in ("+-", "-+")}
        if any(r.backward for t in "+-" for r in ends[t]):
            found.append(fault(
                "wire.crossover", "{name} is fed through its crossover backward: input and output are swapped",
                "Input from the source, outputs to the drivers",
            ))  # fmt: skip
        elif flipped or not same:
            way = ", ".join(sorted({n for t in "+-" for r in ends[t] for n in r.through})) or "nothing"
            want = ", ".join((*route.plus, *route.minus)) or "nothing"
            words = f"{{name}} is reached through {way}, and should be through {want}"
            found.append(fault("wire.crossover", words, "Put its two wires on the output that bears its name"))
    return found


def _protection(route: Route, nets: _Nets, harness: Harness) -> list[Check]:
    """A tweeter must have, in one leg or the other, a capacitor on every way to a source."""
    if route.path.kind != "tweeter":
        return []
    blocks = frozenset[str]().union(*(r.blocks for r in harness.routes))
    ends = [nets.reach(f"{route.speaker}.{t}") for t in "+-"]
    if not all(ends) or any(all(r.through & blocks for r in end) for end in ends):
        return []
    verdict: Verdict = "caution"
    said = "{name} has only its active filter between it and the bass"
    remedy = "Keep a capacitor in line all the same: one wrong setting, or a thump at turn-on, burns it"
    if route.blocks or not route.path.protected:
        verdict, said = "stop", "{name} is reached with no capacitor in line that keeps the bass out: bass will burn it"
        remedy = "A capacitor in line before anything plays; an active high-pass counts from twice its resonance"
    return [wire_check("wire.tweeter", verdict, said, remedy, route.speaker, name=route.speaker)]


def _hidden(route: Route) -> list[Check]:
    found = []
    for plug in (route.path.first_plug, route.path.last_plug):
        if plug is None or plug.carries is None:
            continue
        said, remedy = "Hidden in plug {plug}, before {name}: {hidden}", ""
        if route.path.network or route.path.kind != "tweeter":
            said += ", beside the planned passive parts"
            remedy = "Bridge it inside the plug, or plan with it"
        names = (("plug", plug.id, ""), ("hidden", str(plug.carries), ""), ("name", route.speaker, ""))
        part = route.speaker if plug is route.path.plug else f"{route.speaker} {plug.id}"
        verdict: Verdict = "caution" if remedy else "ok"
        sources = (PRACTICE,) if remedy else ()
        found.append(check_of("wire.hidden", verdict, said, remedy, names, sources=sources, key="wire", part=part))
    return found


def _leads(harness: Harness, nets: _Nets) -> list[Check]:
    found = []
    for lead in harness.leads:
        ends = {f"{lead.from_device}.{lead.from_pin}", f"{lead.to_device}.{lead.to_pin}"}
        first, last = sorted(ends)
        strangers = sorted({p for end in ends for p in nets.members[nets.net(end)]} - ends)
        if strangers:
            found.append(wire_check(
                "wire.feed", "stop", "{lead} also joins {others}", "Part them before the battery goes back on", first,
                lead=f"The lead from {first} to {last}", others=", ".join(strangers),
            ))  # fmt: skip
        elif nets.net(first) != nets.net(last):
            found.append(wire_check(
                "wire.open", "caution", "Nothing joins {first} and {last}", "Wire it as the schedule says",
                f"{first} lead", first=first, last=last,
            ))  # fmt: skip
    return found


def _lengths(wires: Sequence[Wire], stock: Stock) -> list[Check]:
    """Lengths that nobody measured: asked for, with what the guess does."""
    missing = [w for w in wires if w.length_m is None]
    if not missing:
        return []
    areas = [w.area_mm2 for w in missing if w.area_mm2 is not None]
    area = min(areas, default=sizes_of(stock, "metric")[0].area_mm2)
    ohm = stock.named(ConductorRow)["copper"].resistivity_ohm_mm2_m / area
    names = ", ".join(w.id for w in missing[:_SHOWN]) + (" and more" if len(missing) > _SHOWN else "")
    numbers: Quantities = (
        ("count", f"{len(missing)}", ""), ("wires", names, ""), ("guess", GUESS_M, "m"), ("one", 1.0, "m"), ("ohm", 2 * ohm, "ohm"),
    )  # fmt: skip
    said = "{count} wires have no length ({wires}): {guess} is taken for each; {one} more or less is {ohm} on its pair"
    working = (
        CalculationLine("r", "resistance of a meter of pair", 2 * ohm, "ohm", "2 rho / A at 20 degC, IEC 60028"),
    )
    remedy = "Lay a string along the way and measure it"
    return [check_of("wire.length", "caution", said, remedy, numbers, working=working, key="wire")]
