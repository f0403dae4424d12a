"""Binary STL: an 80-byte header, a count, 50 bytes a triangle.  It has no units; these are millimeters."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.plain_text import plain_text

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


def read_stl(data: bytes) -> NDArray[np.float64]:
    """The triangles of a binary STL. Returns (m, 3, 3) mm."""
    count = int(np.frombuffer(data, "<u4", 1, 80)[0]) if len(data) >= 84 else -1
    if len(data) != 84 + 50 * count:
        raise InputError("STL", f"{len(data)} bytes", "a binary STL of 84 bytes and 50 a triangle")
    found: NDArray[np.float64] = np.frombuffer(data, _FACET, count, 84)["corners"].astype(np.float64)
    return found
