"""The drawing of a part as it wants to be told: outline, holes with their names, a section through one of each kind."""

from __future__ import annotations

from math import atan2, degrees, hypot
from typing import TYPE_CHECKING

from backwave.part.order import PartOrder, paper_parts
from backwave.part.radial_section import radial_section
from backwave.part.types import AdapterSpec, Fixing, Thread
from backwave.units import show

if TYPE_CHECKING:
    from backwave.drawing import PartCut, PartView

__all__ = ["hole_names", "paper_parts", "part_view"]

_CHORD = 0.05  # mm


def hole_names(spec: AdapterSpec) -> dict[str, str]:
    """The short name of each hole on the drawing, by the name that findings use.

    Parameters
    ----------
    spec : AdapterSpec, mm
        The part.
    """
    found = {f.name: f"F{n}" for n, f in enumerate(spec.fixings, 1)}
    return found | {t.name: f"D{n}" for n, t in enumerate(spec.threads, 1)}


def part_view(part: PartOrder, system: str = "metric") -> PartView:
    """What the drawing of a part is told.

    Parameters
    ----------
    part : PartOrder, mm
        The part.
    system : "metric" or "us", no unit
        Units of the figures in its words.

    Raises
    ------
    BuildError
        The part cannot be laid out, with its numbers.
    """
    from backwave.drawing import PartHole, PartView

    spec, names = part.spec, hole_names(part.spec)
    circles = [spec.bore_mm]
    circles += [spec.seat_mm] if spec.recess_mm > 0.0 else []
    circles += [spec.collar.inner_mm, spec.collar.outer_mm] if spec.collar is not None else []
    holes = [PartHole(names[f.name], f.x_mm, f.y_mm, f.hole_mm, f.counterbore_mm) for f in spec.fixings]
    holes += [PartHole(names[t.name], t.x_mm, t.y_mm, t.hole_mm) for t in spec.threads]
    cuts = [_fixing_cut("A", spec, spec.fixings[0], names)] if spec.fixings else []
    cuts += [_thread_cut("B" if cuts else "A", spec, spec.threads[0], names)] if spec.threads else []
    return PartView(
        ": ".join((part.label, "part", *part.marks)),
        tuple((float(x), float(y)) for x, y in spec.outline.points(_CHORD)),
        tuple(circles),
        (),
        tuple(holes),
        tuple(cuts),
        _inside(part, system),
        (*part.marks, *_notes(spec, system)),
    )


def _inside(part: PartOrder, system: str) -> tuple[str, ...]:
    spec = part.spec
    lines = [part.side] if part.side else []
    lines += ["seen from the cabin", f"bore ⌀{show(2 * spec.bore_mm, 'mm', system, bare=True)}"]
    rings = {round(2 * hypot(t.x_mm, t.y_mm), 2) for t in spec.threads}
    if len(rings) == 1:
        across = show(rings.pop(), "mm", system, bare=True)
        lines.append(f"{len(spec.threads)} × {spec.threads[0].size} on ⌀{across}")
    return tuple(lines)


def _notes(spec: AdapterSpec, system: str) -> tuple[str, ...]:
    """What the drawing does not show."""
    mm = [
        f"{g.face} groove along the {g.along}, {show(g.width_mm, 'mm', system)} wide, {show(g.depth_mm, 'mm', system)} deep, "
        f"its middle {show(g.inset_mm, 'mm', system)} from the edge"
        for g in spec.grooves
    ]
    mm += [
        f"notch at {n.angle_deg:g}°, {show(n.width_mm, 'mm', system)} wide, {show(n.depth_mm, 'mm', system)} into the bore's wall"
        for n in spec.notches
    ]
    if spec.edge_mm:
        mm.append(f"outer edge broken by {show(spec.edge_mm, 'mm', system)} at the front")
    text = "; ".join(mm)
    return (text[:1].upper() + text[1:] + ".",) if mm else ()


def _angle(x_mm: float, y_mm: float) -> float:
    return degrees(atan2(y_mm, x_mm))


def _heights(spec: AdapterSpec) -> tuple[tuple[float, float], ...]:
    found = {(0.0, spec.seat_z_mm), (0.0, spec.thickness_mm), (0.0, spec.top_mm)}
    if spec.spigot is not None and spec.keeps_spigot:
        found.add((-spec.spigot.length_mm, 0.0))
    return tuple(sorted(found, key=lambda h: h[1] - h[0]))


def _fixing_cut(letter: str, spec: AdapterSpec, fixing: Fixing, names: dict[str, str]) -> PartCut:
    from backwave.drawing import PartCut

    angle, far = _angle(fixing.x_mm, fixing.y_mm), hypot(fixing.x_mm, fixing.y_mm)
    across = [(far, fixing.hole_mm)] + ([(far, fixing.counterbore_mm)] if fixing.counterbore_mm else [])
    depths = (
        ((spec.thickness_mm - fixing.counterbore_depth_mm, spec.thickness_mm),)
        if fixing.counterbore_depth_mm
        else ()
    )
    return PartCut(
        letter, f"through {names[fixing.name]}", angle, radial_section(spec, angle), tuple(across), _heights(spec), depths
    )  # fmt: skip


def _thread_cut(letter: str, spec: AdapterSpec, thread: Thread, names: dict[str, str]) -> PartCut:
    from backwave.drawing import PartCut

    angle, far = _angle(thread.x_mm, thread.y_mm), hypot(thread.x_mm, thread.y_mm)
    depths = ((spec.seat_z_mm - thread.depth_mm, spec.seat_z_mm),) if thread.depth_mm else ()
    return PartCut(
        letter, f"through {names[thread.name]}", angle, radial_section(spec, angle), ((far, thread.hole_mm),),
        _heights(spec), depths,
    )  # fmt: skip
