"""Two hands on one job: nothing is written over that was not seen; what does not go together is asked."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
import tomllib
from pathlib import Path
from typing import Any

import pytest

from backwave import atomic_write
from backwave.errors import JobError
from backwave.job import disk, load
from backwave.job.disk import Presence
from backwave.job.session import Session

EXAMPLE = (Path(__file__).resolve().parents[2] / "docs/example-job.toml").read_text(encoding="utf-8")
HAND = """
import sys, time
from pathlib import Path
from backwave.job import disk
from backwave.job.session import Session
folder, name, count, kind = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), sys.argv[4]
session = Session(folder, delay_s=0.01) if kind == "page" else None
for n in range(count):
    path = ("instruments", f"{name}-{n}")
    if session is None:
        disk.update(folder, [(path, "1 mm")])
    else:
        assert session.set(path, "1 mm") == ()
        session.poll()
        time.sleep(0.012)
        session.poll()
if session is not None:
    assert session.close() is None, "no conflict: each has keys of its own"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "job.toml").write_text(EXAMPLE, encoding="utf-8")
    return tmp_path


def disk_data(folder: Path) -> dict[str, Any]:
    return tomllib.loads((folder / "job.toml").read_text(encoding="utf-8"))


def test_three_processes_on_one_job_lose_no_edit(folder: Path) -> None:
    kinds, count = ("page", "page", "command"), 12
    hands = [
        subprocess.Popen([sys.executable, "-c", HAND, str(folder), f"hand{n}", str(count), kind])
        for n, kind in enumerate(kinds)
    ]
    assert [hand.wait(120) for hand in hands] == [0, 0, 0]
    held = disk_data(folder)["instruments"]
    assert sorted(k for k in held if k.startswith("hand")) == sorted(
        f"hand{n}-{k}" for n in range(3) for k in range(count)
    )


def test_a_text_editor_that_saves_at_the_very_moment_of_a_save_loses_nothing(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = Session(folder, delay_s=0)
    real, once = atomic_write._finish, [True]

    def meanwhile(held: Path, target: Path) -> None:
        real(held, target)
        if target.name == "job.toml" and once.pop() if once else False:
            (folder / "job.toml").write_text(EXAMPLE.replace('"0.8 mm"', '"0.9 mm"', 1), encoding="utf-8")

    monkeypatch.setattr(atomic_write, "_finish", meanwhile)
    assert session.set(("title",), "New") == ()
    session.flush()
    door = disk_data(folder)["opening"][0]
    assert (disk_data(folder)["title"], door["skin"], session.conflict, session.saved) == ("New", "0.9 mm", None, True)


def test_a_command_writes_beside_what_was_edited_meanwhile_and_never_over_it(folder: Path) -> None:
    read = load(folder)
    page = Session(folder, delay_s=0)
    assert page.set(("opening", 0, "skin"), "1 mm") == ()
    page.flush()
    disk.update(folder, [("speaker.demo-165.rim", "5 mm")], on=read)
    with pytest.raises(JobError) as caught:
        disk.update(folder, [("opening.front-door.skin", "2 mm"), ("title", "x")], on=read)
    assert [(p.key, p.message) for p in caught.value.problems] == [
        ("opening.front-door.skin", "edited elsewhere meanwhile")
    ]
    held = disk_data(folder)
    assert (held["opening"][0]["skin"], held["speaker"][0]["rim"]) == ("1 mm", "5 mm")
    assert held["title"] == tomllib.loads(EXAMPLE)["title"], "all or nothing"


def test_what_cannot_go_into_the_file_in_the_end_is_kept_beside_it(folder: Path) -> None:
    session = Session(folder, delay_s=60)
    assert session.set(("opening", 0, "skin"), "1 mm") == ()
    (folder / "job.toml").write_text(EXAMPLE.replace('"0.8 mm"', '"0.9 mm"', 1), encoding="utf-8")
    kept = session.close()
    assert kept is not None
    assert kept.name.startswith("job.toml.mine-")
    assert tomllib.loads(kept.read_text(encoding="utf-8"))["opening"][0]["skin"] == "1 mm"
    assert disk_data(folder)["opening"][0]["skin"] == "0.9 mm"


def test_a_save_waits_for_another_process_and_says_so_where_that_takes_too_long(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from backwave.atomic_write import job_lock

    monkeypatch.setattr("backwave.job.session.WAIT_S", 0.05)
    session, go = Session(folder, delay_s=0), threading.Event()
    held = threading.Event()

    def other() -> None:
        with job_lock(folder):
            held.set()
            go.wait(10)

    thread = threading.Thread(target=other)
    thread.start()
    held.wait(10)
    assert session.set(("title",), "New") == ()
    assert session.poll()
    assert "another backwave" in session.said
    assert not session.saved
    go.set()
    thread.join()
    session.flush()
    assert (disk_data(folder)["title"], session.said) == ("New", "")


def test_a_second_workbench_is_told_of_the_first_and_of_none_that_is_gone(folder: Path) -> None:
    first = Presence(folder, 8137)
    assert first.look() == ()
    place = next((folder / "made/.cache/open").iterdir())
    sleeper = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
    try:  # as another process sees it
        other = place.with_name(place.name.replace(str(os.getpid()), str(sleeper.pid)))
        other.write_text(json.dumps({"host": "x", "pid": sleeper.pid, "port": 8138}), encoding="utf-8")
        (said,) = first.look()
        assert "http://127.0.0.1:8138/" in said
        os.utime(other, (time.time() - 600, time.time() - 600))
        assert first.look() == (), "not renewed any more"
        other.write_text(json.dumps({"host": "x", "pid": sleeper.pid, "port": 8138}), encoding="utf-8")
    finally:
        sleeper.kill()
        sleeper.wait()
    assert first.look() == ()
    assert not other.exists()
    first.end()
    assert not place.exists()


def test_a_job_file_that_is_a_link_stays_one(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "job").mkdir()
    (tmp_path / "real/van.toml").write_text(EXAMPLE, encoding="utf-8")
    (tmp_path / "job/job.toml").symlink_to(tmp_path / "real/van.toml")
    session = Session(tmp_path / "job", delay_s=0)
    assert session.set(("title",), "Page") == ()
    session.flush()
    disk.update(tmp_path / "job", [("opening.front-door.skin", "1 mm")])
    assert (tmp_path / "job/job.toml").is_symlink()
    held = tomllib.loads((tmp_path / "real/van.toml").read_text(encoding="utf-8"))
    assert (held["title"], held["opening"][0]["skin"]) == ("Page", "1 mm")


def test_what_is_half_written_is_no_content_and_goes_with_the_next_start(folder: Path) -> None:
    from backwave.files.photos import pictures_in
    from backwave.job.shelf import find, listing, save

    shelf = folder / "shelf"
    save(load(folder), "opening", "front-door", "me", shelf=shelf)
    drawer = next((shelf / "openings").iterdir())
    (folder / "photos").mkdir(exist_ok=True)
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    left = [
        place / f".backwave-{atomic_write.here()}-{gone.pid}-0123456{n}{end}"
        for n, (place, end) in enumerate(((folder, ".toml"), (drawer, ".toml"), (folder / "photos", ".jpg")))
    ]
    for path in left:
        path.write_bytes(b"half")
    assert pictures_in(folder) == frozenset()
    found = listing(shelf)
    assert ([e.id for e in found.entries], found.problems) == (["front-door"], ())
    assert find("front-door", shelf).name == "front-door.toml"
    Session(folder)
    assert not any(path.exists() for path in left)
