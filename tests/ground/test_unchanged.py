"""A file is written only over what was seen there; whatever comes in between, by whatever program, is not lost."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from backwave import atomic_write
from backwave.atomic_write import clear_left, here, replace_on_success, write_if_unchanged, write_whole


@pytest.fixture(params=["exchanged", "compared"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    if request.param == "compared":
        monkeypatch.setattr(atomic_write, "_renameat2", lambda: None)
    elif atomic_write._renameat2() is None:
        pytest.skip("this system cannot exchange two names")
    return str(request.param)


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def test_written_over_what_was_seen_and_over_nothing_else(tmp_path: Path, way: str) -> None:
    path, kept = tmp_path / "job.toml", list[bytes]()
    assert write_if_unchanged(path, b"one", None, kept.append)
    assert not write_if_unchanged(path, b"two", None, kept.append)
    path.chmod(0o640)
    assert write_if_unchanged(path, b"two", b"one", kept.append)
    assert not write_if_unchanged(path, b"three", b"one", kept.append)
    assert (path.read_bytes(), path.stat().st_mode & 0o777, kept) == (b"two", 0o640, [])
    path.unlink()
    assert not write_if_unchanged(path, b"three", b"two", kept.append)
    assert names(tmp_path) == []


def test_what_an_editor_saves_between_the_look_and_the_step_stays(
    tmp_path: Path, way: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, kept = tmp_path / "job.toml", list[bytes]()
    path.write_bytes(b"seen")
    real = atomic_write._finish

    def meanwhile(held: Path, target: Path) -> None:
        real(held, target)
        path.write_bytes(b"theirs")

    monkeypatch.setattr(atomic_write, "_finish", meanwhile)
    assert not write_if_unchanged(path, b"ours", b"seen", kept.append)
    assert (path.read_bytes(), names(tmp_path), kept) == (b"theirs", ["job.toml"], [])


@pytest.mark.skipif(atomic_write._renameat2() is None, reason="this system cannot exchange two names")
def test_what_is_saved_at_the_very_step_goes_back_and_what_is_saved_once_more_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, kept = tmp_path / "job.toml", list[bytes]()
    path.write_bytes(b"seen")
    real, steps = atomic_write._exchanged, iter([b"theirs 1", b"theirs 2"])

    def at_the_step(a: Path, b: Path) -> bool:
        if (theirs := next(steps, None)) is not None:
            other = tmp_path / "editor"  # as editors do: a new file in the old one's place
            other.write_bytes(theirs)
            other.replace(path)
        return real(a, b)

    monkeypatch.setattr(atomic_write, "_exchanged", at_the_step)
    assert not write_if_unchanged(path, b"ours", b"seen", kept.append)
    assert (path.read_bytes(), names(tmp_path), kept) == (b"theirs 2", ["job.toml"], [b"theirs 1"])


@pytest.mark.skipif(atomic_write._renameat2() is None, reason="this system cannot exchange two names")
def test_an_editor_that_writes_in_place_goes_on_writing_in_place(tmp_path: Path) -> None:
    path, kept = tmp_path / "job.toml", list[bytes]()
    path.write_bytes(b"seen")
    with path.open("wb") as editor:  # cut short already, not written yet
        assert not write_if_unchanged(path, b"ours", b"seen", kept.append)
        editor.write(b"theirs")
    assert (path.read_bytes(), kept) == (b"theirs", [])


def test_a_link_stays_one(tmp_path: Path, way: str) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "job").mkdir()
    (tmp_path / "real/job.toml").write_bytes(b"one")
    (tmp_path / "job/job.toml").symlink_to(tmp_path / "real/job.toml")
    assert write_if_unchanged(tmp_path / "job/job.toml", b"two", b"one", print)
    assert (tmp_path / "job/job.toml").is_symlink()
    assert (tmp_path / "real/job.toml").read_bytes() == b"two"
    assert names(tmp_path / "real") == ["job.toml"]


def test_what_a_dead_process_left_is_cleared_and_nothing_else_is(tmp_path: Path) -> None:
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    living = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
    try:
        of_dead = f".backwave-{here()}-{dead.pid}-01234567.toml"
        of_living = f".backwave-{here()}-{living.pid}-01234567.toml"
        elsewhere, old = f".backwave-000000-{dead.pid}-01234567.toml", f".backwave-000000-{dead.pid}-01234568"
        others = [".backwave-notes.toml", ".czji1ub5.toml", "job.toml", f".backwave-{here()}-{dead.pid}-0123.toml"]
        for name in (of_dead, of_living, elsewhere, old, *others):
            (tmp_path / name).write_bytes(b"half")
        os.utime(tmp_path / old, (time.time() - 7200, time.time() - 7200))
        clear_left(tmp_path)
        assert set(names(tmp_path)) == {of_living, elsewhere, *others}
        (tmp_path / of_dead).write_bytes(b"half")
        atomic_write._cleared.discard(tmp_path)
        write_whole(tmp_path / "next.toml", b"")  # the first one that writes there clears
        assert of_dead not in names(tmp_path)
    finally:
        living.kill()
        living.wait()


def test_the_folder_is_on_the_disk_too_and_nobody_else_s_rights_are_touched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced, real = list[bool](), os.fsync
    monkeypatch.setattr(os, "fsync", lambda fd: (synced.append(os.path.isdir(f"/proc/self/fd/{fd}")), real(fd))[1])
    monkeypatch.setattr(os, "umask", lambda _: pytest.fail("the umask is the whole process's"))
    with replace_on_success(tmp_path / "a") as held:
        held.write_bytes(b"1")
    (tmp_path / "plain").write_bytes(b"")
    assert (tmp_path / "a").stat().st_mode == (tmp_path / "plain").stat().st_mode
    assert write_if_unchanged(tmp_path / "a", b"2", b"1", print)
    if Path("/proc/self/fd").exists():
        assert synced == [False, True, False, True], "the file before its name"
