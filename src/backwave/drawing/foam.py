"""Foam rings laid side by side on paper, the small ones inside the large."""

from __future__ import annotations

from collections.abc import Sequence

from backwave.drawing.template import TemplateHole, TemplateView


def foam_rings(view: TemplateView, rings: Sequence[tuple[str, float, float]], width_mm: float = 186.0) -> TemplateView:
    """The same title block with foam rings laid side by side."""
    holes: list[TemplateHole] = []
    x = y = row = 0.0
    free: list[tuple[float, float, float]] = []  # centers and diameters of empty bores
    for name, inner, outer in sorted(rings, key=lambda ring: -ring[2]):
        inside = next((f for f in free if f[2] >= outer + 4), None)
        if inside:
            free.remove(inside)
            cx, cy = inside[0], inside[1]
        else:
            if x > 0 and x + outer > width_mm:
                x, y, row = 0.0, y - row - 6, 0.0
            cx, cy = x + outer / 2, y - outer / 2
            x, row = x + outer + 6, max(row, outer)
        free.append((cx, cy, inner))
        holes += [
            TemplateHole(cx, cy, outer, "cut", f"{name}, outside"),
            TemplateHole(cx, cy, inner, "cut", f"{name}, inside"),
        ]
    return TemplateView(
        view.job, view.part, view.side, view.revision, view.date, (), tuple(holes), (), (), "either face", view.notes
    )
