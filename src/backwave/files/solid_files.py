"""The files of a solid: STEP (ISO 10303-214), binary STL, 3MF (3MF Core Specification 1.4.0), all in millimeters.

STEP is written, read back and compared each time, for a kernel can drop faces without a word.  The time in its header is
always the same, and so is the number that the kernel counts up in each process, so that the same part is the same file;
the name goes in as the standard wants it, which the kernel does not do.  3MF is written by hand: a library would put the
time and fresh identifiers in, and the same part could not be told from a changed one."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from backwave.atomic_write import replace_on_success
from backwave.errors import BuildError
from backwave.plain_text import plain_text

if TYPE_CHECKING:
    from backwave.part.types import AdapterSpec


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
    """Write a solid, read the file back, and compare; the file stands only if they are the same. BuildError: what came
    back is not one solid with the same faces and volume."""
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


_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def stl_bytes(vertices_mm: NDArray[np.float64], triangles: NDArray[np.int64], words: str = "") -> bytes:
    """A mesh as binary STL."""
    corners = np.asarray(vertices_mm, dtype=np.float64)[np.asarray(triangles)]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normal, axis=1, keepdims=True)
    facets = np.zeros(len(corners), dtype=_FACET)
    facets["normal"] = np.divide(normal, size, out=np.zeros_like(normal), where=size > 0.0)
    facets["corners"] = corners
    # A header that begins with "solid" is taken for the text form by many readers.
    header = f"binary, millimeters. {plain_text(words)}".encode("ascii", "replace")[:80].ljust(80)
    return header + np.uint32(len(facets)).astype("<u4").tobytes() + facets.tobytes()


_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_MODEL = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
_OPC = "http://schemas.openxmlformats.org/package/2006"
_XML = '<?xml version="1.0" encoding="UTF-8"?>\n'
_TYPES = (
    f'{_XML}<Types xmlns="{_OPC}/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_RELS = (
    f'{_XML}<Relationships xmlns="{_OPC}/relationships">'
    f'<Relationship Target="/3D/3dmodel.model" Id="rel0" Type="{_MODEL}"/></Relationships>'
)
# Names the specification knows (3.4.1); any other needs a namespace of its own.
_KNOWN = ("Title", "Designer", "Description", "Copyright", "LicenseTerms", "Rating", "Application")
_OURS = "urn:backwave:part"


def threemf_bytes(
    vertices_mm: NDArray[np.float64], triangles: NDArray[np.int64], name: str, words: Mapping[str, str]
) -> bytes:
    """A mesh as a 3MF package; the same input gives the same bytes. `words`: metadata such as Title, Job, Revision;
    what the specification does not name is put under our namespace."""
    corners = np.asarray(vertices_mm, dtype=np.float64)
    corners = corners - corners.min(axis=0)
    named = {key if key in _KNOWN else f"bw:{key}": plain_text(value) for key, value in words.items()}
    data = "".join(f"<metadata name={quoteattr(key)}>{escape(text)}</metadata>" for key, text in named.items())
    points = "".join(f'<vertex x="{x:.6g}" y="{y:.6g}" z="{z:.6g}"/>' for x, y, z in corners.tolist())
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in np.asarray(triangles).tolist())
    model = (
        f'{_XML}<model unit="millimeter" xml:lang="en-US" xmlns="{_CORE}" xmlns:bw="{_OURS}">{data}'
        f'<resources><object id="1" type="model" name={quoteattr(plain_text(name))}><mesh>'
        f"<vertices>{points}</vertices><triangles>{faces}</triangles></mesh></object></resources>"
        '<build><item objectid="1"/></build></model>\n'
    )
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as pack:
        for path, text in (("[Content_Types].xml", _TYPES), ("_rels/.rels", _RELS), ("3D/3dmodel.model", model)):
            member = zipfile.ZipInfo(path, date_time=(1980, 1, 1, 0, 0, 0))
            member.compress_type, member.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            pack.writestr(member, text)
    return sink.getvalue()


def preview_stl(spec: AdapterSpec) -> bytes:
    """The part as binary STL, without lettering and without the files that go with it. BuildError: the kernel cannot
    make it."""
    from backwave.part.solid import preview_mesh

    made = preview_mesh(spec)
    return stl_bytes(made.vertices_mm, made.triangles, "preview")
