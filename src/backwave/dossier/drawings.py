"""Chapters that are drawn: the vehicle from above; sections, faces and parts with their dimensions; sheets at 1:1."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import isfinite
from typing import Any

from backwave.assess import PartOrder, PlaceResult, charts
from backwave.assess.next_steps import grouped
from backwave.assess.part_release import part_digest
from backwave.assess.proof.charts import proof_charts
from backwave.assess.result import above
from backwave.dossier.context import Chapter, PageContext, kept
from backwave.drawing.chart import chart_svg
from backwave.drawing.face import face_svg
from backwave.drawing.harness import harness_pages
from backwave.drawing.part import hole_names, part_svg
from backwave.drawing.plan_view import plan_svg
from backwave.drawing.section import section_svg
from backwave.drawing.template import template_svg
from backwave.drawing.wiring import faces_svg, supply_svg
from backwave.errors import BuildError
from backwave.files.flat_files import template_view
from backwave.files.pdf import svg_size_mm
from backwave.finding import in_a_word
from backwave.plain_text import file_stem
from backwave.report import proof, sound
from backwave.report import wires as report
from backwave.report.blocks import Block, Cell, beside, cell, facts, figure, par, small, sub, table, title_block, wide
from backwave.report.work import shopping

NEXT = "Try its dummy and its test ring and enter what they did."


def plan_picture(told: PageContext) -> str:
    """The vehicle from above, for a page that bears its name, its verdict and the worst findings already."""
    view = above(told.job, told.result)
    places = tuple(replace(place, words="") if place.verdict else place for place in view.places)
    view = replace(view, title="The vehicle from above", subtitle="front is up", places=places)
    return kept(plan_svg, view, "paper", system=told.system)


def part_picture(told: PageContext, part: PartOrder) -> str | None:
    """A part with its dimensions; None where it is stopped, or cannot be laid out."""
    if not part.final:
        return None
    try:
        return kept(part_svg, part, "paper", system=told.system)
    except BuildError:
        return None


def drawings(told: PageContext) -> Iterator[Chapter]:
    """A chapter a place: its section with what it clears, its face with the part and its holes."""
    for n, place in enumerate(told.result.places):
        chapter = Chapter(told.name(place.subject))
        section = kept(section_svg, place, "paper", system=told.system)
        chapter.draw(f"section{n}", section, share=told.share(section, 0.68))
        chapter.blocks += _clearances(told, place)
        chapter.blocks.append({"kind": "break"})
        face = kept(face_svg, place, "paper", system=told.system)
        chapter.draw(f"face{n}", face, share=told.share(face, 0.6))
        chapter.blocks += [sub(f"The part: {place.part.id}"), _facts(told, place), {"kind": "break"}]
        _part(told, chapter, place.part, n)
        yield chapter


def _part(told: PageContext, chapter: Chapter, part: PartOrder, n: int) -> None:
    """The part's drawing at a standard scale, its holes, its title block."""
    if not part.final:
        chapter.blocks.append(par("STOPPED: the part is not made, so it has no drawing here. " + NEXT))
        return
    svg = part_picture(told, part)
    if svg is None:
        chapter.blocks.append(par("No drawing of the part: it cannot be laid out; the findings say why."))
    else:
        chapter.draw(f"part{n}", svg, share=min(1.0, svg_size_mm(svg)[0] / told.text_mm[0]))
    chapter.blocks.append(_holes(told, part))
    crew = told.job.file.crew.people if told.job.file.crew is not None else ()
    fields = {
        "Title": part.label, "Document type": "Part drawing", "Material": part.material.name, "Legal owner": "",
        "Creator": ", ".join(crew[:1]), "Approval person": "",
        "Identification number": f"{part.id}, {part_digest(part)[:12]}", "Date of issue": "@date", "Sheet": "@sheet",
    }  # fmt: skip
    chapter.blocks.append(title_block([(name, value, 1) for name, value in fields.items()]))


