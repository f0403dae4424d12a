"""The harness generated from paths and from what factory plugs carry; nobody types two hundred wires.

    source - splice - [plug before] - crossover or part in line - [plug after] - speaker

One crossover box serves all paths of one output that need more than parts in line; parts in line (a tweeter's
capacitor) are devices of their own, or hidden in a plug.  A reversed path crosses over at the speaker.

A wire is named for the pin it feeds, so that its name stays when paths are added.  What a person has recorded (`given`) outranks what was generated: a given wire between the pins of a generated one
lends it its id, color and length (the length to its twin, too); any other takes the place of the generated wires on its two pins.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from backwave.notation.wires import WireColor
from backwave.power.harness import (
    Device,
    Harness,
    Kind,
    Lead,
    PathSpec,
    Plug,
    PlugConflictError,
    Route,
    Wire,
    blocks_bass,
)


def harness_of(paths: Sequence[PathSpec], given: Sequence[Wire] = (), leads: Sequence[Lead] = ()) -> Harness:
    """The harness of some paths. `paths`: one an output and speaker; several on one output are in parallel;
    PlugConflictError: plugs that disagree; UnknownPinError: given wires at pins that are none; InputError: names used
    twice."""
    build = _Build(tuple(w.id for w in given))
    groups: dict[tuple[str, str], list[int]] = {}
    for n, path in enumerate(paths):
        groups.setdefault((path.source, path.channel), []).append(n)
        build.pin(path.source, "source", f"{path.channel}+", f"{path.channel}-")
    for lead in leads:
        build.pin(lead.from_device, "supply", lead.from_pin)
        build.pin(lead.to_device, "supply", lead.to_pin)
    names = speaker_ids(paths)
    boxes = _box_ids(paths, groups)
    routes: dict[int, Route] = {}
    for key, members in groups.items():
        _wire_group(build, key, [(n, paths[n], names[n]) for n in members], boxes.get(key, ""), routes)
    for lead in leads:
        build.wire(
            f"{lead.from_device}.{lead.from_pin}", f"{lead.to_device}.{lead.to_pin}", color=lead.color,
            length_m=lead.length_m, area_mm2=lead.area_mm2, fuse_a=lead.fuse_a, stands_a=lead.stands_a,
            behind_a=lead.behind_a,
        )  # fmt: skip
    ends = {(lead.from_device, lead.from_pin): lead for lead in leads}
    for (device, pin), lead in ends.items():
        other = ends.get((device, f"{pin[:-1]}-")) if pin.endswith("+") else None
        if other is not None:
            both = [frozenset((f"{device}.{n.from_pin}", f"{n.to_device}.{n.to_pin}")) for n in (lead, other)]
            build.twins |= dict(zip(both, reversed(both)))
    order: tuple[Kind, ...] = ("supply", "source", "splice", "connector", "crossover", "part", "speaker")
    devices = sorted(build.devices.values(), key=lambda d: order.index(d.kind))
    wires = _merged(build.wires, given, build.twins)
    return Harness(tuple(devices), wires, tuple(routes[n] for n in range(len(paths))), tuple(leads))


class _Build:
    """Devices and wires being put together."""

    def __init__(self, taken: Iterable[str]) -> None:
        self.devices: dict[str, Device] = {}
        self.wires: list[Wire] = []
        self.twins: dict[frozenset[str], frozenset[str]] = {}
        self._taken = set(taken)

    def pin(self, device: str, kind: Kind, *pins: str, words: str = "", hides: tuple[str, ...] = ()) -> None:
        old = self.devices.get(device) or Device(device, kind, ())
        fresh = tuple(p for p in pins if p not in old.pins)
        said = "; ".join(dict.fromkeys(w for w in (old.words, words) if w))
        self.devices[device] = replace(old, pins=old.pins + fresh, words=said, hides=old.hides + hides)

    def wire(self, start: str, end: str, **facts: float | bool | WireColor | None) -> None:
        name = _named(end)
        while name in self._taken:
            name += "-own"
        self._taken.add(name)
        self.wires.append(Wire(name, start, end, **facts))  # type: ignore[arg-type]  # Wire checks them

    def pair(
        self,
        start: dict[str, str],
        end: dict[str, str],
        colors: tuple[WireColor | None, WireColor | None] = (None, None),
        **facts: float | bool | None,
    ) -> None:
        """The two wires of a pair, which run together."""
        ends = [frozenset((start[pole], end[pole])) for pole in "+-"]
        self.twins |= dict(zip(ends, reversed(ends)))
        for pole, color in zip("+-", colors):
            self.wire(start[pole], end[pole], color=color, **facts)


def _named(pin: str) -> str:
    """The name of the wire that feeds a pin: letters, digits and hyphens alone, as ids in a job are."""
    said = re.sub(r"[+-](?=$|[. ])", lambda pole: " plus " if pole[0] == "+" else " minus ", pin)
    return re.sub(r"[^A-Za-z0-9_]+", "-", said).strip("-")


def _wire_group(
    build: _Build, key: tuple[str, str], members: list[tuple[int, PathSpec, str]], box: str, routes: dict[int, Route]
) -> None:
    """Everything on one output."""
    source, channel = key
    boxed = [m for m in members if box and not _in_line(m[1])]
    plugs = {m[1].first_plug for m in boxed} - {None}
    if len(plugs) > 1:
        raise PlugConflictError(
            f"plug before {box}", sorted(p.id for p in plugs if p), "one plug that feeds the whole box"
        )
    consumers = len(members) - len(boxed) + bool(boxed)
    if consumers > 1:
        for pole in "+-":
            pins = [str(n + 1) for n in range(consumers + 1)]
            build.pin(f"splice {source} {channel}{pole}", "splice", *pins)
        build.pair(
            {pole: f"{source}.{channel}{pole}" for pole in "+-"},
            {pole: f"splice {source} {channel}{pole}.1" for pole in "+-"},
            area_mm2=members[0][1].area_mm2,
        )
    used = 1

    def tap() -> dict[str, str]:
        nonlocal used
        used += 1
        if consumers == 1:
            return {pole: f"{source}.{channel}{pole}" for pole in "+-"}
        return {pole: f"splice {source} {channel}{pole}.{used}" for pole in "+-"}

    if boxed:
        path = next((m[1] for m in boxed if m[1].first_plug is not None), boxed[0][1])
        start, hidden = _plugged(build, tap(), path, path.first_plug)
        outputs = _unique([m[1].kind for m in boxed], [m[2] for m in boxed])
        said = (f"{output}: {', '.join(map(str, m[1].network))}" for m, output in zip(boxed, outputs))
        build.pin(box, "crossover", "in+", "in-", words="; ".join(said))
        build.pair(start, {pole: f"{box}.in{pole}" for pole in "+-"}, area_mm2=path.area_mm2)
        for (n, member, speaker), output in zip(boxed, outputs):
            build.pin(box, "crossover", f"{output}+", f"{output}-")
            out = {pole: f"{box}.{output}{pole}" for pole in "+-"}
            blocks = {f"{box}.{output}+"} if any(blocks_bass(b, member.most_farad) for b in member.network) else set()
            legs = {pole: [*hidden[pole], f"{box}.{output}{pole}"] for pole in "+-"}
            blocks |= _hidden_blocks(path.first_plug, member.most_farad)
            routes[n] = _finish(build, member, speaker, out, legs, blocks)
    for n, path, speaker in members:
        if any(n == m[0] for m in boxed):
            continue
        out, legs = _plugged(build, tap(), path, path.first_plug)
        blocks = _hidden_blocks(path.first_plug, path.most_farad)
        if path.network:
            part = f"part {speaker}"
            build.pin(part, "part", "in", "out", words=" + ".join(b.words for b in path.network))
            build.wire(out["+"], f"{part}.in", area_mm2=path.area_mm2)
            out["+"] = f"{part}.out"
            legs["+"].append(part)
            if any(blocks_bass(b, path.most_farad) for b in path.network):
                blocks.add(part)
        routes[n] = _finish(build, path, speaker, out, legs, blocks)


def _finish(
    build: _Build, path: PathSpec, speaker: str, out: dict[str, str], legs: dict[str, list[str]], blocks: set[str]
) -> Route:
    """The last run: a plug at the end where there is one, and the speaker."""
    plug = path.last_plug
    out, hidden = _plugged(build, out, path, plug, path.length_m)
    legs = {pole: [*legs[pole], *hidden[pole]] for pole in "+-"}
    build.pin(speaker, "speaker", "+", "-", words=path.speaker)
    terminal = {pole: pole if path.polarity == 1 else "-" if pole == "+" else "+" for pole in "+-"}
    build.pair(
        out, {pole: f"{speaker}.{terminal[pole]}" for pole in "+-"}, area_mm2=path.area_mm2,
        boot=path.boot and path.plug is None,
        length_m=path.length_m if plug is None else plug.adapter_m,
    )  # fmt: skip
    return Route(
        path, speaker, tuple(legs["+"]), tuple(legs["-"]), frozenset(blocks | _hidden_blocks(plug, path.most_farad))
    )


def _plugged(
    build: _Build, start: dict[str, str], path: PathSpec, plug: Plug | None, length_m: float | None = None
) -> tuple[dict[str, str], dict[str, list[str]]]:
    """Through a plug, where there is one; and what is hidden in it, by its leg."""
    if plug is None:
        return dict(start), {"+": [], "-": []}
    contact = {"+": plug.plus, "-": plug.minus}
    pins = [f"{contact[pole]} {end}" for pole in "+-" for end in ("in", "out")]
    if plug.id in build.devices and set(pins) & set(build.devices[plug.id].pins):
        raise PlugConflictError(
            f"contacts of plug {plug.id}", ", ".join(contact.values()), "contacts no other path uses"
        )
    words = "; ".join(str(said) for said in (plug.carries, plug.words) if said)
    build.pin(plug.id, "connector", *pins, words=words, hides=(plug.hidden,) if plug.hidden else ())
    build.pair(
        start, {pole: f"{plug.id}.{contact[pole]} in" for pole in "+-"}, (plug.color_plus, plug.color_minus) if plug.there else (None, None),
        area_mm2=plug.area_mm2 if plug.there else path.area_mm2, boot=path.boot and plug is path.plug, there=plug.there, length_m=length_m,
    )  # fmt: skip
    out = {pole: f"{plug.id}.{contact[pole]} out" for pole in "+-"}
    return out, {pole: [f"{plug.id}.{plug.hidden}"] if plug.carries and plug.at == pole else [] for pole in "+-"}


def _hidden_blocks(plug: Plug | None, most_farad: float) -> set[str]:
    if plug is None or plug.carries is None or not blocks_bass(plug.carries, most_farad):
        return set()
    return {f"{plug.id}.{plug.hidden}"}


def _in_line(path: PathSpec) -> bool:
    return all(branch.place == "series" for branch in path.network)


def speaker_ids(paths: Sequence[PathSpec]) -> list[str]:
    """Ids of the speakers' devices, in the order of the paths."""
    plain = [f"{p.place}-{p.side}" if p.side else p.place for p in paths]
    return _unique(plain, [f"{name}-{p.kind}" for name, p in zip(plain, paths)])


