"""The wiring beside the harness's diagram: the supply as a tree, and the faces of kept plugs.

The supply: battery, fuses, cables, distribution, loads, each run with its size and what it does; a row a branch, deeper
branches farther right; fuses as rectangles with the line through them (IEC 60617-7).  A plug's face is seen from the side
where the wires go in, with what each contact carries."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

from backwave.drawing.callouts import MARGIN, foot, heading
from backwave.drawing.dimensions import verdict_mark
from backwave.drawing.sheet import Point, Sheet, to_svg
from backwave.drawing.styles import TEXTS, Theme, text_width, wrap
from backwave.finding import Verdict, worst
from backwave.notation.measures import wire_size
from backwave.power import CableChoice, FuseChoice, Node
from backwave.units import show

if TYPE_CHECKING:
    from backwave.assess import Wires
    from backwave.assess.power.results import PlugFace


PLATES: dict[Verdict, str] = {
    "ok": "every cable outlasts its fuse",
    "caution": "look again",
    "stop": "do not switch it on",
}
NOTES = (
    "Each fuse saves the cable behind it; the one at the battery sits as near to it as it can.",
    "Vehicle maker's service information, local codes and licensed practice come first.",
)
_PITCH = TEXTS["note"].size * 1.35


def size_words(cable: CableChoice, system: str) -> str:
    """Which size is bought or there, and whether the nearest of the other series will do in its place."""
    size = wire_size(cable.size, system)
    if not size:
        return "no size will do"
    other = f"AWG {cable.awg}" if cable.awg and "AWG" not in cable.size and system == "metric" else ""
    if cable.given:
        return f"{size}, there already" + (f"; {other} would do" if other and cable.fails else "")
    return f"{size} (or AWG {cable.awg})" if other else size


def fuse_words(fuse: FuseChoice) -> str:
    """Rating, style and color of a fuse."""
    if fuse.rating_a is None:
        return "none will do"
    return " ".join(filter(None, (f"{fuse.rating_a:g} A", fuse.style, fuse.color)))


def supply_svg(
    wires: Wires, title: str, theme: Theme = "light", *, compact: bool = False, system: str = "metric"
) -> str:
    return to_svg(supply_sheet(wires, title, compact=compact, system=system), theme)


def supply_sheet(wires: Wires, title: str, *, compact: bool = False, system: str = "metric") -> Sheet:
    """The supply as a display list, its branches under their job's title."""
    by_subject: dict[str, list[Verdict]] = {}
    for finding in wires.findings:
        by_subject.setdefault(finding.subject, []).append(finding.check.verdict)
    verdict = worst([v for verdicts in by_subject.values() for v in verdicts])
    s = Sheet(390.0 if compact else 1000.0, 100.0, "Supply, from the battery outward")
    edge = 14.0 if compact else 24.0
    y = heading(s, s.title, title, verdict, PLATES[verdict], "", compact) + 28
    # battery: two plates, the long one positive (IEC 60617-6)
    left = edge + 8
    for n, line in enumerate(wrap(_battery(wires, system), "label", s.width - 2 * edge - 50)):
        bottom = y + 12 + n * 17
        s.words(left + 34, bottom, line, "label")
    s.line(((left - 8, y), (left + 24, y)), "edge")
    s.line(((left, y + 8), (left + 16, y + 8)), "edge")
    s.line(((left + 8, y + 8), (left + 8, y + 22)), "line")
    s.words(left - 8, y - 6, "+", "letter")
    y = max(y + 30, bottom + 12)
    trunk = {"": (left + 8, y - 8)}  # where the children of each branch start: the upright under its end
    for node in _ordered(wires.tree.nodes):
        judged = worst(by_subject.get(node.id, []))
        y, trunk[node.id] = _branch(s, wires, node, judged, system, trunk[node.parent], y, edge)
    foot(s, NOTES, y + 8, edge)
    return s


def _battery(wires: Wires, system: str) -> str:
    supply = wires.supply
    said = ["battery"]
    said += [show(supply.battery_v, "V", system)] if supply.battery_v is not None else []
    said += [f"{supply.capacity_ah:g} Ah"] if supply.capacity_ah is not None else []
    return ", ".join(said)


def _ordered(nodes: tuple[Node, ...]) -> list[Node]:
    """Each branch followed by what hangs on it."""
    found: list[Node] = []

    def down(parent: str) -> None:
        for node in nodes:
            if node.parent == parent:
                found.append(node)
                down(node.id)

    down("")
    return found


