"""What can be judged of a part before it is built.

In two dimensions and a height, without the solid kernel: material between cuts, threads, screw heads, the
printer's bed, heat, water, sheet layers.  Limits that are common trade practice say so.  Millimeters.
"""

from __future__ import annotations

from backwave.errors import BuildError, InputError
from backwave.finding import Check, Step, Text
from backwave.part.flat import sheet_layers
from backwave.part.plan import features, marks
from backwave.part.threads import head_checks, thread_checks
from backwave.part.types import AdapterSpec, Material, Printer, Sheet, Zone
from backwave.part.walls import Ligament, ligaments

__all__ = ["CREEP_MARGIN_K", "build_check", "plan_checks"]

PRACTICE = "common trade practice"
CREEP_MARGIN_K = 15.0  # K; a deflection temperature is a short test and says nothing about creep
HEAT_SOURCES = (
    "ISO 75-2, method B (0.45 MPa): deflection temperature, a short-term bending test",
    "Vanos, Middel, Poletti, Selover 2018, Temperature 5(3):276-292: 69 degC dashboard after an hour in the sun",
    "Grundstein, Meentemeyer, Dowd 2009, Int J Biometeorol 53:255-261: cabin air up to 76 degC",
)


def plan_checks(spec: AdapterSpec, material: Material, how: Printer | Sheet, zone: Zone) -> tuple[Check, ...]:
    """Every check of the part that needs no solid.

    Parameters
    ----------
    spec : AdapterSpec, mm
        The adapter.
    material : Material, no unit
        What it is made of.
    how : Printer or Sheet, no unit
        How it is made.
    zone : Zone, degC
        Where it lives.
    """
    found: list[Check] = []
    try:
        features(spec)
    except BuildError as fault:
        found.append(build_check(fault))
    else:
        walls = ligaments(spec)
        found += _ligaments(spec, walls)
        found += thread_checks(spec, walls)
        found += _lettering(spec)
    found += head_checks(spec)
    found += _spigot(spec)
    found += _print(spec, how) if isinstance(how, Printer) else _sheet(spec, material, how)
    found += _heat(material, zone)
    found += _water(material, how, zone)
    return tuple(found)


def build_check(fault: BuildError) -> Check:
    """What could not be built, as a finding.

    Parameters
    ----------
    fault : BuildError, no unit
        From the plan or the kernel.
    """
    return Check(
        "part.build",
        "stop",
        Text(
            "{feature} cannot be built: {reason}", (("feature", fault.feature, ""), ("reason", fault.reason, ""))
        ),
        remedy=Text("change {feature}, or leave it out", (("feature", fault.feature, ""),)),
        part=_slug(fault.feature),
    )


def _ligaments(spec: AdapterSpec, walls: tuple[Ligament, ...]) -> list[Check]:
    """The thinnest, or each that is too thin.  Threads are judged by the wall they ask for, elsewhere."""
    names = {t.name for t in spec.threads}
    here = [w for w in walls if not any(w.a.endswith(f" of {n}") or w.b.endswith(f" of {n}") for n in names)]
    limit = spec.least_wall_mm
    thin = [w for w in here if w.wall_mm < limit - 1e-9]
    return [_ligament(w, limit) for w in thin or here[:1]]


def _ligament(wall: Ligament, limit: float) -> Check:
    quantities = (("a", wall.a, ""), ("b", wall.b, ""), ("wall", wall.wall_mm, "mm"), ("limit", limit, "mm"))
    if wall.wall_mm <= 0.0:
        return Check(
            "part.ligament",
            "stop",
            Text("{a} breaks into {b}", quantities),
            wall.wall_mm,
            limit,
            "mm",
            remedy=Text("move it, make it smaller, or make the flange wider there"),
            working=_wall_steps(wall, limit),
            sources=(PRACTICE,),
            part=_slug(f"{wall.a} {wall.b}"),
        )
    thin = wall.wall_mm < limit - 1e-9
    return Check(
        "part.ligament",
        "caution" if thin else "ok",
        Text("{wall} of material between {a} and {b}", quantities),
        wall.wall_mm,
        limit,
        "mm",
        remedy=Text("keep {limit} or more: move it, or make it smaller", quantities) if thin else None,
        working=_wall_steps(wall, limit),
        sources=(PRACTICE,),
        part=_slug(f"{wall.a} {wall.b}") if thin else "",
    )


