"""`manifest.json`: what was made, as `make --json` prints it; and what `make` keeps of each solid, under its digest.

Lengths in millimeters; no NaN; no time, no host.  Files are named with their digests: the same part has the same ones,
whenever it is made."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Collection, Mapping, Sequence
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

from backwave.atomic_write import write_whole
from backwave.errors import InputError
from backwave.part.types import Printer, StandInSpec
from backwave.plain_text import file_stem

if TYPE_CHECKING:  # `check` reads what was kept, and makes none of this
    from backwave.files.solid_files import StepFacts
    from backwave.part.flat_patterns import FlatPart
    from backwave.part.order import PartOrder
    from backwave.part.process_checks import PrintEstimate
    from backwave.part.solid_checks import SolidFacts


def document_bytes(parts: Sequence[Mapping[str, Any]], title: str = "", job: str = "") -> bytes:
    """The file from entries that are plain values already, such as those kept from an earlier run."""
    said = {"title": title, "job": job, "parts": list(parts)}
    return (json.dumps(said, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode()


def part_entry(
    part: PartOrder, base: Path, files: Mapping[str, Path], revision: str = "", solid: SolidFacts | None = None,
    step: StepFacts | None = None, estimate: PrintEstimate | None = None, layers: Sequence[FlatPart] = (),
    stopped_by: Sequence[str] = (),
) -> dict[str, Any]:  # fmt: skip
    """One part that was made, as plain values; of what has no solid those of the solid are null. `files`: where each
    kind ("step", "stl", "3mf", "dxf", "template") was written, inside `base`; `revision`: digest of what it was made
    from; `step`: what was read back; `layers`: of sheet; `stopped_by`: codes of what stops it."""
    wall = None if solid is None else solid.wall
    return {
        "id": part.id,
        "side": part.side,
        "revision": revision,
        "files": {kind: _relative(path, base) for kind, path in files.items()},
        "sha256": {k: hashlib.sha256(p.read_bytes()).hexdigest() for k, p in files.items()},
        "volume_mm3": None if solid is None else _number(solid.volume_mm3),
        "mass_kg": None if solid is None else _number(solid.mass_kg),
        "bounds_mm": None if solid is None else [_number(x) for x in solid.bounds_mm],
        "closed": None if solid is None else solid.closed,
        "least_wall_mm": None if wall is None else _number(wall.thickness_mm),
        "read_back": None if step is None else {"faces": step.faces_read, "volume_mm3": step.volume_read_mm3},
        "print": None if estimate is None or not isinstance(part.how, Printer) else _print(estimate, part.how),
        "sheet": {"layers": [_layer(one) for one in layers]} if layers else None,
        "stopped_by": list(stopped_by),
        "made_anyway": (part.final and part.anyway) or None,
        "flags": list(part.flags),
        "dummy": None if part.stand_in is None else _dummy(part.stand_in),
    }


def _dummy(spec: StandInSpec) -> dict[str, Any]:
    return {
        "code": spec.code,
        "stand_off_mm": spec.seat_height_mm,
        "margin_mm": spec.margin_mm,
        "deeper": [{"from_deg": a, "to_deg": b, "margin_mm": m} for a, b, m in spec.deeper],
        "terminals_deg": None if spec.terminals_mm is None else spec.terminals_mm[0],
    }


def _print(estimate: PrintEstimate, printer: Printer) -> dict[str, Any]:
    return {
        "layers": estimate.layers,
        "filament_m": _number(estimate.filament_m),
        "estimated_time_s": _number(estimate.time_s),
        "solid_walls": estimate.solid_walls,
        "mesh_scale": 1.0 + printer.shrinkage,  # STEP and DXF are as drawn
        "mesh_hole_extra_mm": printer.hole_extra_mm,
        "step_is": "as drawn",
    }


def _layer(part: FlatPart) -> dict[str, Any]:
    return {
        "name": part.name,
        "thickness_mm": part.thickness_mm,
        "area_mm2": _number(part.area_mm2),
        "pockets": [{"for": p.name, "depth_mm": round(p.depth_mm, 6), "face": p.face} for p in part.pockets],
        "by_hand": [words.format(size=f"{size:g} mm") for words, size in part.notes],
    }


def _relative(path: Path, base: Path) -> str:
    try:
        return path.relative_to(base).as_posix()
    except ValueError as outside:
        raise InputError("file of a part", path.name, "one inside the folder the manifest stands in") from outside


def _number(value: float) -> float | None:
    return float(value) if isfinite(value) else None


OLD = "old"  # where what no part of the job is any more is put
OWN = ("dossier", "drawings", OLD, "proof", "sound", "wires")  # what else stands in `made`
_ENDINGS = (".step", ".stl", ".3mf", ".dxf", ".pdf")
_FOLDER = re.compile(r"[\w.-]{1,89}")  # what `file_stem` makes of an id


def part_folders(ids: Sequence[str]) -> dict[str, str]:
    """The folder of each part in `made`; one named like what else stands there has its digest after it."""
    taken = [name for own in OWN for name in (own, own.upper())]
    return {id_: file_stem(id_, (*ids, *taken)) for id_ in ids}


def put_by(
    made: Path, current: Collection[str], drawn: Collection[str], kept: Mapping[str, Mapping[str, Any]]
) -> list[str]:
    """Move what was made of parts that are no longer in the job, and drawings of places that are gone, to `made/old`, so
    that nothing old is taken for current; returns what was moved.  `current`: folders of the parts there are; `drawn`:
    names of the drawings.  Only files that a manifest or what was kept names are touched, and a folder of nothing else."""
    folders = {name: names for name, names in _listed(made, kept).items() if name not in {"..", *OWN, *current}}
    drawings = [
        p for p in (made / "drawings").glob("*.svg") if p.name.startswith(("section-", "face-")) and p.name not in drawn
    ]
    gone: list[Path] = []
    for name, names in sorted(folders.items()):
        if (folder := made / name).is_dir() and not folder.is_symlink():
            ours = [p for p in folder.iterdir() if p.name in names and p.is_file()]
            gone += [folder] if len(ours) == len(list(folder.iterdir())) else sorted(ours)
    moved = []
    for path in (*gone, *sorted(drawings)):
        if not path.is_symlink():
            to = made / OLD / path.relative_to(made)
            to.parent.mkdir(parents=True, exist_ok=True)
            path.rename(
                next(one for one in (to, *(to.with_stem(f"{to.stem}-{k}") for k in range(2, 1000))) if not one.exists())
            )
            moved.append(path.relative_to(made).as_posix())
    return moved


def _listed(made: Path, kept: Mapping[str, Mapping[str, Any]]) -> dict[str, set[str]]:
    """Folders and the files in them that were made of parts, by what is written of them; anything else is passed over."""
    try:
        parts = json.loads((made / "manifest.json").read_text(encoding="utf-8"))["parts"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        parts = []
    found: dict[str, set[str]] = {}
    for entry in (*(parts if isinstance(parts, list) else ()), *(one.get("entry") for one in kept.values())):
        files = entry.get("files") if isinstance(entry, dict) else None
        for name in files.values() if isinstance(files, dict) else ():
            folder, _, file = str(name).partition("/")
            if _FOLDER.fullmatch(folder) and len(folder.encode()) < 90 and file.endswith(_ENDINGS) and "/" not in file:
                found.setdefault(folder, set()).add(file)
    return found


NAME = ".cache/solids.json"


def read_kept(made: Path) -> dict[str, dict[str, Any]]:
    """What was kept; empty where nothing was, or where it cannot be read (it is made anew then)."""
    path = made / NAME
    try:
        held = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return held if isinstance(held, dict) and all(isinstance(v, dict) for v in held.values()) else {}


def write_kept(made: Path, kept: dict[str, dict[str, Any]]) -> None:
    """Keep it."""
    write_whole(made / NAME, (json.dumps(kept, indent=1, ensure_ascii=False) + "\n").encode())