def _clearances(told: PageContext, place: PlaceResult) -> list[Block]:
    fit = place.fit
    rows = [
        [c.name.replace(".", ", "), told.show(c.estimate.value, "mm"), f"{told.show(c.estimate.low, 'mm')} … {told.show(c.estimate.high, 'mm')}",
         told.show(c.worst_mm, "mm"), told.show(c.margin_mm, "mm"), in_a_word(c.chance_margin)]
        for c in fit.clearances
    ]  # fmt: skip
    if not rows:
        return [par("No clearance could be worked out: what it needs was not read.")]
    found = [table("clearance *1 | value > | 95 % > | worst case > | margin > | keeps it >", rows)]
    if fit.chance_clear is not None and fit.chance_margin is not None:
        clear, keep = in_a_word(fit.chance_clear), in_a_word(fit.chance_margin)
        words = f"That all of them clear is {clear}, that they keep their margins {keep}, if no reading is a blunder."
        found.append(small(words))
    return found


def fasteners(told: PageContext) -> Chapter:
    """Parts to make with what came of them, foam and fasteners of all together."""
    chapter = Chapter("Parts, foam and fasteners")
    if not told.result.parts:
        chapter.blocks.append(par("No part: the job names no adapter yet, or what it needs is not measured."))
        return chapter
    parts: list[list[Cell]] = []
    for part in told.result.parts:
        thick = told.show(part.spec.thickness_mm, "mm")
        made = _made(told, part)[0]  # its files stand with its drawing
        parts.append([cell(part.label, part.id), f"{part.material.name}, {_process(part)}", thick, made])
    chapter.blocks.append(table("part *1.2 | made of *1 | thickness > | made *1.6", parts))
    chapter.blocks += shopping(told, told.working, ("Foam", "Fasteners"))
    return chapter


def _process(part: PartOrder) -> str:
    return "layers of sheet" if hasattr(part.how, "layers_mm") else "printed"


def _made(told: PageContext, part: PartOrder) -> list[str]:
    """What came of a part, and its files."""
    if not part.final:
        return ["STOPPED: not made. " + NEXT]
    entry = told.entries.get(part.id)
    if entry is None:
        return ["not built yet from these numbers: backwave make"]
    mass, print_ = entry.get("mass_kg"), entry.get("print") or {}
    words = [*part.marks, f"revision {part_digest(part)[:12]}"]
    words += [] if mass is None else [told.show(1000.0 * mass, "g")]
    words += [f"{print_['layers']} layers, about {print_['estimated_time_s'] / 3600:.1f} h"] if print_ else []
    return [", ".join(words), ", ".join(sorted(v.rpartition("/")[2] for v in entry["files"].values()))]


def _facts(told: PageContext, place: PlaceResult) -> Block:
    part, ring, closed = place.part, place.foam.front, place.back_closed_mm
    spec, mm = part.spec, told.show
    left, bottom, right, top = spec.outline.bounds_mm
    rows: list[tuple[str, Cell]] = [
        ("material, process", f"{part.material.name}, {_process(part)}"),
        ("outline over all", f"{mm(right - left, 'mm')} × {mm(top - bottom, 'mm')}"),
        ("thickness, bore", f"{mm(spec.thickness_mm, 'mm')}, ⌀ {mm(2 * spec.bore_mm, 'mm')}"),
        ("speaker rim off the metal", mm(place.fit.seat_height_mm, "mm")),
    ]
    if place.clocking is not None:
        gap = place.clocking.gap_mm
        free = f"; {mm(gap, 'mm')} left between its holes and the fixings" if gap is not None and isfinite(gap) else ""
        rows.append(("driver turned by", f"{mm(place.clocking.angle_deg, 'deg')}{free}"))
    if ring is not None:
        layers = " + ".join(mm(layer, "mm") for layer in ring.layers_mm)
        words = (
            f"⌀ {mm(ring.outer_mm, 'mm')} outside, ⌀ {mm(ring.inner_mm, 'mm')} inside, {mm(ring.free_mm, 'mm')} free "
            f"({layers}), {mm(ring.closed_mm, 'mm')} closed, {100 * ring.compression:.0f} % compressed"
        )
        rows.append(("foam ring in front", words))
    rows.append(("back gasket", f"{mm(closed, 'mm')} as closed" if closed else "none in the stack"))
    if place.lift is not None:
        cold, hot = place.lift.cold.most_mm, place.lift.hot.most_mm
        rows.append(("flange between its fixings", f"lifted by {mm(cold, 'mm')} when cold, up to {mm(hot, 'mm')} hot"))
    if place.lap is not None:
        where = "all round" if place.lap.angle_deg is None else f"at its narrowest, at {mm(place.lap.angle_deg, 'deg')}"
        wanted = mm(place.lap.wanted_mm, "mm")
        rows.append(("flange on metal", f"{mm(place.lap.lap.value_mm, 'mm')} {where}; needs {wanted}"))
    made = _made(told, part)
    rows.append(("made", cell(made[0], *made[1:])))
    return facts(rows)


