"""Numbers as the person chose to see them, and the words at a clearance."""

from __future__ import annotations

from backwave.drawing.views import ClearanceView
from backwave.units import show


class Figures:
    """Writes lengths."""

    def __init__(self, system: str) -> None:
        self.system = system

    def bare(self, mm: float) -> str:
        """A length without its unit."""
        return show(mm, "mm", self.system, bare=True).replace("-", "\u2212")

    def full(self, mm: float) -> str:
        """A length with its unit, which stays on its line."""
        return show(mm, "mm", self.system).replace("-", "\u2212").replace(" ", "\u00a0")


def gap_words(c: ClearanceView, fmt: Figures) -> tuple[tuple[str, str], ...]:
    """Value, interval and margin, and what is wrong, as lines with their looks."""
    lines = [(f"{c.name} {fmt.full(c.value)}", "value-wrong" if c.verdict == "stop" else "value")]
    parts = [] if c.low is None or c.high is None else [f"{fmt.bare(c.low)} \u2026 {fmt.bare(c.high)}"]
    parts += [] if c.margin is None else [f"margin {fmt.bare(c.margin)}"]
    if parts:
        lines.append((", ".join(parts), "note"))
    if c.verdict != "ok" or c.note:
        lines.append((": ".join(p for p in (c.verdict if c.verdict != "ok" else "", c.note) if p), "note-wrong"))
    return tuple(lines)
