"""The harness as a diagram: devices in columns from source to speaker, wires at right angles, nothing over anything.

Layered drawing: a device stands one column right of all that feed it; a wire that passes a column has a slot of its
own in it; columns are ordered by the middle of their neighbors (Sugiyama, Tagawa and Toda 1981), each device is set
level with what feeds it where that is free.  Between two columns every wire runs out of its pin under its own label,
down or up a track of its own, and into its pin; tracks are shared where their spans keep apart (left-edge rule,
Hashimoto and Stevens 1971).  No two pins that face each other across a gap are level unless one wire joins them, so
no two wires lie on one line; they cross at right angles, and what crosses is not joined.

On paper it is never set smaller than its capitals can be read (ISO 3098-1: 1.8 mm is the least nominal size): what does
not fit a page so is first drawn apart where no wire joins, then laid over several, which overlap so that every text
stands whole on one of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Set
from dataclasses import dataclass, field
from math import ceil
from typing import TYPE_CHECKING

from backwave.drawing.callouts import foot, heading
from backwave.drawing.sheet import Sheet, SpreadPage, to_svg, windows
from backwave.drawing.styles import LEAST_SCALE, Theme, text_width, wrap
from backwave.finding import worst
from backwave.power.harness import Device, Wire

if TYPE_CHECKING:
    from backwave.assess.power.results import Harnessed

PITCH = 20.0  # from pin to pin; every pin stands on a half of it
EDGE, PAD, TRACK, STUB = 24.0, 7.0, 9.0, 12.0
LINE = 15.5  # from line to line in a box
LOOK = {"splice": "hollow", "connector": "band-edge", "crossover": "body-trim", "part": "body-foam"}


TITLE = "Harness: what goes to what"
NOTE = "On each wire: its color (IEC 60757) and size; its name is that of the pin it feeds. (there): the vehicle's own."
Pin = tuple[str, str]  # a device and its pin


@dataclass(frozen=True)
class _Line:
    start: Pin
    end: Pin
    label: str
    wrong: bool  # something is to be looked at


@dataclass
class _Slot:
    """A device in its column, or a wire passing through it (no box)."""

    name: str
    column: int
    box: Device | None
    left: list[str] = field(default_factory=list)
    right: list[str] = field(default_factory=list)
    top: float = 0.0
    wide: float = 0.0
    head: float = 0.0

    @property
    def tall(self) -> float:
        return self.head + PITCH * max(len(self.left), len(self.right), 1)

    def y(self, pin: str, side: str) -> float:
        return self.top + self.head + PITCH * ((self.left if side == "left" else self.right).index(pin) + 0.5)


@dataclass
class _Run:
    start: Pin
    end: Pin
    line: _Line
    first: bool
    track: int = 0


def harness_svg(made: Harnessed, subtitle: str, theme: Theme = "light") -> str:
    return to_svg(harness_sheet(made, subtitle), theme)


def harness_sheet(made: Harnessed, subtitle: str, only: Set[str] | None = None, which: str = "") -> Sheet:
    """The diagram as a display list; as wide as it needs. `only`: ids of the devices it shows, None for all; `which`:
    what tells it apart from the other sheets, after the title."""
    verdict = worst([f.check.verdict for f in made.findings]) if made.begun else "caution"
    devices = [d for d in made.harness.devices if only is None or d.id in only]
    slots, gaps, loops = _layered(devices, _lines(made, {d.id for d in devices}))
    columns = _ordered(slots, gaps)
    _leveled(columns, gaps)
    for runs in gaps:
        _tracks(runs, slots)
    widths = [max((s.wide for s in column), default=0.0) for column in columns]
    rooms = [_room(runs) for runs in gaps]
    width = max(2 * EDGE + sum(widths) + sum(rooms), 900.0)
    sheet = Sheet(width, 100.0, TITLE + which)
    top = heading(sheet, sheet.title, subtitle, verdict, made.plate, "", False) + 26
    x = EDGE + max(0.0, (width - 2 * EDGE - sum(widths) - sum(rooms)) / 2)
    lefts = []
    for n, wide in enumerate(widths):
        lefts.append(x)
        x += wide + (rooms[n] if n < len(rooms) else 0.0)
    for n, runs in enumerate(gaps):
        _draw_gap(sheet, slots, runs, lefts[n] + widths[n], lefts[n + 1], top)
    for column, left, wide in zip(columns, lefts, widths):
        for slot in column:
            _draw_slot(sheet, slot, left, wide, top)
    bottom = max((s.top + s.tall for column in columns for s in column), default=0.0)
    loose = [f"Not drawn: {line.label or 'a wire'} joins two pins of {line.start[0]}" for line in loops]
    foot(sheet, ("Lines that cross are not joined; joints are splices.", *loose, NOTE), top + bottom + 16, EDGE)
    return sheet


def _lines(made: Harnessed, devices: Set[str]) -> list[_Line]:
    pins = {f"{d.id}.{pin}": (d.id, pin) for d in made.harness.devices for pin in d.pins}
    wrong = {f.check.part for f in made.findings if f.check.verdict != "ok"}
    colors = {row.id: row.color for row in made.schedule}
    return [
        _Line(pins[w.from_pin], pins[w.to_pin], _label(w, colors[w.id]), w.id in wrong)
        for w in made.harness.wires
        if pins[w.from_pin][0] in devices
    ]


def _label(wire: Wire, color: str) -> str:
    size = "" if wire.area_mm2 is None else f"{wire.area_mm2:g}"
    return " ".join(part for part in (color, size, "(there)" if wire.there else "") if part)


def _layered(devices: list[Device], every: list[_Line]) -> tuple[dict[str, _Slot], list[list[_Run]], list[_Line]]:
    """Slots with their columns, the runs across each gap, and wires from a device to itself."""
    loops = [line for line in every if line.start[0] == line.end[0]]
    lines = [line for line in every if line.start[0] != line.end[0]]
    column = _columns(devices, lines)
    slots = {box.id: _Slot(box.id, column[box.id], box) for box in devices}
    gaps: list[list[_Run]] = [[] for _ in range(max(column.values(), default=0))]
    for n, line in enumerate(lines):
        start, end = line.start, line.end
        if column[start[0]] > column[end[0]]:
            start, end = end, start
        for slot, side, pin in ((slots[start[0]], "right", start[1]), (slots[end[0]], "left", end[1])):
            pins = slot.right if side == "right" else slot.left
            if pin not in pins:
                pins.append(pin)
        at = start
        for k in range(column[start[0]] + 1, column[end[0]]):
            name = f"\0{n}.{k}"
            slots[name] = _Slot(name, k, None, [""], [""])
            gaps[k - 1].append(_Run(at, (name, ""), line, at is start))
            at = (name, "")
        gaps[column[end[0]] - 1].append(_Run(at, end, line, at is start))
    for slot in slots.values():
        if slot.box is not None:
            _sized(slot, slot.box)
    return slots, gaps, loops


def _sized(slot: _Slot, box: Device) -> None:
    """Pins in the device's own order, one that no wire ends at on the left; room for its words."""
    order = {pin: n for n, pin in enumerate(box.pins)}
    slot.left += [pin for pin in box.pins if pin not in slot.left and pin not in slot.right]
    slot.left.sort(key=lambda p: order.get(p, 0))
    slot.right.sort(key=lambda p: order.get(p, 0))
    across = max((text_width(p, "note") for p in slot.left), default=0.0)
    across += max((text_width(p, "note") for p in slot.right), default=0.0)
    names = [text_width(part, "letter") for part in _name(box)]
    lines = len(_name(box)) + len(_about(box))
    slot.head = PITCH * ceil((LINE * lines + 4) / PITCH)
    about = [text_width(part, "note") for part in _about(box)]
    slot.wide = max([across + 3 * PAD, *(w + 2 * PAD for w in (*names, *about)), 46.0])


