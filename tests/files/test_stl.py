"""STL: judged by an independent checker and by another library."""

from __future__ import annotations

import io
import re
import subprocess
from pathlib import Path

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray

from backwave.files.solid_files import stl_bytes

# A cube of 10 mm, corners counted in binary x, y, z; counter-clockwise from outside.
CUBE = np.array([[x, y, z] for x in (0.0, 10.0) for y in (0.0, 10.0) for z in (0.0, 10.0)])
_SIDES = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
FACES = np.array([t for a, b, c, d in _SIDES for t in ((a, b, c), (a, c, d))])


_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def read_stl(data: bytes) -> NDArray[np.float64]:
    """The triangles of a binary STL, (m, 3, 3)."""
    count = int(np.frombuffer(data, "<u4", 1, 80)[0])
    assert len(data) == 84 + 50 * count
    found: NDArray[np.float64] = np.frombuffer(data, _FACET, count, 84)["corners"].astype(np.float64)
    return found


def admesh(path: Path) -> tuple[dict[str, int], float]:
    """What admesh counts in a file before it repairs anything, and the volume it finds."""
    said = subprocess.run(["admesh", str(path)], capture_output=True, check=True, encoding="latin-1").stdout
    counts = {
        key: int(match[1])
        for key, pattern in {
            "facets": r"Number of facets\s*:\s*(\d+)",
            "disconnected": r"Total disconnected facets\s*:\s*(\d+)",
            "degenerate": r"Degenerate facets\s*:\s*(\d+)",
            "reversed": r"Facets reversed\s*:\s*(\d+)",
            "parts": r"Number of parts\s*:\s*(\d+)",
        }.items()
        if (match := re.search(pattern, said)) is not None
    }
    volume = re.search(r"Volume\s*:\s*(-?[\d.]+)", said)
    assert volume is not None, said
    assert {"facets", "disconnected"} <= set(counts), said
    return counts, float(volume[1])


def test_an_independent_checker_finds_the_cube_closed(tmp_path: Path) -> None:
    (tmp_path / "cube.stl").write_bytes(stl_bytes(CUBE, FACES))
    counts, volume = admesh(tmp_path / "cube.stl")
    assert counts["facets"] == 12
    assert counts["disconnected"] == counts["degenerate"] == counts["reversed"] == 0
    assert counts["parts"] == 1
    assert volume == pytest.approx(1000.0)


def test_the_checker_is_not_blind(tmp_path: Path) -> None:
    (tmp_path / "open.stl").write_bytes(stl_bytes(CUBE, FACES[1:]))
    assert admesh(tmp_path / "open.stl")[0]["disconnected"] > 0


def test_another_library_reads_the_same() -> None:
    data = stl_bytes(CUBE, FACES, "cube")
    mesh = trimesh.load(io.BytesIO(data), file_type="stl", process=True)
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(1000.0)
    assert mesh.face_normals[0] == pytest.approx([-1.0, 0.0, 0.0])
    np.testing.assert_allclose(read_stl(data), CUBE[FACES])


def test_header_is_not_taken_for_text() -> None:
    data = stl_bytes(CUBE, FACES, "ß " * 100)
    assert len(data) == 84 + 12 * 50
    assert not data.startswith(b"solid")


def test_float32_is_all_that_is_lost() -> None:
    rng = np.random.default_rng(3)
    points: NDArray[np.float64] = rng.uniform(-200.0, 200.0, (30, 3))
    faces = rng.permutation(30).reshape(-1, 3)
    assert np.abs(read_stl(stl_bytes(points, faces)) - points[faces]).max() < 2e-5
