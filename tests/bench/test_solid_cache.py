"""Folders of parts that earlier workbenches left behind."""

from __future__ import annotations

import os
import time
from pathlib import Path

from backwave.bench.solids import MAX_AGE_S, clear_old

HOUR = 3600.0


def left(cache: Path, number: int, age_s: float, size: int = 1000) -> Path:
    folder = cache / f"{number:024x}"
    folder.mkdir(parents=True)
    (folder / "part.stl").write_bytes(bytes(size))
    when = time.time() - age_s
    for path in (folder / "part.stl", folder):
        os.utime(path, (when, when))
    return folder


def names(cache: Path) -> set[int]:
    return {int(folder.name, 16) for folder in cache.iterdir() if len(folder.name) == 24}


def test_what_is_old_goes(tmp_path: Path) -> None:
    for number, age in enumerate((0.0, 2 * HOUR, MAX_AGE_S - HOUR, MAX_AGE_S + HOUR, 10 * MAX_AGE_S)):
        left(tmp_path, number, age)
    assert clear_old(tmp_path) == 2
    assert names(tmp_path) == {0, 1, 2}


def test_the_oldest_go_until_the_rest_is_small_enough(tmp_path: Path) -> None:
    for number in range(6):
        left(tmp_path, number, (2 + number) * HOUR, 10_000)
    left(tmp_path, 9, 0.0, 1_000_000)  # of this hour: it stays, however large
    clear_old(tmp_path, keep=[f"{5:024x}"], max_bytes=1_030_000)
    assert names(tmp_path) == {9, 5, 0, 1}
    assert clear_old(tmp_path, max_bytes=10**9) == 0


def test_nothing_else_is_touched(tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    assert clear_old(cache) == 0
    gone = left(cache, 1, 2 * MAX_AGE_S)
    other = cache / "notes"
    other.mkdir()
    (cache / "open.html").write_text("x", encoding="utf-8")
    outside = tmp_path / "outside"
    outside.mkdir()
    (cache / f"{2:024x}").symlink_to(outside)
    for path in (other, cache / "open.html", outside):
        os.utime(path, (0, 0))
    assert clear_old(cache) == 1
    assert not gone.exists()
    assert other.exists()
    assert outside.exists()
    assert (cache / "open.html").exists()
