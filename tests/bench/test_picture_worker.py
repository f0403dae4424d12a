"""Pictures from phones are unfolded elsewhere: the workbench itself stays as large as it was."""

from __future__ import annotations

import io
import resource
import sys
import zlib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from PIL import Image

from backwave.bench import work_sync
from backwave.errors import InputError


@pytest.fixture(scope="module")
def worker() -> Iterator[work_sync.PictureWorker]:
    made = work_sync.PictureWorker()
    yield made
    made.close()


def png(width: int, height: int, mode: str = "RGBA") -> bytes:
    out = io.BytesIO()
    Image.new(mode, (width, height)).save(out, "PNG")
    return out.getvalue()


def memory() -> int:
    return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * resource.getpagesize()


def test_a_picture_as_the_page_sends_it_comes_back_clean(worker: work_sync.PictureWorker) -> None:
    out = io.BytesIO()
    Image.new("RGB", (1600, 1200), "red").save(out, "JPEG")
    with Image.open(io.BytesIO(worker.clean(out.getvalue()))) as kept:
        assert (kept.format, kept.size) == ("JPEG", (1600, 1200))


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="needs /proc")
def test_eight_hostile_pictures_at_once_leave_the_workbench_as_large_as_it_was(worker: work_sync.PictureWorker) -> None:
    """Each a small file that unfolds to 80 MB (4,472 points wide and high, four bytes a point)."""
    worker.clean(png(10, 10))
    data = png(4472, 4472)
    assert len(data) < 100_000
    before = memory()

    def send(_: int) -> str:
        try:
            worker.clean(data)
        except InputError as error:
            return str(error)
        return "taken"

    with ThreadPoolExecutor(8) as pool:
        said = list(pool.map(send, range(8)))
    assert all("at most 3 million" in one for one in said), said
    assert memory() - before < 20_000_000


@pytest.mark.skipif(sys.platform != "linux", reason="the system has no such limit")
def test_what_takes_too_much_memory_after_all_is_refused_and_the_next_is_taken(
    worker: work_sync.PictureWorker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(work_sync, "MAX_PIXELS", 120_000_000)
    with pytest.raises(InputError, match="too much memory"):
        worker.clean(png(10_000, 10_000, "L"))
    monkeypatch.undo()
    assert worker.clean(png(10, 10))


def test_a_header_that_lies_about_its_size_is_refused(worker: work_sync.PictureWorker) -> None:
    data = bytearray(png(40, 40))
    data[16:24] = (2**31 - 1).to_bytes(4, "big") * 2  # IHDR (PNG, 11.2.1): width and height
    data[29:33] = zlib.crc32(data[12:29]).to_bytes(4, "big")
    with pytest.raises(InputError):
        worker.clean(bytes(data))


def test_too_many_at_once_are_told_so(worker: work_sync.PictureWorker) -> None:
    held = [worker._waiting.acquire(blocking=False) for _ in range(work_sync.MAX_WAITING)]
    try:
        with pytest.raises(InputError, match="send it again"):
            worker.clean(png(10, 10))
    finally:
        for _ in held:
            worker._waiting.release()
    assert worker.clean(png(10, 10))
