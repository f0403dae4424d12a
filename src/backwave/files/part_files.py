"""All files of one side, in one call that a worker process can be given.

`<id>.step` as drawn, read back and compared; `<id>.stl` and `<id>.3mf` as printed; `<id>.dxf` to cut, drill and
engrave; `<id>.pdf` at 1:1 on paper; the check ring and the stand-in to try first.  What the kernel cannot make
becomes a finding, files of an earlier run that it would have replaced are removed, and all else is still made.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from math import hypot
from pathlib import Path
from typing import Any

from backwave.atomic_write import write_whole
from backwave.drawing.template import PAPERS
from backwave.errors import BuildError, InputError
from backwave.files.dxf import dxf_text
from backwave.files.manifest import ManifestEntry, manifest_dict
from backwave.files.step import StepFacts, write_step
from backwave.files.stl import stl_bytes
from backwave.files.templates import template_pdf
from backwave.files.threemf import threemf_bytes
from backwave.finding import CalculationLine, Check, Message
from backwave.part.fit_gauge import card
from backwave.part.flat_patterns import FlatPart, flat_ring, sheet_layers
from backwave.part.kernel import kernel
from backwave.part.print_estimate import PrintEstimate, print_estimate
from backwave.part.process import Material, Printer, SheetStock
from backwave.part.solid_checks import SolidFacts, facts, solid_checks
from backwave.part.types import AdapterSpec, RingSpec, StandInSpec
from backwave.plain_text import file_stem

__all__ = ["SideMade", "SideOrder", "make_side"]

Say = Callable[[float, str], None]


@dataclass(frozen=True)
class SideOrder:
    """What is to be made for one side.

    Parameters
    ----------
    id, side, label : str, no unit
        Name of the part, which its files bear; its side or ""; what a person calls it.
    spec : AdapterSpec, mm
        The part.
    material : Material, no unit
        What it is made of.
    how : Printer or SheetStock, no unit
        How it is made.
    folder : Path, no unit
        Where the files go.
    check_ring : RingSpec, mm
        The thin ring to try first.
    ring : RingSpec or None, mm
        The foam ring in front.
    stand_in : StandInSpec or None, mm
        The gauge to try first.
    title, revision : str, no unit
        The job's title, and the digest of what this was worked out from.
    paper, system : str, no unit
        "A4" or "Letter"; "metric" or "us" figures on it.
    """

    id: str
    side: str
    label: str
    spec: AdapterSpec
    material: Material
    how: Printer | SheetStock
    folder: Path
    check_ring: RingSpec
    ring: RingSpec | None = None
    stand_in: StandInSpec | None = None
    title: str = ""
    revision: str = ""
    paper: str = "A4"
    system: str = "metric"


@dataclass(frozen=True)
class SideMade:
    """What was made.

    Parameters
    ----------
    files : mapping of str to str, no unit
        Kind and name inside the folder: "step", "stl", "3mf", "dxf" (of sheet also "dxf_layer_1" and so on),
        "template", "check_ring", "foam", "stand_in".
    facts : SolidFacts or None, mm
        What was measured; None where there is no solid.
    estimate : PrintEstimate or None, no unit
        For a print.
    checks : tuple of Check, no unit
        Findings of the solid and of its files.
    manifest : mapping of str to object, no unit
        The part's entry in `make --json`.
    """

    files: Mapping[str, str]
    facts: SolidFacts | None
    estimate: PrintEstimate | None
    checks: tuple[Check, ...]
    manifest: Mapping[str, Any]


@dataclass
class _Bench:
    """Files and findings as they come."""

    order: SideOrder
    files: dict[str, Path] = field(default_factory=dict)
    checks: list[Check] = field(default_factory=list)

    def path(self, ending: str) -> Path:
        return self.order.folder / f"{file_stem(self.order.id)}{ending}"

    def put(self, kind: str, ending: str, data: bytes) -> None:
        self.files[kind] = write_whole(self.path(ending), data)

    def fault(self, fault: BuildError, endings: tuple[str, ...], code: str = "part.build", part: str = "") -> None:
        for ending in endings:  # an old part under the same name must not pass for this one
            self.path(ending).unlink(missing_ok=True)
        named = (("feature", fault.feature, ""), ("reason", fault.reason, ""))
        self.checks.append(
            Check(
                code,
                "stop",
                Message("{feature} could not be made: {reason}", named),
                remedy=Message("Change or leave out what it names, and make it again", named),
                part=part,
            )
        )


def make_side(order: SideOrder, say: Say | None = None) -> SideMade:
    """Build one side and write all its files.

    Parameters
    ----------
    order : SideOrder, mm
        What to make.
    say : callable of (share, words) or None, no unit
        Told how far it is, such as `backwave.workers.report`.

    Raises
    ------
    InputError
        An order that cannot be carried out at all, such as an unknown paper.
    """
    if order.paper not in PAPERS:
        raise InputError("paper", order.paper, " or ".join(PAPERS))
    tell: Say = say or (lambda share, words: None)
    bench = _Bench(order)
    try:
        return _made(bench, tell)
    except BaseException:  # half of a part's files, or some of an earlier part's, must not pass for it
        for path in bench.files.values():
            path.unlink(missing_ok=True)
        raise


def _made(bench: _Bench, tell: Say) -> SideMade:
    order = bench.order
    tell(0.0, "flat patterns")
    layers = _flat(bench)
    tell(0.1, "solid")
    measured, read_back = _solid(bench, tell)
    tell(0.8, "check ring and stand-in")
    _to_try(bench)
    tell(0.9, "paper")
    _paper(bench, layers)
    estimate = None
    if measured is not None and isinstance(order.how, Printer):
        reach = max(hypot(x, y) for x, y in order.spec.outline.points(0.1))
        bore = max(0.0, -order.check_ring.inner.bounds_mm[0])
        estimate = print_estimate(
            measured.volume_mm3, measured.bounds_mm[2], order.material, order.how, reach - bore
        )
    tell(1.0, "done")
    entry = ManifestEntry(
        order.id,
        order.side,
        order.revision,
        bench.files,
        measured.volume_mm3 if measured else None,
        measured.mass_kg if measured else None,
        measured.bounds_mm if measured else None,
        measured.closed if measured else None,
        measured.wall.thickness_mm if measured and measured.wall else None,
        read_back,
        estimate,
        1.0 + order.how.shrinkage if isinstance(order.how, Printer) else 1.0,
        order.how.hole_extra_mm if isinstance(order.how, Printer) else 0.0,
        layers if isinstance(order.how, SheetStock) else (),
    )
    (said,) = manifest_dict([entry], order.folder)["parts"]
    names = {kind: path.name for kind, path in bench.files.items()}
    return SideMade(names, measured, estimate, tuple(bench.checks), said)


def _flat(bench: _Bench) -> tuple[FlatPart, ...]:
    """The DXF files; for a print, the outline and holes of its back face."""
    order = bench.order
    layers: tuple[FlatPart, ...] = (flat_ring(order.check_ring),)
    try:
        if isinstance(order.how, SheetStock):
            layers = sheet_layers(order.spec, order.how)
    except (BuildError, InputError) as fault:
        bench.fault(BuildError("sheet layers", str(fault)), (".dxf",), "part.sheet")
        return ()
    bench.put("dxf", ".dxf", dxf_text(layers, order.label).encode())
    if isinstance(order.how, SheetStock):  # and an outline file for each sheet that goes onto the machine
        for k, layer in enumerate(layers, 1):
            bench.put(
                f"dxf_layer_{k}", f"-layer-{k}.dxf", dxf_text([layer], f"{order.label}, {layer.name}").encode()
            )
    if order.ring is not None:
        bench.put("foam", "-foam.dxf", dxf_text([flat_ring(order.ring)], f"{order.label}, foam").encode())
    return layers


def _solid(bench: _Bench, tell: Say) -> tuple[SolidFacts | None, StepFacts | None]:
    from backwave.part.mesh import mesh
    from backwave.part.print_mesh import printed_mesh
    from backwave.part.solid import build

    order = bench.order
    marked = order.spec.lettering
    try:
        built = build(order.spec)
        tell(0.5, "mesh")
        with kernel("mesh"):
            fine = mesh(built.solid)
    except BuildError as fault:
        bench.fault(fault, (".step", ".stl", ".3mf"), part="solid")
        return None, None
    top = order.spec.thickness_mm - marked.depth_mm if marked is not None else float("inf")
    found = facts(built, fine, order.material, top)
    bench.checks += solid_checks(found, order.spec)
    tell(0.6, "files")
    ready = printed_mesh(fine, order.spec, order.how) if isinstance(order.how, Printer) else fine
    bench.put("stl", ".stl", stl_bytes(ready.vertices_mm, ready.triangles, order.id))
    words = {"Title": order.label, "Job": order.title, "Revision": order.revision, "Application": "backwave"}
    bench.put("3mf", ".3mf", threemf_bytes(ready.vertices_mm, ready.triangles, order.id, words))
    try:
        with kernel("STEP file"):
            read_back = write_step(built.solid, bench.path(".step"), order.id)
    except BuildError as fault:
        bench.fault(fault, (".step",), "part.read-back")
        return found, None
    bench.files["step"] = bench.path(".step")
    bench.checks.append(_read_back(read_back))
    return found, read_back


def _read_back(found: StepFacts) -> Check:
    return Check(
        "part.read-back",
        "ok",
        Message("The STEP file read back is the same solid"),
        found.volume_read_mm3,
        found.volume_mm3,
        "mm3",
        working=(
            CalculationLine("V", "volume written", found.volume_mm3, "mm3"),
            CalculationLine("V'", "volume read back", found.volume_read_mm3, "mm3"),
            CalculationLine("n", "faces written", float(found.faces), ""),
            CalculationLine("n'", "faces read back", float(found.faces_read), ""),
        ),
    )


def _to_try(bench: _Bench) -> None:
    """What is printed first: the check ring and the stand-in, as drawn."""
    from backwave.part.fit_gauge_solid import build_standin
    from backwave.part.mesh import mesh
    from backwave.part.solid import Built, build_ring

    order = bench.order

    def put(kind: str, ending: str, make: Callable[[], Built]) -> None:
        try:
            with kernel(kind.replace("_", " ")):
                made = mesh(make().solid)
        except BuildError as fault:
            bench.fault(fault, (ending,), part=kind)
        else:
            bench.put(kind, ending, stl_bytes(made.vertices_mm, made.triangles, f"{order.id} {kind}"))

    put("check_ring", "-check-ring.stl", lambda: build_ring(order.check_ring))
    stand_in = order.stand_in
    if stand_in is not None:
        put("stand_in", "-stand-in.stl", lambda: build_standin(stand_in))


def _paper(bench: _Bench, layers: tuple[FlatPart, ...]) -> None:
    order = bench.order
    parts = list(layers)
    if order.ring is not None:
        parts.append(flat_ring(order.ring))
    if order.stand_in is not None:
        with suppress(BuildError):  # the stand-in's own finding has said so
            parts.append(card(order.stand_in))
    if parts:
        bench.put(
            "template",
            ".pdf",
            template_pdf(parts, order.title, order.label, order.side, order.revision, order.paper, order.system),
        )
