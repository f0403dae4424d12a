"""All files of one side, in one call that a worker process can be given.

`<id>.step` as drawn, read back and compared; `<id>.stl` and `<id>.3mf` as printed; `<id>.dxf` to cut, drill and
engrave; `<id>.pdf` at 1:1 on paper; the test ring and the dummy to try first.  What the kernel cannot make
becomes a finding, files of an earlier run that it would have replaced are removed, and all else is still made.
Of a part that is stopped there are the test ring, the dummy and the paper alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from math import hypot
from pathlib import Path
from typing import Any

from backwave.atomic_write import write_whole
from backwave.drawing.template import PAPERS
from backwave.errors import BuildError, InputError
from backwave.files.flat_files import dxf_text, template_pdf
from backwave.files.manifest import part_entry
from backwave.files.solid_files import StepFacts, stl_bytes, threemf_bytes, write_step
from backwave.finding import CalculationLine, Check, Message
from backwave.part.flat_patterns import FlatPart, flat_ring, sheet_layers
from backwave.part.order import PartOrder
from backwave.part.process_checks import PrintEstimate, print_estimate
from backwave.part.solid import kernel
from backwave.part.solid_checks import SolidFacts, facts, solid_checks
from backwave.part.types import Printer, SheetStock
from backwave.plain_text import file_stem

Say = Callable[[float, str], None]
FINAL = (".step", ".stl", ".3mf", ".dxf")  # endings of the part itself; sheets and foam end in .dxf too
TRIED = ("-check-ring.stl", "-stand-in.stl")  # what is tried before the part itself


@dataclass(frozen=True)
class SideOrder:
    """What is to be made for one side."""

    part: PartOrder
    folder: Path  # where the files go
    title: str = ""  # of the job
    revision: str = ""  # digest of what this was worked out from
    paper: str = "A4"  # or "Letter"
    system: str = "metric"  # or "us": figures on it


@dataclass(frozen=True)
class SideMade:
    """What was made."""

    # kind and name inside the folder: "step", "stl", "3mf", "dxf" (of sheet also "dxf_layer_1" and so on), "template",
    # "check_ring" (the test ring), "foam", "stand_in" (the dummy)
    files: Mapping[str, str]
    facts: SolidFacts | None  # None where there is no solid
    estimate: PrintEstimate | None  # of a print
    checks: tuple[Check, ...]  # of the solid and of its files
    manifest: Mapping[str, Any]  # the part's entry in `make --json`


@dataclass
class _Bench:
    """Files and findings as they come."""

    order: SideOrder
    files: dict[str, Path] = field(default_factory=dict)
    checks: list[Check] = field(default_factory=list)

    @property
    def part(self) -> PartOrder:
        return self.order.part

    def path(self, ending: str) -> Path:
        stem = file_stem(self.part.id)
        if ending.endswith(FINAL) and ending not in TRIED:
            stem += "-STOPPED-made-anyway" if self.part.mark else ""
            stem += "".join(f"-{flag.replace(' ', '-')}" for flag in self.part.flags)
        return self.order.folder / f"{stem}{ending}"

    def put(self, kind: str, ending: str, data: bytes) -> None:
        self.files[kind] = write_whole(self.path(ending), data)

    def fault(self, fault: BuildError, endings: tuple[str, ...], code: str = "part.build", part: str = "") -> None:
        for ending in endings:  # an old part under the same name must not pass for this one
            self.path(ending).unlink(missing_ok=True)
        named = (("feature", fault.feature, ""), ("reason", fault.reason, ""))
        self.checks.append(
            Check(
                code, "stop", Message("{feature} could not be made: {reason}", named),
                remedy=Message("Change or leave out what it names, and make it again", named), part=part,
            )
        )  # fmt: skip


def drop_final(folder: Path, but: Iterable[str] = ()) -> None:
    """Take away the files of the part itself, those of another state of it too; its dummy, test ring and paper stay."""
    tried = (*TRIED, "preview.stl")
    for path in folder.iterdir() if folder.is_dir() else ():
        if path.name.endswith(FINAL) and not path.name.endswith(tried) and path.name not in but and path.is_file():
            path.unlink()


def make_side(order: SideOrder, say: Say | None = None) -> SideMade:
    """Build one side and write all its files. InputError: an order that cannot be carried out at all, such as an
    unknown paper."""
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
    order, part = bench.order, bench.part
    drop_final(order.folder, {bench.path(ending).name for ending in FINAL} if part.final else ())
    tell(0.0, "flat patterns")
    layers = _flat(bench) if part.final else ()
    tell(0.1, "solid")
    measured, read_back = _solid(bench, tell) if part.final else (None, None)
    if not part.anyway and any(check.verdict == "stop" for check in bench.checks):
        drop_final(order.folder)  # the solid turned out to be one that is stopped: no file of it stays
        bench.files = {kind: path for kind, path in bench.files.items() if path.is_file()}
        layers = ()
        part = replace(part, stopped=(*part.stopped, *(c for c in bench.checks if c.verdict == "stop")))
    tell(0.8, "test ring and dummy")
    _to_try(bench)
    tell(0.9, "paper")
    _paper(bench, part)
    estimate = None
    if measured is not None and isinstance(part.how, Printer):
        reach = max(hypot(x, y) for x, y in part.spec.outline.points(0.1))
        wide = reach - part.spec.bore_mm
        estimate = print_estimate(measured.volume_mm3, measured.bounds_mm[2], part.material, part.how, wide)
    tell(1.0, "done")
    sheet = layers if isinstance(part.how, SheetStock) else ()
    codes = dict.fromkeys(c.code for c in (*part.stopped, *bench.checks) if c.verdict == "stop")
    entry = part_entry(
        part, order.folder, bench.files, order.revision, measured, read_back, estimate, sheet, tuple(codes)
    )
    names = {kind: path.name for kind, path in bench.files.items()}
    return SideMade(names, measured, estimate, tuple(bench.checks), entry)


def _flat(bench: _Bench) -> tuple[FlatPart, ...]:
    """The DXF files; for a print, the outline and holes of its back face."""
    part = bench.part
    label = ": ".join((part.label, *part.marks))
    layers: tuple[FlatPart, ...] = (flat_ring(part.check_ring),)
    try:
        if isinstance(part.how, SheetStock):
            layers = sheet_layers(part.spec, part.how)
    except (BuildError, InputError) as fault:
        bench.fault(BuildError("sheet layers", str(fault)), (".dxf",), "part.sheet")
        return ()
    bench.put("dxf", ".dxf", dxf_text(layers, label).encode())
    if isinstance(part.how, SheetStock):  # and an outline file for each sheet that goes onto the machine
        for k, layer in enumerate(layers, 1):
            bench.put(f"dxf_layer_{k}", f"-layer-{k}.dxf", dxf_text([layer], f"{label}, {layer.name}").encode())
    if part.ring is not None:
        bench.put("foam", "-foam.dxf", dxf_text([flat_ring(part.ring)], f"{label}, foam").encode())
    return layers


def _solid(bench: _Bench, tell: Say) -> tuple[SolidFacts | None, StepFacts | None]:
    from backwave.part.solid import build, mesh, printed_mesh

    order, part = bench.order, bench.part
    marked = part.spec.lettering
    try:
        built = build(part.spec)
        tell(0.5, "mesh")
        with kernel("mesh"):
            fine = mesh(built.solid)
    except BuildError as fault:
        bench.fault(fault, (".step", ".stl", ".3mf"), part="solid")
        return None, None
    top = part.spec.thickness_mm - marked.depth_mm if marked is not None else float("inf")
    found = facts(built, fine, part.material, top)
    bench.checks += solid_checks(found, part.spec)
    tell(0.6, "files")
    ready = printed_mesh(fine, part.spec, part.how) if isinstance(part.how, Printer) else fine
    bench.put("stl", ".stl", stl_bytes(ready.vertices_mm, ready.triangles, part.id))
    label = ": ".join((part.label, *part.marks))
    words = {"Title": label, "Job": order.title, "Revision": order.revision, "Application": "backwave"}
    bench.put("3mf", ".3mf", threemf_bytes(ready.vertices_mm, ready.triangles, part.id, words))
    try:
        with kernel("STEP file"):
            read_back = write_step(built.solid, bench.path(".step"), part.id)
    except BuildError as fault:
        bench.fault(fault, (".step",), "part.read-back")
        return found, None
    bench.files["step"] = bench.path(".step")
    bench.checks.append(_read_back(read_back))
    return found, read_back


def _read_back(found: StepFacts) -> Check:
    wrote, read = found.volume_mm3, found.volume_read_mm3
    working = (
        CalculationLine("V", "volume written", wrote, "mm3"),
        CalculationLine("V'", "volume read back", read, "mm3"),
        CalculationLine("n", "faces written", float(found.faces), ""),
        CalculationLine("n'", "faces read back", float(found.faces_read), ""),
    )
    title = Message("The STEP file read back is the same solid")
    return Check("part.read-back", "ok", title, read, wrote, "mm3", working=working)


def _to_try(bench: _Bench) -> None:
    """What is printed first: the test ring and the dummy, as drawn."""
    from backwave.part.fit_gauge import build_standin
    from backwave.part.solid import Built, build_ring, mesh

    part = bench.part

    def put(kind: str, ending: str, make: Callable[[], Built]) -> None:
        try:
            with kernel(kind.replace("_", " ")):
                made = mesh(make().solid)
        except BuildError as fault:
            bench.fault(fault, (ending,), part=kind)
        else:
            bench.put(kind, ending, stl_bytes(made.vertices_mm, made.triangles, f"{part.id} {kind}"))

    put("check_ring", "-check-ring.stl", lambda: build_ring(part.check_ring))
    stand_in = part.stand_in
    if stand_in is not None:
        put("stand_in", "-stand-in.stl", lambda: build_standin(stand_in))


def _paper(bench: _Bench, part: PartOrder) -> None:
    order, parts = bench.order, part.on_paper()
    if parts:
        title = (order.title, part.label, part.side, order.revision)
        bench.put("template", ".pdf", template_pdf(parts, *title, order.paper, order.system, part.warnings))
