"""A part to look at while it is being changed: its mesh without lettering, in one call for a worker process."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backwave.part.types import AdapterSpec


def preview_stl(spec: AdapterSpec) -> bytes:
    """The part as binary STL, without lettering and without the files that go with it.

    BuildError: the kernel cannot make it.
    """
    from backwave.files.stl import stl_bytes
    from backwave.part.mesh import preview_mesh

    made = preview_mesh(spec)
    return stl_bytes(made.vertices_mm, made.triangles, "preview")
