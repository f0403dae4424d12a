"""3MF: one mesh, millimeters, with words about it (3MF Core Specification 1.4.0).

Written by hand: a library would put the time and fresh identifiers in, and the same part could not be told from
a changed one.  Coordinates are moved into the positive octant (3.1 and 3.3 of the specification).
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from backwave.plain_text import plain_text

_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_MODEL = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
_OPC = "http://schemas.openxmlformats.org/package/2006"
_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
_TYPES = (
    f'{_HEAD}<Types xmlns="{_OPC}/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_RELS = (
    f'{_HEAD}<Relationships xmlns="{_OPC}/relationships">'
    f'<Relationship Target="/3D/3dmodel.model" Id="rel0" Type="{_MODEL}"/></Relationships>'
)
# Names the specification knows (3.4.1); any other needs a namespace of its own.
_KNOWN = ("Title", "Designer", "Description", "Copyright", "LicenseTerms", "Rating", "Application")
_OURS = "urn:backwave:part"


def threemf_bytes(
    vertices_mm: NDArray[np.float64], triangles: NDArray[np.int64], name: str, words: Mapping[str, str]
) -> bytes:
    """A mesh as a 3MF package; the same input gives the same bytes.

    `words`: metadata such as Title, Job, Revision; what the specification does not name is put under our
    namespace.
    """
    corners = np.asarray(vertices_mm, dtype=np.float64)
    corners = corners - corners.min(axis=0)
    data = "".join(f"<metadata name={quoteattr(_name(k))}>{escape(plain_text(v))}</metadata>" for k, v in words.items())
    points = "".join(f'<vertex x="{x:.6g}" y="{y:.6g}" z="{z:.6g}"/>' for x, y, z in corners.tolist())
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in np.asarray(triangles).tolist())
    model = (
        f'{_HEAD}<model unit="millimeter" xml:lang="en-US" xmlns="{_CORE}" xmlns:bw="{_OURS}">{data}'
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


def _name(key: str) -> str:
    return key if key in _KNOWN else f"bw:{key}"