def _branch(
    s: Sheet, wires: Wires, node: Node, verdict: Verdict, system: str, start: Point, y: float, edge: float
) -> tuple[float, Point]:
    """One branch with its texts, from the upright it starts at; its bottom, and where its own children start."""
    cable, peak = node.cable, wires.peaks[-1]  # engine running, where anything is known of that
    volts = next((load.volts for load in peak.loads if load.name == node.load), None)
    doing = [f"sized for {show(cable.current_a, 'A', system)}"]
    doing += [f"drops {show(cable.drop_v, 'V', system)}"] if cable.drop_v is not None else []
    doing += [f"conductor {show(cable.conductor_degc, 'degC', system)}"] if cable.conductor_degc is not None else []
    ends = [] if volts is None else [f"{show(volts, 'V', system)} at rated power, engine {peak.engine}"]
    fuse = [f"fuse {fuse_words(node.fuse)}"] if node.fitted else []
    size = f"{size_words(cable, system)}, {show(cable.length_m, 'm', system)}"

    x0 = start[0]
    above = [line for text in (*fuse, size) for line in wrap(text, "label", s.width - edge - x0 - 12)]
    for n, line in enumerate(above):
        s.words(x0 + 12, y + 12 + n * 17, line, "label")
    middle = y + len(above) * 17 + 12
    s.line((start, (x0, middle)), "line")
    end = x0 + (66.0 if s.width < 400.0 else 104.0)
    s.line(((x0, middle), (end, middle)), "edge" if verdict == "ok" else "wrong-wide")
    if node.fitted:
        s.box(x0 + 14, middle - 5, x0 + 38, middle + 5, "hollow")
        s.line(((x0 + 14, middle), (x0 + 38, middle)), "line")
    s.box(end, middle - 6, end + 12, middle + 6, "hollow-edge" if node.load else "solid")
    at = end + 20
    if verdict != "ok":
        verdict_mark(s, at + 8, middle, 18, verdict)
        at += 24
    names = wrap(node.load or node.id, "value", s.width - edge - at)
    for n, line in enumerate(names):
        s.words(at, middle + 5 + n * 19, line, "value")
    below = middle + 5 + (len(names) - 1) * 19
    notes = [line for text in (*ends, ", ".join(doing)) for line in wrap(text, "note", s.width - edge - at)]
    for n, line in enumerate(notes):
        s.words(at, below + (n + 1) * _PITCH + 2, line, "note")
    return below + len(notes) * _PITCH + 18, (end + 6, middle + 6)


CELL, LINE = 34.0, 17.0
FACES_NOTE = "Faces as seen from the side where the wires go in; the numbers molded on the plug outrank this order."


def faces_svg(faces: tuple[PlugFace, ...], title: str, theme: Theme = "light", compact: bool = False) -> str:
    return to_svg(faces_sheet(faces, title, compact), theme)


def faces_sheet(faces: tuple[PlugFace, ...], title: str, compact: bool = False) -> Sheet:
    """Faces of connectors as a display list, one below the other."""
    grid = CELL * max((_across(face) for face in faces), default=1)
    wide = max(390.0, 2 * MARGIN + grid) if compact else max(720.0, 2 * MARGIN + grid + 460.0)
    sheet = Sheet(wide, 100.0, title)
    y = MARGIN
    for line in wrap(title, "title", sheet.width - 2 * MARGIN):
        y += 27
        sheet.words(MARGIN, y - 4, line, "title")
    for face in faces:
        y += 30
        for line in wrap(face.name, "value", sheet.width - 2 * MARGIN):
            sheet.words(MARGIN, y, line, "value")
            y += 20
        below = _grid(sheet, face, y)
        x = MARGIN if compact else MARGIN + grid + 24
        y = below + 4 if compact else y
        for pin in face.in_order:
            top = y
            room = sheet.width - MARGIN - x - 40
            for look, left, text, wide in (("letter", x, pin.number, 36), ("label", x + 40, pin.words, room)):
                at = top
                for line in wrap(text, look, wide):
                    at += LINE
                    sheet.words(left, at - 4, line, look)
                y = max(y, at)
        y = max(below, y) + 10
    foot(sheet, (FACES_NOTE,), y + 6, MARGIN)
    return sheet


def _across(face: PlugFace) -> int:
    return ceil(face.contacts / face.rows)


def _grid(sheet: Sheet, face: PlugFace, top: float) -> float:
    """The contacts in their rows; one whose number is a word takes the next free place.  Its bottom."""
    named = {pin.number for pin in face.pins}
    odd = iter(sorted(name for name in named if name not in {str(n + 1) for n in range(face.contacts)}))
    for n in range(face.contacts):
        left, upper = MARGIN + CELL * (n % _across(face)), top + CELL * (n // _across(face))
        number = str(n + 1) if str(n + 1) in named else next(odd, str(n + 1))
        used = number in named
        sheet.box(left, upper, left + CELL, upper + CELL, "band-edge" if used else "band-faint")
        short = number if text_width(number, "letter") < CELL - 4 else "\u2026"
        sheet.words(left + CELL / 2, upper + CELL / 2 + 4, short, "letter" if used else "tick", "middle")
    return top + CELL * ceil(face.contacts / _across(face))