def _name(box: Device) -> list[str]:
    return wrap(box.id, "letter", 150.0)


def _about(box: Device) -> list[str]:
    return [line for words in box.words.split("; ") for line in wrap(words, "note", 150.0)]


def _columns(devices: list[Device], lines: list[_Line]) -> dict[str, int]:
    """Longest way from a device that nothing feeds; a wire that closes a circle counts backward."""
    after: dict[str, list[str]] = {box.id: [] for box in devices}
    for line in lines:
        after[line.start[0]].append(line.end[0])
    state: dict[str, int] = {}
    order: list[str] = []
    for root in after:
        stack = [(root, iter(after[root]))] if root not in state else []
        state.setdefault(root, 1)
        while stack:
            name, rest = stack[-1]
            nxt = next((n for n in rest if n not in state), None)
            if nxt is None:
                order.append(name)
                state[name] = 2
                stack.pop()
            else:
                state[nxt] = 1
                stack.append((nxt, iter(after[nxt])))
    rank = {name: n for n, name in enumerate(reversed(order))}
    before: dict[str, list[str]] = defaultdict(list)
    forward: dict[str, list[str]] = defaultdict(list)
    for a, ends in after.items():
        for b in ends:
            low, high = (a, b) if rank[a] < rank[b] else (b, a)
            before[high].append(low)
            forward[low].append(high)
    column: dict[str, int] = {}
    for name in sorted(rank, key=rank.__getitem__):
        column[name] = max((column[p] + 1 for p in before[name]), default=0)
    # What nothing feeds stands right before what it feeds, so that its wires are short.
    for name in sorted(rank, key=rank.__getitem__, reverse=True):
        if not before[name] and forward[name]:
            column[name] = min(column[n] for n in forward[name]) - 1
    return column


