"""`manifest.json`: what was made, as `make --json` prints it; and what `make` keeps of each solid, under its digest.

Lengths in millimeters; no NaN; no time, no host.  Files are named with their digests: the same part has the same ones,
whenever it is made.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from backwave.atomic_write import write_whole
from backwave.errors import InputError
from backwave.files.solid_files import StepFacts
from backwave.part.flat_patterns import FlatPart
from backwave.part.process_checks import PrintEstimate
from backwave.part.types import StandInSpec


@dataclass(frozen=True)
class ManifestEntry:
    """One part that was made."""

    id: str
    side: str
    revision: str  # digest of what it was made from
    files: Mapping[str, Path]  # where each kind ("step", "stl", "3mf", "dxf", "template") was written
    volume_mm3: float | None  # of the solid as drawn; None, like the next three, where there is none
    mass_kg: float | None
    bounds_mm: tuple[float, float, float] | None  # size over all, as drawn
    closed: bool | None  # whether its mesh closes
    least_wall_mm: float | None = None  # measured on the solid
    step: StepFacts | None = None  # what was read back
    estimate: PrintEstimate | None = None  # of a print
    scale: float = 1.0  # the meshes were made larger by this; STEP and DXF are as drawn
    hole_extra_mm: float = 0.0  # and their round holes by this
    layers: tuple[FlatPart, ...] = ()  # of a part from sheet
    stopped_by: tuple[str, ...] = ()  # codes of what stops it
    made_anyway: str = ""  # the reason to make it all the same; "": it was not made
    flags: tuple[str, ...] = ()  # what it rests on without a reading
    dummy: StandInSpec | None = None  # what is tried first


def manifest_dict(entries: Sequence[ManifestEntry], base: Path) -> dict[str, Any]:
    """The document of `make --json`."""
    return {"parts": [_entry(e, base) for e in entries]}


def document_bytes(parts: Sequence[Mapping[str, Any]], title: str = "", job: str = "") -> bytes:
    """The file from entries that are plain values already, such as those kept from an earlier run."""
    said = {"title": title, "job": job, "parts": list(parts)}
    return (json.dumps(said, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _entry(e: ManifestEntry, base: Path) -> dict[str, Any]:
    files = {kind: _relative(path, base) for kind, path in e.files.items()}
    return {
        "id": e.id,
        "side": e.side,
        "revision": e.revision,
        "files": files,
        "sha256": {k: hashlib.sha256(p.read_bytes()).hexdigest() for k, p in e.files.items()},
        "volume_mm3": _number(e.volume_mm3),
        "mass_kg": _number(e.mass_kg),
        "bounds_mm": None if e.bounds_mm is None else [_number(x) for x in e.bounds_mm],
        "closed": e.closed,
        "least_wall_mm": _number(e.least_wall_mm),
        "read_back": None if e.step is None else {"faces": e.step.faces_read, "volume_mm3": e.step.volume_read_mm3},
        "print": None if e.estimate is None else _print(e),
        "sheet": {"layers": [_layer(part) for part in e.layers]} if e.layers else None,
        "stopped_by": list(e.stopped_by),
        "made_anyway": e.made_anyway or None,
        "flags": list(e.flags),
        "dummy": None if e.dummy is None else _dummy(e.dummy),
    }


def _dummy(spec: StandInSpec) -> dict[str, Any]:
    """What it proves, under the code that stands on it."""
    return {
        "code": spec.code,
        "stand_off_mm": spec.seat_height_mm,
        "margin_mm": spec.margin_mm,
        "deeper": [{"from_deg": a, "to_deg": b, "margin_mm": m} for a, b, m in spec.deeper],
        "terminals_deg": None if spec.terminals_mm is None else spec.terminals_mm[0],
    }


def _print(e: ManifestEntry) -> dict[str, Any]:
    assert e.estimate is not None
    return {
        "layers": e.estimate.layers,
        "filament_m": _number(e.estimate.filament_m),
        "estimated_time_s": _number(e.estimate.time_s),
        "solid_walls": e.estimate.solid_walls,
        "mesh_scale": e.scale,
        "mesh_hole_extra_mm": e.hole_extra_mm,
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


def _number(value: float | None) -> float | None:
    return None if value is None or not isfinite(value) else float(value)


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
