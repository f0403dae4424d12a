"""The drawing of a part as it wants to be told: outline, holes with their names, a section through one of each kind."""

from __future__ import annotations

from math import atan2, degrees, hypot
from typing import TYPE_CHECKING

from backwave.part.order import PartOrder
from backwave.part.order import paper_parts as paper_parts
from backwave.part.radial_section import radial_section
from backwave.part.types import AdapterSpec, Fixing, Thread
from backwave.units import show

if TYPE_CHECKING:
    from backwave.drawing.part import PartCut, PartView

_CHORD = 0.05  # mm


def hole_names(spec: AdapterSpec) -> dict[str, str]:
    """The short name of each hole on the drawing, by the name that findings use."""
    found = {f.name: f"F{n}" for n, f in enumerate(spec.fixings, 1)}
    return found | {t.name: f"D{n}" for n, t in enumerate(spec.threads, 1)}


def part_view(part: PartOrder, system: str = "metric") -> PartView:
    """What the drawing of a part is told; its words have figures in "metric" or "us".

    BuildError: the part cannot be laid out, with its numbers.
    """
    from backwave.drawing.part import PartHole, PartView

    spec, names = part.spec, hole_names(part.spec)
    rings = [("bore", spec.bore_mm)]
    rings += [("seat", spec.seat_mm)] if spec.recess_mm > 0.0 else []
    if spec.collar is not None:
        rings += [("collar inside", spec.collar.inner_mm), ("collar outside", spec.collar.outer_mm)]
    if spec.spigot is not None and spec.keeps_spigot:
        rings.append(("spigot", spec.spigot.radius_mm))
    round_ = spec.outline.circle
    holes = [PartHole(names[f.name], f.x_mm, f.y_mm, f.hole_mm, f.counterbore_mm) for f in spec.fixings if f.hole_mm]
    holes += [PartHole(names[t.name], t.x_mm, t.y_mm, t.hole_mm) for t in spec.threads]
    fixing = next((f for f in spec.fixings if f.hole_mm), None)
    cuts = [_fixing_cut("A", spec, fixing, names)] if fixing is not None else []
    cuts += [_thread_cut("B" if cuts else "A", spec, spec.threads[0], names)] if spec.threads else []
    return PartView(
        title=": ".join((part.label, "part", *part.marks)),
        outline_mm=tuple((float(x), float(y)) for x, y in spec.outline.points(_CHORD)),
        bounds_mm=spec.outline.bounds_mm,
        round_mm=2.0 * round_[2] if round_ is not None and hypot(*round_[:2]) < 1e-6 else None,
        rings=tuple(sorted(rings, key=lambda ring: ring[1])),
        holes=tuple(holes),
        cuts=tuple(cuts),
        inside=_inside(part, system),
        notes=_notes(spec, system),
        warnings=part.marks,
    )


def _inside(part: PartOrder, system: str) -> tuple[str, ...]:
    spec = part.spec
    lines = [part.side] if part.side else []
    lines += ["seen from the cabin"]
    rings = {round(2 * hypot(t.x_mm, t.y_mm), 2) for t in spec.threads}
    if len(rings) == 1:
        across = show(rings.pop(), "mm", system, bare=True)
        lines.append(f"{len(spec.threads)} × {spec.threads[0].size} on ⌀{across}")
    return tuple(lines)


def _notes(spec: AdapterSpec, system: str) -> tuple[str, ...]:
    """What the drawing does not show."""
    odd = 2 if abs(10.0 * spec.relief_mm - round(10.0 * spec.relief_mm)) > 0.05 else None
    mm = [f"chamfer of {show(spec.relief_mm, 'mm', system, odd)} × 45° behind the bore"] if spec.relief_mm else []
    mm += [
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


def _grooves(spec: AdapterSpec, angle_deg: float) -> tuple[tuple[float, float, float, float], ...]:
    """Radius from and to, bottom and top of each groove where the half-plane crosses it."""
    found = []
    for g in spec.grooves:
        top = spec.seat_z_mm if g.along == "bore" else spec.thickness_mm
        low, high = (0.0, g.depth_mm) if g.face == "back" else (top - g.depth_mm, top)
        middle = spec.bore_mm + g.inset_mm if g.along == "bore" else _reach(spec, angle_deg) - g.inset_mm
        found.append((middle - g.width_mm / 2.0, middle + g.width_mm / 2.0, low, high))
    return tuple(found)


def _reach(spec: AdapterSpec, angle_deg: float) -> float:
    """How far the material goes in a direction."""
    return max(r for outer, _ in radial_section(spec, angle_deg) for r, _ in outer)


def _fixing_cut(letter: str, spec: AdapterSpec, fixing: Fixing, names: dict[str, str]) -> PartCut:
    from backwave.drawing.part import PartCut

    angle, far = _angle(fixing.x_mm, fixing.y_mm), hypot(fixing.x_mm, fixing.y_mm)
    across = [(far, d) for d in (fixing.hole_mm, fixing.counterbore_mm, fixing.pocket_mm) if d]
    depths = [(spec.thickness_mm - fixing.counterbore_depth_mm, spec.thickness_mm)] * bool(fixing.counterbore_depth_mm)
    depths += [(0.0, fixing.pocket_depth_mm)] * bool(fixing.pocket_mm)
    return PartCut(
        letter, f"through {names[fixing.name]}", angle, radial_section(spec, angle), tuple(across), _heights(spec),
        tuple(depths), _grooves(spec, angle),
    )  # fmt: skip


def _thread_cut(letter: str, spec: AdapterSpec, thread: Thread, names: dict[str, str]) -> PartCut:
    from backwave.drawing.part import PartCut

    angle, far = _angle(thread.x_mm, thread.y_mm), hypot(thread.x_mm, thread.y_mm)
    depths = [(spec.seat_z_mm - thread.depth_mm, spec.seat_z_mm)] * bool(thread.depth_mm)
    depths += [(0.0, spec.relief_mm)] * bool(spec.relief_mm)
    return PartCut(
        letter, f"through {names[thread.name]}", angle, radial_section(spec, angle), ((far, thread.hole_mm),),
        _heights(spec), tuple(depths), _grooves(spec, angle),
    )  # fmt: skip