def _unique(short: Sequence[str], long: Sequence[str]) -> list[str]:
    """The short name for the first that bears it, the long one for the next, numbered from the third on. What is added
    later takes no name away from what was there."""
    found: list[str] = []
    for brief, name in zip(short, long):
        names = (brief, name, *(f"{name}-{n}" for n in range(2, len(short) + 2)))
        found.append(next(one for one in names if one not in found))
    return found


def _box_ids(paths: Sequence[PathSpec], groups: dict[tuple[str, str], list[int]]) -> dict[tuple[str, str], str]:
    keys = [key for key, members in groups.items() if not all(_in_line(paths[n]) for n in members)]
    sides = [paths[groups[key][0]].side for key in keys]
    short = [f"crossover-{side}" if side else f"crossover {' '.join(key)}" for key, side in zip(keys, sides)]
    return dict(zip(keys, _unique(short, [f"crossover {' '.join(key)}" for key in keys])))


def _merged(
    made: Sequence[Wire], given: Sequence[Wire], twins: Mapping[frozenset[str], frozenset[str]]
) -> tuple[Wire, ...]:
    """What was generated, with what a person recorded in its place."""
    by_pins = {_ends(w): w for w in given}
    pairs = {_ends(w) for w in made}
    odd = [w for w in given if _ends(w) not in pairs]
    odd += [w for w in given if w not in odd and by_pins[_ends(w)] is not w]
    taken = {pin for w in odd for pin in (w.from_pin, w.to_pin)}
    kept: list[Wire] = []
    for wire in made:
        mine = by_pins.get(_ends(wire))
        twin = by_pins.get(twins.get(_ends(wire), frozenset()))
        length = wire.length_m if twin is None else twin.length_m or wire.length_m
        if mine is not None:
            kept.append(replace(
                wire, id=mine.id, color=mine.color or wire.color, boot=mine.boot or wire.boot,
                length_m=mine.length_m or length, area_mm2=mine.area_mm2 or wire.area_mm2,
                fuse_a=mine.fuse_a or wire.fuse_a, stands_a=mine.stands_a or _stands(mine, wire),
            ))  # fmt: skip
        elif not taken & {wire.from_pin, wire.to_pin}:
            kept.append(replace(wire, length_m=length))
    return (*kept, *odd)


def _stands(mine: Wire, made: Wire) -> float | None:
    """What a generated wire was rated for holds for the recorded one only where that is as thick."""
    return made.stands_a if mine.area_mm2 in (None, made.area_mm2) else None


def _ends(wire: Wire) -> frozenset[str]:
    return frozenset((wire.from_pin, wire.to_pin))
