"""The quick look at a part: closed, of the part's own size, by an outside reader of STL."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
import trimesh

from backwave.assess import assess
from backwave.files.solid_files import preview_stl
from backwave.job import load

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job"


@pytest.mark.kernel
def test_it_is_closed_and_as_large_as_the_part() -> None:
    spec = assess(load(DEMO), draws=500).parts[0].spec
    mesh = trimesh.load_mesh(io.BytesIO(preview_stl(spec)), file_type="stl")
    assert mesh.is_watertight
    assert mesh.extents[:2] == pytest.approx([182.0, 182.0], abs=0.2)
    assert mesh.volume > 0
