"""Chapters that are drawn: the vehicle from above; sections, faces and parts with their dimensions; sheets at 1:1."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite
from typing import Any

from backwave.assess.above import above
from backwave.assess.placed import PlaceFit, PlacePart
from backwave.assess.sheets import flat_parts
from backwave.assess.solids import part_digest
from backwave.dossier.block import Block, Chapter, cell, facts, par, small, sub, table
from backwave.dossier.told import Told
from backwave.drawing import face_svg, plan_svg, section_svg, template_svg
from backwave.files.paper import template_view
from backwave.files.pdf import svg_size_mm

__all__ = ["drawings", "fasteners", "plan_picture", "sheets"]


def plan_picture(told: Told) -> str:
    """The vehicle from above, for a page that bears its name and verdict already."""
    view = replace(above(told.job, told.result), title="The vehicle from above", subtitle="front is up")
    return plan_svg(view, "paper", system=told.system)


def drawings(told: Told) -> list[Chapter]:
    """A chapter a place: its section with what it clears, its face with the part and its holes."""
    found = []
    left = list(told.result.parts)
    for n, place in enumerate(told.result.places):
        chapter = Chapter(told.name(place.subject))
        section = section_svg(place.section, "paper", system=told.system)
        chapter.draw(f"section{n}", section, share=_share(section, told, 0.68))
        chapter.blocks += _clearances(told, place)
        chapter.blocks.append({"kind": "break"})
        chapter.draw(f"face{n}", face_svg(place.face, "paper", system=told.system))
        part = next((p for p in left if p.subject == place.subject), None)
        if part is not None:
            left.remove(part)
            chapter.blocks += [sub(f"The part: {part.id}"), _facts(told, part, place), _holes(told, part)]
        found.append(chapter)
    return found


def _share(svg: str, told: Told, height: float) -> float:
    """So much of the text's width that a drawing takes no more than a part of the text's height."""
    wide, high = (173.0, 259.0) if told.paper == "A4" else (178.9, 241.4)
    _, tall = svg_size_mm(svg, wide)
    return min(1.0, height * high / tall)


def _clearances(told: Told, place: PlaceFit) -> list[Block]:
    fit = place.fit
    rows = [
        [c.name.replace(".", ", "), told.show(c.estimate.value, "mm"), f"{told.show(c.estimate.low, 'mm')} … {told.show(c.estimate.high, 'mm')}",
         told.show(c.worst_mm, "mm"), told.show(c.margin_mm, "mm"), _chance(c.chance_margin)]
        for c in fit.clearances
    ]  # fmt: skip
    if not rows:
        return [par("No clearance could be worked out: what it needs was not read.")]
    head = {"clearance": 1, "value": 0, "95 %": 0, "worst case": 0, "margin": 0, "keeps it with": 0}
    found = [table(head, rows, right=(1, 2, 3, 4, 5), tight=True)]
    if fit.chance_clear is not None and fit.chance_margin is not None:
        found.append(
            small(
                f"All of them clear with {_chance(fit.chance_clear)}, and keep their margins with "
                f"{_chance(fit.chance_margin)}, if no reading is a blunder."
            )
        )
    return found


def _chance(share: float) -> str:
    return "over 99.9 %" if share > 0.9995 else f"{100 * share:.1f} %"


def fasteners(told: Told) -> Chapter:
    """Foam and fasteners of all parts together."""
    rows = [
        [
            i.what,
            i.size,
            "as needed" if i.quantity is None else f"{i.quantity:g} {i.unit}".strip(),
            "; ".join(i.why),
            i.source,
        ]
        for i in told.working.items
        if i.group in ("Fasteners", "Foam")
    ]
    chapter = Chapter("Foam and fasteners")
    if rows:
        head = {"what": 1, "size": 1, "count": 0, "for": 1.5, "by": 1.1}
        chapter.blocks.append(table(head, rows, right=(2,), tight=True))
    else:
        chapter.blocks.append(par("No part: the job names no adapter yet, or what it needs is not measured."))
    return chapter


def _facts(told: Told, part: PlacePart, place: PlaceFit) -> dict[str, Any]:
    spec, mm = part.spec, told.show
    left, bottom, right, top = spec.outline.bounds_mm
    rows: list[tuple[str, Any]] = [
        (
            "material, process",
            f"{part.material.name}, " + ("layers of sheet" if hasattr(part.how, "layers_mm") else "printed"),
        ),
        ("outline over all", f"{mm(right - left, 'mm')} × {mm(top - bottom, 'mm')}"),
        ("thickness, bore", f"{mm(spec.thickness_mm, 'mm')}, Ø {mm(2 * spec.bore_mm, 'mm')}"),
        ("seat above the metal", mm(place.fit.seat_height_mm, "mm")),
    ]
    if place.clocking is not None:
        gap = place.clocking.gap_mm
        free = (
            f"; {mm(gap, 'mm')} left between its holes and the fixings"
            if gap is not None and isfinite(gap)
            else ""
        )
        rows.append(("driver turned by", f"{mm(place.clocking.angle_deg, 'deg')}{free}"))
    if place.ring is not None:
        ring = place.ring
        layers = " + ".join(mm(layer, "mm") for layer in ring.layers_mm)
        rows.append(
            (
                "foam ring in front",
                f"Ø {mm(ring.outer_mm, 'mm')} outside, Ø {mm(ring.inner_mm, 'mm')} inside, {mm(ring.free_mm, 'mm')} free "
                f"({layers}), {mm(ring.closed_mm, 'mm')} closed, {100 * ring.compression:.0f} % compressed",
            )
        )
    closed = place.section.adapter.back_closed_mm
    rows.append(("back gasket", f"{mm(closed, 'mm')} as closed" if closed else "none in the stack"))
    entry = told.entries.get(part.id)
    if entry is None:
        rows.append(("made", "not built yet from these numbers: backwave make"))
    else:
        mass = entry.get("mass_kg")
        print_ = entry.get("print") or {}
        words = [f"revision {part_digest(part)[:12]}"]
        words += [] if mass is None else [told.show(1000.0 * mass, "g")]
        words += [f"{print_['layers']} layers, about {print_['estimated_time_s'] / 3600:.1f} h"] if print_ else []
        rows.append(
            (
                "made",
                cell(", ".join(words), ", ".join(sorted(v.rpartition("/")[2] for v in entry["files"].values()))),
            )
        )
    return facts(rows)


def _holes(told: Told, part: PlacePart) -> dict[str, Any]:
    mm = told.show
    rows = [
        [f.name, mm(f.x_mm, "mm"), mm(f.y_mm, "mm"), f"Ø {mm(f.hole_mm, 'mm')}",
         f"counterbore Ø {mm(f.counterbore_mm, 'mm')}, {mm(f.counterbore_depth_mm, 'mm', 2)} deep" if f.counterbore_mm else ""]
        for f in part.spec.fixings
    ]  # fmt: skip
    rows += [
        [t.name, mm(t.x_mm, "mm"), mm(t.y_mm, "mm"), f"Ø {mm(t.hole_mm, 'mm')}",
         f"{t.size} {t.kind}" + (f", {mm(t.depth_mm, 'mm')} deep" if t.depth_mm else ", through")]
        for t in part.spec.threads
    ]  # fmt: skip
    return table({"hole": 1, "x": 0, "y": 0, "diameter": 0, "": 1.5}, rows, right=(1, 2, 3), tight=True)


def sheets(told: Told) -> tuple[list[dict[str, Any]], dict[str, str]]:
    """The 1:1 sheets of every part, each as big as the paper, with their drawings by key."""
    pages: list[dict[str, Any]] = []
    pictures: dict[str, str] = {}
    for part in told.result.parts:
        flats = flat_parts(part)
        for flat in flats:
            title = flat.name if part.label in flat.name else f"{part.label}: {flat.name}"
            view = template_view(flat, told.result.title, title, part.side, told.digest, told.system)
            view = replace(view, date=told.date)
            for svg in template_svg(view, told.paper, system=told.system):
                key = f"sheet{len(pages)}"
                width, height = svg_size_mm(svg)
                pages.append({"key": key, "width": width, "height": height})
                pictures[key] = svg
    return pages, pictures
