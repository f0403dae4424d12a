"""One lock a job, tried with threads and processes that die."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from backwave.atomic_write import LOCK, job_lock

HOLDER = """
import sys, time
from pathlib import Path
from backwave.atomic_write import job_lock
with job_lock(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def holder(folder: Path) -> subprocess.Popen[str]:
    other = subprocess.Popen([sys.executable, "-c", HOLDER, str(folder)], stdout=subprocess.PIPE, text=True)
    assert other.stdout is not None
    assert other.stdout.readline() == "held\n"
    return other


def test_a_thread_takes_it_twice_and_another_waits(tmp_path: Path) -> None:
    seen: list[str] = []

    def second() -> None:
        with job_lock(tmp_path):
            seen.append("second")

    with job_lock(tmp_path):
        with job_lock(tmp_path):
            thread = threading.Thread(target=second)
            thread.start()
        time.sleep(0.1)  # given back once, held still
        seen.append("first")
    thread.join(5)
    assert seen == ["first", "second"]


def test_it_is_free_once_its_holder_is_killed(tmp_path: Path) -> None:
    with holder(tmp_path) as other:
        with pytest.raises(TimeoutError, match="another backwave"), job_lock(tmp_path, 0.1):
            pass
        other.send_signal(signal.SIGKILL)
        other.wait(5)
        with job_lock(tmp_path, 1.0):
            pass


def test_one_left_behind_means_nothing_and_another_way_to_the_folder_is_the_same_lock(tmp_path: Path) -> None:
    real = tmp_path / "real"
    real.mkdir()
    (real / LOCK).write_text("left behind")
    (tmp_path / "link").symlink_to(real)
    with job_lock(tmp_path / "link"):
        other: list[BaseException] = []

        def second() -> None:
            try:
                with job_lock(real, 0.1):
                    pass
            except TimeoutError as error:
                other.append(error)

        thread = threading.Thread(target=second)
        thread.start()
        thread.join(5)
        assert other
    with job_lock(real, 0.1):
        pass