def _holes(told: PageContext, part: PartOrder) -> Block:
    mm, names = told.show, hole_names(part.spec)
    rows: list[list[Cell]] = [
        [cell(names[f.name], bold=True), f.name, mm(f.x_mm, "mm"), mm(f.y_mm, "mm"), f"⌀ {mm(f.hole_mm, 'mm')}",
         f"counterbore ⌀ {mm(f.counterbore_mm, 'mm')}, {mm(f.counterbore_depth_mm, 'mm', 2)} deep" if f.counterbore_mm else ""]
        for f in part.spec.fixings
    ]  # fmt: skip
    rows += [
        [cell(names[t.name], bold=True), t.name, mm(t.x_mm, "mm"), mm(t.y_mm, "mm"), f"⌀ {mm(t.hole_mm, 'mm')}",
         f"{t.size} {t.kind}" + (f", {mm(t.depth_mm, 'mm')} deep" if t.depth_mm else ", through")]
        for t in part.spec.threads
    ]  # fmt: skip
    return table(" | hole *0.8 | x > | y > | diameter > | what *1.5", rows)


def supply(told: PageContext) -> Chapter | None:
    """Supply, cables, fuses, grounds, gains; None where nothing draws current."""
    wires = told.result.wires
    if wires is None:
        return None
    chapter = Chapter("Supply, fuses, gains", flow=True)
    svg = kept(supply_svg, wires, "", "paper", system=told.system)
    chapter.draw("supply", svg, share=told.share(svg, 0.3))
    chapter.blocks += [*report.supply(told, told.job, wires), *report.gains(told, wires, told.job.gates)]
    return chapter


def harness(told: PageContext) -> Chapter | None:
    """The harness of the last stage, or the wires that make none; None without either."""
    made = told.result.harness
    if made is None or not made.harness.wires:
        named = report.entered(told, told.job)
        return Chapter("Wires as entered", named, flow=True) if named else None
    chapter = Chapter("Harness: what goes to what")
    width, height, words = *told.text_mm, "of the last stage; pins as on the devices"
    pages = kept(harness_pages, made, words, width, 0.82 * height)
    if len(pages) == 1:  # it can be read on one upright page; else on as many as it takes that lie on their side
        chapter.draw("harness0", pages[0].svg, share=pages[0].width_mm / width)
    else:
        width, height = told.wide_mm
        for n, page in enumerate(kept(harness_pages, made, words, width, height - 24.0)):  # below title and caption
            chapter.pictures[f"harness{n}.svg"] = page.svg
            chapter.blocks.append(wide([figure(f"harness{n}.svg", page.caption, page.width_mm / width)]))
    rows: list[list[Cell]] = [
        [cell(mark=g.check.verdict), cell(told.say(g.check.title), f"→ {told.say(g.check.remedy)}" if g.check.remedy else "")]
        for g in grouped(made.findings if made.begun else (), told.result.names)
        if g.check.verdict != "ok"
    ]  # fmt: skip
    chapter.blocks += [table(" | to look at *1", rows)] if rows else []
    chapter.blocks += report.schedule(told, made)
    if made.plugs:
        faces = kept(faces_svg, made.plugs, "Factory plugs that are kept", "paper")
        chapter.draw("plugs", faces, share=told.share(faces, 0.8))
    chapter.blocks += [*report.runs(told, made), *report.cuts(told, made), *report.labels_of(made)]
    return chapter


