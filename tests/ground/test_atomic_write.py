"""A file is there whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from backwave.atomic_write import beside, write_whole


def test_written_where_it_was_to_be(tmp_path: Path) -> None:
    path = write_whole(tmp_path / "made" / "a.stl", b"12")
    assert path.read_bytes() == b"12"
    assert [p.name for p in path.parent.iterdir()] == ["a.stl"]


def test_an_error_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    path = write_whole(tmp_path / "a.step", b"old")

    def fail() -> None:
        with beside(path) as held:
            held.write_bytes(b"half")
            raise RuntimeError("kernel")

    with pytest.raises(RuntimeError, match="kernel"):
        fail()
    assert path.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.step"]


def test_others_may_read_it(tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.write_bytes(b"")
    assert write_whole(tmp_path / "ours", b"").stat().st_mode == plain.stat().st_mode
