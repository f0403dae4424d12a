"""Flat parts on paper at 1:1, one PDF for all of a side's: the part, its layers, the foam ring, the card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import hypot

from backwave.drawing.template import HoleUse, TemplateHole, TemplateView, template_svg
from backwave.files.pdf import svg_pages_to_pdf
from backwave.part.flat_patterns import FlatPart
from backwave.shape import Outline, Point
from backwave.units import show

_CHORD = 0.02  # mm


def template_pdf(
    parts: Sequence[FlatPart],
    job: str,
    label: str,
    side: str,
    revision: str,
    paper: str = "A4",
    system: str = "metric",
    words: Sequence[str] = (),
) -> bytes:
    """Templates of several flat parts, each on sheets of its own."""
    pages: list[str] = []
    for part in parts:
        title = label if len(parts) == 1 else f"{label}: {part.name}"
        view = template_view(part, job, title, side, revision, system)
        pages += template_svg(replace(view, warnings=tuple(words)), paper, system=system)
    return svg_pages_to_pdf(pages, title=f"{job}: {label}" if job else label)


def template_view(
    part: FlatPart, job: str, label: str, side: str, revision: str, system: str = "metric"
) -> TemplateView:
    """One flat part as a template, its notes with "metric" or "us" figures."""
    kind: HoleUse = "drill" if part.made else "hole"
    circles = [(o, o.circle) for o in part.cut[1:]]
    holes = [_hole(part, c[0], c[1], 2.0 * c[2], "cut" if part.made else "hole") for _, c in circles if c is not None]
    holes += [_hole(part, x, y, d, kind) for x, y, d in part.drill]
    cuts = (part.cut[0], *(o for o, c in circles if c is None))
    marks = [run for p in part.pockets for o in (p.outline, *p.islands) for run in _closed(o)]
    depths = {(p.name, p.face, round(p.depth_mm, 3)) for p in part.pockets}
    notes = [f"{name}: {show(depth, 'mm', system)} deep from the {face}" for name, face, depth in sorted(depths)]
    notes += [words.format(size=show(size, "mm", system)) for words, size in part.notes]
    if part.shown:
        notes.append(
            "Lay it on the metal: the line of dashes and dots has to lie on the edge of the hole; nothing is cut there."
        )
    return TemplateView(
        job,
        label,
        side,
        revision[:8],
        cut_mm=tuple(_points(o) for o in cuts),
        holes=tuple(holes),
        mark_mm=tuple(marks),
        engrave_mm=part.engrave,
        seen_from="seen from the cabin" if part.lies else "either face",
        notes=(f"{part.name}: {show(part.thickness_mm, 'mm', system)} thick", *notes),
        shown_mm=tuple((name, _points(o)) for name, o in part.shown),
    )


def _hole(part: FlatPart, x: float, y: float, diameter: float, use: HoleUse) -> TemplateHole:
    whose = next((words for a, b, words in part.whose if hypot(a - x, b - y) < 0.01), "")
    return TemplateHole(x, y, diameter, use, whose)


def _points(outline: Outline) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in outline.points(_CHORD))


def _closed(outline: Outline) -> list[tuple[Point, ...]]:
    run = _points(outline)
    return [(*run, run[0])]