def _ordered(slots: dict[str, _Slot], gaps: list[list[_Run]]) -> list[list[_Slot]]:
    """Columns from top to bottom, by the middle of their neighbors, from either side in turn."""
    columns: list[list[_Slot]] = [[] for _ in range(len(gaps) + 1)]
    for slot in slots.values():
        columns[slot.column].append(slot)
    left: dict[str, list[tuple[str, str]]] = defaultdict(list)
    right: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for runs in gaps:
        for run in runs:
            left[run.end[0]].append(run.start)
            right[run.start[0]].append(run.end)
    for sweep in range(6):
        forward = sweep % 2 == 0
        near = left if forward else right
        for k in range(1, len(columns)) if forward else range(len(columns) - 2, -1, -1):
            other = columns[k - 1 if forward else k + 1]
            place = {s.name: n for n, s in enumerate(other)}

            means = {}
            for n, slot in enumerate(columns[k]):
                at = []
                for name, pin in near[slot.name]:
                    pins = slots[name].right if forward else slots[name].left
                    at.append(place[name] + (pins.index(pin) + 1) / (len(pins) + 1))
                means[slot.name] = sum(at) / len(at) if at else float(n)
            columns[k] = [slot for _, _, slot in sorted((means[s.name], n, s) for n, s in enumerate(columns[k]))]
    return columns


