"""The supply as a tree: battery, fuses, cables, distribution, loads, each run with its size and what it does.

Fuses as rectangles with the line through them (IEC 60617-7).  A row a branch, deeper branches farther right.
"""

from __future__ import annotations

from dataclasses import dataclass

from backwave.drawing.callouts import foot, heading
from backwave.drawing.dimensions import verdict_mark
from backwave.drawing.sheet import Sheet, to_svg
from backwave.drawing.styles import TEXTS, Theme, wrap
from backwave.finding import Verdict

_PITCH = TEXTS["note"].size * 1.35


@dataclass(frozen=True)
class SupplyRun:
    """One branch."""

    id: str  # its name, and that of the branch it starts at the end of ("" is the battery)
    parent: str
    name: str  # what a person calls its end
    load: bool  # A load ends it; else a distribution
    cable: str  # above the line and below it: "25 mm², 0.4 m", "0.09 V, 56 °C"
    doing: str
    fuse: str  # at its head: "80 A strip"; "" where the one before protects it
    end: str  # under the name of its end: "14.1 V engine running"
    verdict: Verdict  # the worst of its findings


@dataclass(frozen=True)
class SupplyView:
    """All branches."""

    title: str  # heading and one line under it
    subtitle: str
    verdict: Verdict  # the worst of all, and a word on it
    verdict_text: str
    battery: str  # what stands in the battery: "12.6 V, 60 Ah"
    runs: tuple[SupplyRun, ...]  # parents before children
    notes: tuple[str, ...] = ()


def supply_svg(view: SupplyView, theme: Theme = "light", *, compact: bool = False) -> str:
    """The supply as SVG."""
    return to_svg(supply_sheet(view, compact=compact), theme)


def supply_sheet(view: SupplyView, *, compact: bool = False) -> Sheet:
    """The supply as a display list."""
    s = Sheet(390.0 if compact else 1000.0, 100.0, view.title)
    edge = 14.0 if compact else 24.0
    y = heading(s, view.title, view.subtitle, view.verdict, view.verdict_text, "", compact) + 28
    # battery: two plates, the long one positive (IEC 60617-6)
    left = edge + 8
    for n, line in enumerate(wrap(view.battery, "label", s.width - 2 * edge - 50)):
        s.words(left + 34, y + 12 + n * 17, line, "label")
        bottom = y + 12 + n * 17
    s.line(((left - 8, y), (left + 24, y)), "edge")
    s.line(((left, y + 8), (left + 16, y + 8)), "edge")
    s.line(((left + 8, y + 8), (left + 8, y + 22)), "line")
    s.words(left - 8, y - 6, "+", "letter")
    y = max(y + 30, bottom + 12)
    step = 26.0 if compact else 64.0
    trunk = {"": (left + 8, y - 8)}  # where the children of each branch start: the upright under its end
    for run in _ordered(view.runs):
        x0, start = trunk[run.parent]
        y = _run(s, run, x0, start, y, step, edge, trunk)
    foot(s, view.notes, y + 8, edge)
    return s


def _ordered(runs: tuple[SupplyRun, ...]) -> list[SupplyRun]:
    """Each branch followed by what hangs on it."""
    found: list[SupplyRun] = []

    def down(parent: str) -> None:
        for run in runs:
            if run.parent == parent:
                found.append(run)
                down(run.id)

    down("")
    return found


def _run(
    s: Sheet,
    run: SupplyRun,
    x0: float,
    start: float,
    y: float,
    step: float,
    edge: float,
    trunk: dict[str, tuple[float, float]],
) -> float:
    """One branch with its texts, from an upright at x0; the bottom of it."""
    wide = s.width - edge - x0 - 12
    above = [
        line for text in (run.fuse and f"fuse {run.fuse}", run.cable) if text for line in wrap(text, "label", wide)
    ]
    middle = y + len(above) * 17 + 12
    for n, line in enumerate(above):
        s.words(x0 + 12, y + 12 + n * 17, line, "label")
    s.line(((x0, start), (x0, middle)), "line")
    end = x0 + step + 40
    fuse = x0 + 14
    s.line(((x0, middle), (end, middle)), "edge" if run.verdict == "ok" else "wrong-wide")
    if run.fuse:
        s.box(fuse, middle - 5, fuse + 24, middle + 5, "hollow")
        s.line(((fuse, middle), (fuse + 24, middle)), "line")
    look = "hollow-edge" if run.load else "solid"
    s.box(end, middle - 6, end + 12, middle + 6, look)
    at = end + 20
    if run.verdict != "ok":
        verdict_mark(s, at + 8, middle, 18, run.verdict)
        at += 24
    names = wrap(run.name, "value", s.width - edge - at)
    for n, line in enumerate(names):
        s.words(at, middle + 5 + n * 19, line, "value")
    below = middle + 5 + (len(names) - 1) * 19
    notes = [line for text in (run.end, run.doing) if text for line in wrap(text, "note", s.width - edge - at)]
    for n, line in enumerate(notes):
        s.words(at, below + (n + 1) * _PITCH + 2, line, "note")
    trunk[run.id] = (end + 6, middle + 6)
    return below + len(notes) * _PITCH + 18