def _wall_steps(wall: Ligament, limit: float) -> tuple[Step, ...]:
    return (
        Step("w", f"{wall.a} to {wall.b}, edge to edge in plan", wall.wall_mm, "mm"),
        Step("w_least", "two print lines, or the least web in sheet", limit, "mm", PRACTICE),
    )


def _lettering(spec: AdapterSpec) -> list[Check]:
    left = marks(spec).left_out if spec.lettering is not None else ()
    return [
        Check(
            "part.print",
            "caution",
            Text("no room to engrave {what}", (("what", ", ".join(left), ""),)),
            remedy=Text("write it on with a paint pen: left and right are easily mixed up"),
            part="lettering",
        )
    ] * bool(left)


def _spigot(spec: AdapterSpec) -> list[Check]:
    wall = spec.spigot_wall_mm
    if wall is None:
        return []
    quantities = (("wall", wall, "mm"), ("limit", spec.least_wall_mm, "mm"))
    working = (
        Step("w", "spigot's radius - bore's radius - relief", wall, "mm"),
        Step("w_least", "two print lines, or the least web in sheet", spec.least_wall_mm, "mm", PRACTICE),
    )
    if spec.keeps_spigot:
        title = Text("the spigot's wall is {wall}", quantities)
        return [
            Check("part.spigot", "ok", title, wall, spec.least_wall_mm, "mm", working=working, sources=(PRACTICE,))
        ]
    return [
        Check(
            "part.spigot",
            "caution",
            Text("the spigot is left out: its wall would be {wall}, less than {limit}", quantities),
            wall,
            spec.least_wall_mm,
            "mm",
            remedy=Text("a smaller bore or less relief makes room for it; the screws center the part without it"),
            working=working,
            sources=(PRACTICE,),
        )
    ]


def _print(spec: AdapterSpec, printer: Printer) -> list[Check]:
    x0, y0, x1, y1 = spec.outline.bounds_mm
    grow = 1.0 + printer.shrinkage
    low = -spec.spigot.length_mm if spec.spigot is not None and spec.keeps_spigot else 0.0
    size = sorted(((x1 - x0) * grow, (y1 - y0) * grow))
    tall = (spec.top_mm - low) * grow
    bed = sorted(printer.bed_mm[:2])
    over = max(size[0] - bed[0], size[1] - bed[1], tall - printer.bed_mm[2])
    quantities = (
        ("x", (x1 - x0) * grow, "mm"),
        ("y", (y1 - y0) * grow, "mm"),
        ("z", tall, "mm"),
        ("bx", printer.bed_mm[0], "mm"),
        ("by", printer.bed_mm[1], "mm"),
        ("bz", printer.bed_mm[2], "mm"),
        ("over", over, "mm"),
    )
    working = (
        Step("x", "width of the part as printed", (x1 - x0) * grow, "mm"),
        Step("y", "height in the cabin's view, as printed", (y1 - y0) * grow, "mm"),
        Step("z", "thickness over all, as printed", tall, "mm"),
        Step("s", "shrinkage made up for", printer.shrinkage, ""),
    )
    if over > 1e-9:
        bed_check = Check(
            "part.bed",
            "stop",
            Text("the part is {x} by {y} by {z} and the printer takes {bx} by {by} by {bz}", quantities),
            max(size[1], tall),
            max(bed[1], printer.bed_mm[2]) if size[1] <= bed[1] else bed[1],
            "mm",
            remedy=Text("print it elsewhere, or cut it from sheet; splitting a part is not built yet"),
            working=working,
        )
    else:
        title = Text("the part, {x} by {y} by {z}, fits the bed", quantities)
        bed_check = Check("part.bed", "ok", title, size[1], bed[1], "mm", working=working)
    return [bed_check, _overhang(spec)]


def _overhang(spec: AdapterSpec) -> Check:
    """Which face goes down.  The relief is at 45 degrees, which prints without support (common trade practice)."""
    behind, before = spec.keeps_spigot, spec.collar is not None
    if behind and before:
        return Check(
            "part.print",
            "caution",
            Text("the flange hangs over whichever face goes down: it has a spigot behind and a collar in front"),
            remedy=Text("print it with supports, or leave one of them out"),
            sources=(PRACTICE,),
            part="overhang",
        )
    title = "print it front face down" if behind else "print it back face down"
    pockets = sum(t.kind == "nut" for t in spec.threads) if not behind else 0
    if pockets:
        title += "; the tops of the nut pockets bridge by themselves"
    return Check("part.print", "ok", Text(title), sources=(PRACTICE,), part="overhang")