def _leveled(columns: list[list[_Slot]], gaps: list[list[_Run]]) -> None:
    """Heights: level with what feeds a slot where that is free, never level with what does not."""
    below = 0.0
    for slot in columns[0]:
        slot.top = below
        below += slot.tall + PITCH
    for k, runs in enumerate(gaps):
        slots = {s.name: s for s in (*columns[k], *columns[k + 1])}
        feeds: dict[str, list[_Run]] = defaultdict(list)
        fans: dict[tuple[str, str], set[tuple[str, str]]] = defaultdict(set)
        for run in runs:
            feeds[run.end[0]].append(run)
            fans[run.start].add(run.end)
        starts: dict[float, set[tuple[str, str]]] = defaultdict(set)
        for slot in columns[k]:
            for pin in slot.right:
                starts[slot.y(pin, "right")].add((slot.name, pin))
        free: float | None = None
        for slot in columns[k + 1]:
            slot.top = 0.0
            mine = sorted(slots[r.start[0]].y(r.start[1], "right") - slot.y(r.end[1], "left") for r in feeds[slot.name])
            level = mine[(len(mine) - 1) // 2] if mine else free or 0.0
            slot.top = level if free is None else max(free, level)
            joined: dict[str, set[tuple[str, str]]] = defaultdict(set)
            for run in feeds[slot.name]:
                joined[run.end[1]].add(run.start)
            # a contact of several wires is level with none that has several: one's way out would lie on another's way in
            alone = {p: {a for a in at if len(at) == 1 or len(fans[a]) == 1} for p, at in joined.items()}
            while any(starts.get(slot.y(pin, "left"), set()) - alone.get(pin, set()) for pin in slot.left):
                slot.top += PITCH / 2
            free = slot.top + slot.tall + PITCH
    everything = [slot for column in columns for slot in column]
    highest = min((slot.top for slot in everything), default=0.0)
    for slot in everything:
        slot.top -= highest


def _tracks(runs: list[_Run], slots: dict[str, _Slot]) -> None:
    """A track for each run that is not straight: the first whose spans keep clear of it."""
    spans: list[list[tuple[float, float]]] = []
    ends = [(r, slots[r.start[0]].y(r.start[1], "right"), slots[r.end[0]].y(r.end[1], "left")) for r in runs]
    for run, a, b in sorted(ends, key=lambda e: (e[2] > e[1], -e[1] if e[2] > e[1] else e[1])):
        if a == b:
            run.track = -1
            continue
        low, high = min(a, b), max(a, b)
        for n, taken in enumerate(spans):
            if all(high < other[0] or low > other[1] for other in taken):
                run.track = n
                taken.append((low, high))
                break
        else:
            run.track = len(spans)
            spans.append([(low, high)])


def _labels(runs: list[_Run]) -> dict[tuple[str, str], tuple[str, bool]]:
    """What stands on the way out of each pin, and whether something is wrong: two wires in one contact share it."""
    found: dict[tuple[str, str], tuple[str, bool]] = {}
    for run in runs:
        if run.first and run.line.label:
            before, wrong = found.get(run.start, ("", False))
            found[run.start] = (f"{before}, {run.line.label}" if before else run.line.label, wrong or run.line.wrong)
    return found


def _label_room(runs: list[_Run]) -> float:
    return max((text_width(text, "note") for text, _ in _labels(runs).values()), default=0.0) + 2 * PAD


def _room(runs: list[_Run]) -> float:
    return _label_room(runs) + TRACK * (1 + max((r.track for r in runs), default=0)) + STUB


def _draw_gap(sheet: Sheet, slots: dict[str, _Slot], runs: list[_Run], left: float, right: float, top: float) -> None:
    """Wires of one gap; the columns' boxes may be narrower than their column, so wires reach to them."""
    room = _label_room(runs)
    for run in runs:
        start, end = slots[run.start[0]], slots[run.end[0]]
        a, b = start.y(run.start[1], "right") + top, end.y(run.end[1], "left") + top
        look = "wrong" if run.line.wrong else "line"
        x = left + room + TRACK * run.track
        points = [(left, a), (right, b)] if run.track < 0 else [(left, a), (x, a), (x, b), (right, b)]
        sheet.line(points, look)
    for (name, pin), (text, wrong) in _labels(runs).items():
        y = slots[name].y(pin, "right") + top - 4.5
        sheet.words(left + PAD, y, text, "note-wrong" if wrong else "note")


def _draw_slot(sheet: Sheet, slot: _Slot, left: float, wide: float, top: float) -> None:
    y = slot.top + top
    if slot.box is None:
        middle = y + slot.tall / 2
        sheet.line(((left, middle), (left + wide, middle)), "line")
        return
    sheet.box(left, y, left + wide, y + slot.tall, LOOK.get(slot.box.kind, "plate"))
    at = y + 3
    for look, parts in (("letter", _name(slot.box)), ("note", _about(slot.box))):
        for part in parts:
            at += LINE
            sheet.words(left + wide / 2, at - 2, part, look, "middle")
    for pin in slot.left:
        sheet.words(left + PAD * 0.6, slot.y(pin, "left") + top + 4, pin, "note")
    for pin in slot.right:
        sheet.words(left + wide - PAD * 0.6, slot.y(pin, "right") + top + 4, pin, "note", "end")


def harness_pages(
    made: Harnessed, subtitle: str, width_mm: float, height_mm: float, theme: Theme = "paper"
) -> tuple[SpreadPage, ...]:
    """The diagram as pieces that fit a page and can be read."""

    def drawn(names: Set[str], which: str = "") -> Sheet:
        return harness_sheet(made, subtitle, names, which)

    def fits(names: Set[str]) -> bool:
        sheet = drawn(names)
        return sheet.width * LEAST_SCALE <= width_mm and sheet.height * LEAST_SCALE <= height_mm

    groups: list[set[str]] = []  # as many of those that no wire joins on a page as fit it
    for group in [whole] if fits(whole := {d.id for d in made.harness.devices}) else _apart(made):
        if groups and fits(groups[-1] | group):
            groups[-1] |= group
        else:
            groups.append(group)
    found: list[SpreadPage] = []
    for n, group in enumerate(groups, 1):
        which = "" if len(groups) == 1 else f" ({n} of {len(groups)})"
        found += windows(drawn(group, which), width_mm, height_mm, theme)
    return tuple(found)


def _apart(made: Harnessed) -> list[set[str]]:
    """Ids of devices, those together that wires join."""
    names = [d.id for d in made.harness.devices]
    apart = [{name} for name in names]
    for line in _lines(made, set(names)):
        joined = [group for group in apart if group & {line.start[0], line.end[0]}]
        joined[0].update(*joined[1:])  # the first of them stays where it is
        apart = [group for group in apart if group not in joined[1:]]
    return apart