def factory(told: PageContext) -> Chapter | None:
    """What was found of the vehicle's own wires and of its system; None where nobody recorded any."""
    found = told.result.factory
    words = "What the vehicle had: wires and system"
    return None if found is None else Chapter(words, report.factory(told, found), flow=True)


def predicted(told: PageContext) -> Chapter | None:
    """What each stage will bring; None where nothing can be predicted."""
    made = told.result.prediction
    if made is None:
        return None
    chapter = Chapter("What each stage brings, as predicted", sound.predicted(told, made), flow=True)
    drawn = charts(made, told.system)
    for name, chart in drawn.items():
        if name.startswith(("response-", "loudest-")):
            chapter.draw(name, kept(chart_svg, chart, "paper", width=840.0), share=0.84)
    smaller = [name for kind in ("excursion-", "impedance-") for name in drawn if name.startswith(kind)]
    chapter.pictures |= {f"{name}.svg": kept(chart_svg, drawn[name], "paper", width=490.0) for name in smaller}
    chapter.blocks += [beside([f"{name}.svg" for name in smaller[n : n + 2]]) for n in range(0, len(smaller), 2)]
    return chapter


def before_after(told: PageContext) -> Chapter | None:
    """What was measured beside what was predicted; None where no reading is named."""
    rows, made, chapter = told.job.file.reading, told.result.proof, Chapter("Before and after", flow=True)
    if not rows:
        return None
    if made is None:
        names: list[list[Cell]] = [[r.file, told.name(r.stage) if r.stage else "", r.seat or ""] for r in rows]
        words = "The job names these recordings; they were not read for this dossier: backwave pack reads them."
        chapter.blocks += [par(words), table("file *1.4 | stage *1 | seat *0.6", names)]
        return chapter
    if not made.pairs:
        chapter.blocks.append(par("No recording could be used; what is wrong with each stands below."))
    drawn = proof_charts(made)

    def draw(key: str, width: float, share: float) -> bool:
        if key in drawn:
            chapter.draw(key, kept(chart_svg, drawn[key], "paper", width=width), share=share)
        return key in drawn

    for pair in made.pairs:
        chapter.blocks += proof.head(pair)
        draw(f"proof-{file_stem(pair.seat)}", 900.0, 0.9)
        chapter.blocks += proof.numbers(told, pair)
        if draw(f"distortion-{file_stem(pair.seat)}", 840.0, 0.84):
            chapter.blocks += proof.distortion(pair)
    for name in drawn:
        if name.startswith("rattle-"):
            draw(name, 840.0, 0.84)
    chapter.blocks += proof.recordings(told, made)
    return chapter


def sheets(told: PageContext) -> tuple[list[dict[str, Any]], dict[str, str | bytes]]:
    """The 1:1 sheets of every part, each as big as the paper, with their drawings by name."""
    pages: list[dict[str, Any]] = []
    pictures: dict[str, str | bytes] = {}
    for part in told.result.parts:
        for flat in kept(PartOrder.on_paper, part):
            title = flat.name if part.label in flat.name else f"{part.label}: {flat.name}"
            view = template_view(flat, told.result.title, title, part.side, told.revision, told.system)
            view = replace(view, date=told.date, warnings=part.warnings)
            for svg in kept(template_svg, view, told.paper, system=told.system):
                key = f"sheet{len(pages)}.svg"
                width, height = svg_size_mm(svg)
                pages.append({"key": key, "width": width, "height": height})
                pictures[key] = svg
    return pages, pictures
