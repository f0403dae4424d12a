"""STEP (ISO 10303-214): written, read back and compared each time, for a kernel can drop faces without a word.

The time in its header is always the same, and so is the number that the kernel counts up in each process, so that the
same part is the same file.  The name goes in as the standard wants it, which the kernel does not do.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from backwave.atomic_write import replace_on_success
from backwave.errors import BuildError
from backwave.plain_text import plain_text

CLOSE = 1e-6  # relative, on the volume
_LABEL = "@BW@"  # stands for the name until the file is written; short, so that the kernel breaks no line within
_COUNTED = re.compile(rb"(NEXT_ASSEMBLY_USAGE_OCCURRENCE\()'\d+'")
_NO_TIME = datetime(1980, 1, 1)  # the zero of zip archives too; ISO 10303-21 wants some time


@dataclass(frozen=True)
class StepFacts:
    """What was written and what came back."""

    faces: int  # faces of the solid, and of the file read back
    faces_read: int
    volume_mm3: float
    volume_read_mm3: float


def write_step(solid: Any, path: Path, name: str = "part") -> StepFacts:
    """Write a solid, read the file back, and compare; the file stands only if they are the same.

    BuildError: what came back is not one solid with the same faces and volume.
    """
    from build123d import export_step

    bodies = solid.solids()
    if len(bodies) != 1:
        raise BuildError("STEP file", f"{len(bodies)} bodies where one was to be written")
    body = bodies[0]
    body.label = _LABEL
    sink = io.BytesIO()
    if not export_step(body, sink, timestamp=_NO_TIME):
        raise BuildError("STEP file", "the kernel did not write it")
    text = _COUNTED.sub(rb"\1'1'", sink.getvalue()).replace(f"'{_LABEL}'".encode(), step_string(name).encode())
    with replace_on_success(path) as held:
        held.write_bytes(text)
        return _compare(body, read_step(held))


def step_string(text: str) -> str:
    r"""A text as a string of ISO 10303-21 (6.4.3): quoted, and letters beyond ASCII by their numbers."""

    def coded(found: re.Match[str]) -> str:
        wide = any(ord(c) > 0xFFFF for c in found[0])
        numbers = "".join(f"{ord(c):0{8 if wide else 4}X}" for c in found[0])
        return f"\\X{4 if wide else 2}\\{numbers}\\X0\\"

    quoted = plain_text(text).replace("\\", "\\\\").replace("'", "''")
    return f"'{re.sub('[^ -~]+', coded, quoted)}'"


def read_step(path: Path) -> Any:
    """What a STEP file holds. Returns mm."""
    from build123d import import_step

    return import_step(str(path))


def _compare(body: Any, read: Any) -> StepFacts:
    solids = read.solids()
    if len(solids) != 1:
        raise BuildError("STEP file", f"read back as {len(solids)} solids where 1 was written")
    found = StepFacts(len(body.faces()), len(solids[0].faces()), float(body.volume), float(solids[0].volume))
    if found.faces != found.faces_read:
        raise BuildError("STEP file", f"{found.faces} faces written, {found.faces_read} read back")
    if abs(found.volume_read_mm3 - found.volume_mm3) > CLOSE * abs(found.volume_mm3):
        raise BuildError("STEP file", f"{found.volume_mm3:.3f} mm3 written, {found.volume_read_mm3:.3f} mm3 read back")
    return found
