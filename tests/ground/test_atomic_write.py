"""A file is there whole or not at all."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from backwave.atomic_write import replace_on_success, write_whole


def test_written_where_it_was_to_be(tmp_path: Path) -> None:
    path = write_whole(tmp_path / "made" / "a.stl", b"12")
    assert path.read_bytes() == b"12"
    assert [p.name for p in path.parent.iterdir()] == ["a.stl"]


def test_an_error_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    path = write_whole(tmp_path / "a.step", b"old")

    def fail() -> None:
        with replace_on_success(path) as held:
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


def test_what_the_system_refuses_names_the_file_that_was_to_be(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write_whole(tmp_path / "a.step", b"old")

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "full")

    for name in ("fsync", "open"):
        with monkeypatch.context() as there:
            there.setattr(f"os.{name}", full)
            with pytest.raises(OSError, match="full") as caught:
                write_whole(path, b"new")
        assert caught.value.filename == str(path)
    assert path.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.step"]


@pytest.mark.skipif(os.name == "nt", reason="devices and pipes as on Unix")
def test_a_folder_or_a_device_is_never_written_over(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "null").symlink_to(os.devnull)
    for name, code in (("folder", errno.EISDIR), ("pipe", errno.ENXIO), ("null", errno.ENXIO)):
        with pytest.raises(OSError, match=name) as caught:
            write_whole(tmp_path / name, b"x")
        assert caught.value.errno == code
    assert {p.name for p in tmp_path.iterdir()} == {"folder", "pipe", "null"}