def _sheet(spec: AdapterSpec, material: Material, sheet: Sheet) -> list[Check]:
    found: list[Check] = []
    total = sum(sheet.layers_mm)
    layers = " + ".join(f"{t:g}" for t in sheet.layers_mm) + " mm"
    quantities = (("layers", layers, ""), ("total", total, "mm"), ("wanted", spec.thickness_mm, "mm"))
    working = tuple(Step(f"t{k + 1}", "a layer", t, "mm") for k, t in enumerate(sheet.layers_mm))
    if abs(total - spec.thickness_mm) > 1e-6:
        found.append(
            Check(
                "part.sheet",
                "stop",
                Text("the layers, {layers}, make {total}; the part is to be {wanted}", quantities),
                total,
                spec.thickness_mm,
                "mm",
                remedy=Text("choose layers that add up, or let the thickness follow the sheet on hand"),
                working=working,
            )
        )
    else:
        try:
            sheet_layers(spec, sheet)
        except (InputError, BuildError) as fault:
            found.append(
                Check(
                    "part.sheet",
                    "stop",
                    Text("it cannot be cut in layers of {layers}: {why}", (*quantities, ("why", str(fault), ""))),
                    remedy=Text("choose other layers, or move the cut to one of their faces"),
                    working=working,
                )
            )
        else:
            title = Text("layers of {layers} make {total}", quantities)
            found.append(Check("part.sheet", "ok", title, total, spec.thickness_mm, "mm", working=working))
    if material.laser_unsafe:
        what = (("material", material.name, ""), ("why", material.laser_unsafe, ""))
        found.append(
            Check(
                "part.laser",
                "stop" if sheet.cutter == "laser" else "caution",
                Text("{material} must not be laser cut: {why}", what),
                remedy=Text("saw or mill it, and write that on the drawing if somebody else cuts it"),
                sources=(material.source,) if material.source else (),
            )
        )
    return found


def _heat(material: Material, zone: Zone) -> list[Check]:
    if material.hdt_degc is None:
        return []
    spare = material.hdt_degc - zone.service_degc
    quantities = (
        ("material", material.name, ""),
        ("hdt", material.hdt_degc, "degC"),
        ("zone", zone.name, ""),
        ("service", zone.service_degc, "degC"),
        ("spare", spare, "K"),
        ("margin", CREEP_MARGIN_K, "K"),
    )
    working = (
        Step(
            "T_d",
            f"deflection temperature of {material.name}, low end",
            material.hdt_degc,
            "degC",
            material.source,
        ),
        Step("T_s", f"how hot it gets: {zone.name}", zone.service_degc, "degC", zone.source),
        Step("T_d - T_s", "spare", spare, "K"),
        Step("margin", "wanted against creep under screws", CREEP_MARGIN_K, "K", PRACTICE),
    )
    verdict, remedy = "ok", None
    if spare < 0.0:
        verdict = "stop"
        remedy = Text("use a material that holds {service} and a margin of {margin}", quantities)
    elif spare < CREEP_MARGIN_K:
        verdict = "caution"
        remedy = Text("use metal inserts and washers, or a material with {margin} to spare", quantities)
    title = Text("{material} softens at {hdt}; the {zone} reaches {service}", quantities)
    return [
        Check(
            "part.heat",
            verdict,  # type: ignore[arg-type]
            title,
            material.hdt_degc,
            zone.service_degc + CREEP_MARGIN_K,
            "degC",
            remedy=remedy,
            working=working,
            sources=HEAT_SOURCES,
        )
    ]


def _water(material: Material, how: Printer | Sheet, zone: Zone) -> list[Check]:
    if not zone.wet:
        return []
    what = (("material", material.name, ""),)
    if isinstance(how, Printer):
        title = Text("a print's layers draw water: keep a gasket on both faces", what)
        return [Check("part.water", "ok", title, sources=(PRACTICE,))]
    if not material.swells:
        return [Check("part.water", "ok", Text("{material} may get wet", what), sources=(PRACTICE,))]
    if how.sealed:
        return [
            Check(
                "part.water",
                "caution",
                Text("{material} swells where its seal is broken", what),
                remedy=Text("seal every hole after drilling, and look at it when the trim is next off"),
                sources=(PRACTICE,),
            )
        ]
    return [
        Check(
            "part.water",
            "stop",
            Text("{material} swells on the wet side of the door", what),
            remedy=Text("seal it all over, holes included, or use another material"),
            sources=(PRACTICE,),
        )
    ]


def _slug(words: str) -> str:
    return "-".join("".join(c if c.isalnum() else " " for c in words.lower()).split())
