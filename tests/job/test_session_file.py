"""The edit session and its file: saved whole, outside edits taken in, a conflict that loses neither version.

`tomllib` judges what was written.
"""

from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from backwave.errors import JobError, MissingError
from backwave.job import load
from backwave.job.session import Session
from backwave.job.undo import Append, Put
from tests.job.sessions import FLANGE, SKIN, TRIM, conflict, disk, held_by, outside, value

# -- the file ---------------------------------------------------------------------------------------------------


def test_an_outside_edit_appears_and_can_be_broken_and_mended(session: Session) -> None:
    outside(session, '"37 mm"', '"38 mm"')
    assert session.poll()
    assert (value(session, TRIM), session.revision) == ("38 mm", 1)
    outside(session, '"38 mm"', '"38 kg"')
    assert session.poll()
    assert [p.key for p in session.faults] == ["opening.front-door.trim.clear"]
    assert value(session, TRIM) == "38 mm"
    assert not session.poll()  # said once
    session.flush()
    assert '"38 kg"' in disk(session)  # nothing of theirs is written over
    outside(session, '"38 kg"', '"39 mm"')
    assert session.poll()
    assert (session.faults, value(session, TRIM)) == ((), "39 mm")


def test_edits_of_different_keys_are_both_kept(folder: Path) -> None:
    session = Session(folder, delay_s=60)
    assert session.set(TRIM, "36 mm") == ()
    assert session.set(("opening", 0, "behind", 1, "clear"), "54 mm") == ()
    assert session.set_many([Append("seat", {"id": "guest", "ear": ["1 m", "1 m", "1 m"]})]) == ()
    outside(session, 'skin    = "0.8 mm"', 'skin    = "0.9 mm"  # measured again')
    outside(session, "[[opening]]", '[[opening]]\nid = "new"\nhole = { diameter = "90 mm" }\n\n[[opening]]')
    assert session.poll()
    assert (session.conflict, session.saved) == (None, False)
    session.flush()
    file = load(folder).file
    door = file.opening[1]
    assert (door.id, door.trim.clear.text, door.skin.text) == ("front-door", "36 mm", "0.9 mm")  # type: ignore[union-attr]
    assert door.behind[1].clear.text == "54 mm"  # type: ignore[index, union-attr]
    assert [s.id for s in file.seat][-1] == "guest"
    assert "# measured again" in disk(session)
    assert session.undo()
    assert session.undo()
    assert session.undo()
    door = session.job.file.opening[1]
    assert (door.trim.clear.text, door.skin.text) == ("37 mm", "0.9 mm")  # type: ignore[union-attr]


@pytest.mark.parametrize("keep", ["mine", "theirs"])
@pytest.mark.parametrize("theirs", ["38 mm", "38 kg"])
def test_a_conflict_asks_and_keeps_both(folder: Path, keep: Any, theirs: str) -> None:
    session = Session(folder, delay_s=0)
    assert session.set(TRIM, "36 mm") == ()
    outside(session, '"37 mm"', f'"{theirs}"')
    assert session.poll()
    assert conflict(session)
    assert "opening.front-door.trim.clear" in held_by(session).keys
    held = disk(session)
    session.flush()
    assert disk(session) == held == held_by(session).theirs
    assert session.set(SKIN, "1 mm") == ()  # work goes on
    assert held_by(session).mine == session.text
    mine = session.text
    session.resolve(keep)
    kept = next(folder.glob("job.toml.*-*"))
    won, lost = (mine, held) if keep == "mine" else (held, mine)
    assert kept.name.startswith("job.toml.theirs" if keep == "mine" else "job.toml.mine")
    assert (disk(session), kept.read_text(encoding="utf-8")) == (won, lost)
    assert kept.name in session.said
    assert not conflict(session)
    assert bool(session.faults) == (keep == "theirs" and theirs == "38 kg")
    assert session.saved
    session.resolve("mine")  # nothing to end
    assert len(list(folder.glob("job.toml.*-*"))) == 1


def test_a_conflict_ends_by_itself_when_ours_is_taken_back_or_theirs_is(folder: Path) -> None:
    session = Session(folder, delay_s=60)
    before = session.text
    for end in ("undo", "outside"):
        assert session.set(TRIM, "36 mm") == ()
        outside(session, 'clear = "37 mm"', 'clear = "38 mm"')
        session.poll()
        assert conflict(session)
        if end == "undo":
            assert session.undo()
            assert (conflict(session), session.saved, value(session, TRIM)) == (None, True, "38 mm")
            (folder / "job.toml").write_bytes(before.encode())
            session.poll()
        else:
            outside(session, 'clear = "38 mm"', 'clear = "37 mm"')
            session.poll()
            assert (conflict(session), value(session, TRIM)) == (None, "36 mm")


def test_an_edit_made_while_the_file_is_broken_outside_is_not_lost(folder: Path) -> None:
    session = Session(folder, delay_s=0)
    good = disk(session)
    (folder / "job.toml").write_bytes(b"format = 1\n\xff")
    assert session.poll()
    assert session.faults
    assert session.set(TRIM, "36 mm") == ()
    assert session.poll()
    assert conflict(session)
    assert (folder / "job.toml").read_bytes() == b"format = 1\n\xff"
    (folder / "job.toml").write_bytes(good.encode())
    assert session.poll()
    assert (conflict(session), session.faults, session.saved) == (None, (), True)
    assert load(folder).file.opening[0].trim.clear.text == "36 mm"  # type: ignore[union-attr]


def test_a_file_that_is_gone_is_said_and_written_anew_by_the_next_edit(session: Session) -> None:
    (session.folder / "job.toml").unlink()
    assert session.poll()
    assert session.faults[0].message == "the file is gone"
    assert session.set(SKIN, "1 mm") == ()
    assert session.poll()
    assert (session.faults, disk(session)) == ((), session.text)


def test_two_sessions_on_one_folder_see_each_other_and_share_undo(folder: Path) -> None:
    one, two = Session(folder, delay_s=0), Session(folder, delay_s=0)
    before = one.text
    assert one.set(TRIM, "36 mm") == ()
    assert two.set(SKIN, "1 mm") == ()
    assert one.poll()
    assert two.poll()
    assert one.poll()
    assert one.text == two.text
    assert (value(one, TRIM), value(one, SKIN)) == ("36 mm", "1 mm")
    assert two.undo()
    two.flush()
    assert one.poll()
    assert one.set(TRIM, "35 mm") == ()
    one.flush()
    two.poll()
    assert two.undo()
    assert value(two, TRIM) == "36 mm"
    assert one.text != before


def test_a_save_that_fails_is_said_and_tried_again(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError("the disk is full")

    before = disk(session)
    with monkeypatch.context() as broken:
        broken.setattr("backwave.job.session.write", full)
        assert session.set(SKIN, "1 mm") == ()
        assert session.poll()
        assert "disk is full" in session.said
        with pytest.raises(OSError, match="disk is full"):
            session.flush()
    assert (disk(session), session.saved) == (before, False)
    session.flush()
    assert (disk(session), session.said) == (session.text, "")


@pytest.mark.parametrize("when", [1, 2])
def test_a_process_killed_during_a_save_leaves_whole_files(folder: Path, when: int) -> None:
    """Killed as it writes the log (1) or the job (2), after the file beside is written and before it is moved."""
    before = (folder / "job.toml").read_text(encoding="utf-8")
    code = (
        "import os, pathlib, signal, sys\nfrom backwave.job.session import Session\n"
        "calls, real = [], os.fsync\n"
        "def fsync(fd):\n    calls.append(fd)\n"
        f"    os.kill(os.getpid(), signal.SIGKILL) if len(calls) == {when} else real(fd)\n"
        "os.fsync = fsync\ns = Session(pathlib.Path(sys.argv[1]))\n"
        "s.set(('opening', 0, 'skin'), '1 mm')\ns.flush()"
    )
    done = subprocess.run([sys.executable, "-c", code, str(folder)], check=False)
    assert done.returncode == -9
    assert (folder / "job.toml").read_text(encoding="utf-8") == before
    session = Session(folder)
    assert session.said == ""
    assert session.text == before
    assert not session.undo()  # an edit that never reached the file
    assert (session.text, "Cannot undo" in session.said) == (before, when == 2)


def test_an_older_edition_is_kept_beside_and_written_with_the_first_edit(folder: Path) -> None:
    path = folder / "job.toml"
    old = path.read_text(encoding="utf-8").replace("format = 1", "format = 0").replace("title  =", "name  =", 1)
    path.write_bytes(old.encode())
    session = Session(folder, delay_s=0)
    assert not session.poll()
    assert disk(session) == old
    assert session.set(SKIN, "1 mm") == ()
    session.flush()
    assert (folder / "job.toml.format0").read_text(encoding="utf-8") == old
    assert disk(session) == session.text
    assert load(folder).file.title == "Night-round delivery van"


def test_a_session_needs_a_job_that_is_right(tmp_path: Path) -> None:
    with pytest.raises(MissingError):
        Session(tmp_path)
    (tmp_path / "job.toml").write_text("format = 99", encoding="utf-8")
    with pytest.raises(JobError, match="newer"):
        Session(tmp_path)


def test_many_threads_lose_no_edit(folder: Path) -> None:
    session = Session(folder, delay_s=0)
    margins = ["glass", "grille", "metal", "hole"]

    def work(name: str) -> None:
        for n in range(1, 6):
            assert session.set(("margins", name), f"{n}.5 mm") == ()
            session.poll()

    threads = [threading.Thread(target=work, args=(name,)) for name in margins]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    session.flush()
    assert [value(session, ("margins", name)) for name in margins] == ["5.5 mm"] * 4
    assert session.revision == 20
    assert load(folder).file == session.job.file


def test_a_trace_drawn_anew_is_taken_in(folder: Path) -> None:
    ring = 'outline = [[90, 0], [0, 90], [-90, 0], [0, -90]]\nseen_from = "front"\n'
    (folder / "photos").mkdir(exist_ok=True)
    (folder / "photos/ring.toml").write_text(ring, encoding="utf-8")
    session = Session(folder, delay_s=0)
    assert session.set_many([Put(("opening", 0, k), v) for k, v in (("fixings", None), ("flange", FLANGE))]) == ()
    session.poll()
    revision = session.revision
    (folder / "photos/ring.toml").write_text(ring.replace("90, 0", "95, 0"), encoding="utf-8")
    assert session.poll()
    assert session.revision == revision + 1
    assert not session.poll()


def test_subscribers_are_told_of_saves_and_faults_too(session: Session) -> None:
    seen: list[tuple[bool, int]] = []

    def told() -> Iterator[None]:
        seen.append((session.saved, len(session.faults)))
        yield

    session.subscribe(lambda: next(told()))
    session.set(SKIN, "1 mm")
    session.poll()
    outside(session, '"1 mm"', '"1 kg"')
    session.poll()
    assert seen == [(False, 0), (True, 0), (True, 1)]


@pytest.mark.parametrize("keep", ["mine", "theirs"])
def test_what_is_typed_over_a_value_that_was_edited_outside_meanwhile_is_asked(folder: Path, keep: Any) -> None:
    """Whichever comes in first: the outside edit was not seen by whoever typed, so neither goes over the other."""
    session = Session(folder, delay_s=0)
    before = disk(session)
    outside(session, 'skin    = "0.8 mm"', 'skin    = "0.9 mm"')
    session.poll()
    outside(session, 'skin    = "0.9 mm"', 'skin    = "1.0 mm"')
    session.poll()
    assert session.set(SKIN, "1.2 mm", seen="0.8 mm") == ()
    session.poll()
    assert held_by(session).keys == ("opening.front-door.skin",)
    assert '"1.0 mm"' in disk(session)
    assert '"1.2 mm"' in session.text
    session.resolve(keep)
    session.flush()
    assert disk(session) == before.replace('"0.8 mm"', '"1.2 mm"' if keep == "mine" else '"1.0 mm"', 1)
    kept = next(p for p in folder.iterdir() if p.name.startswith("job.toml."))
    assert ('"1.0 mm"' if keep == "mine" else '"1.2 mm"') in kept.read_text(encoding="utf-8"), "the other one"


def test_what_was_typed_over_an_outside_edit_can_be_taken_back(session: Session) -> None:
    outside(session, 'skin    = "0.8 mm"', 'skin    = "1.0 mm"')
    session.poll()
    session.set(SKIN, "1.2 mm", seen="0.8 mm")
    assert session.undo()
    assert conflict(session) is None
    assert '"1.0 mm"' in session.text
    assert not session.redo(), "and no way round the question"
    assert '"1.0 mm"' in session.text


def test_what_is_typed_over_what_was_seen_is_no_conflict(folder: Path) -> None:
    """Another key was edited outside; the value was seen as it is; another tab here set it since: the last one goes."""
    session = Session(folder, delay_s=0)
    outside(session, 'grille = "3 mm"', 'grille = "4 mm"')
    session.poll()
    assert session.set(SKIN, "0.9 mm", seen="0.8 mm") == ()
    session.poll()
    outside(session, 'skin    = "0.9 mm"', 'skin    = "1.0 mm"')
    session.poll()
    assert session.set(SKIN, "1.1 mm", seen="1.0 mm") == ()
    session.poll()
    assert session.set(SKIN, "1.2 mm", seen="1.0 mm") == ()
    session.poll()
    assert conflict(session) is None
    assert '"1.2 mm"' in disk(session)
    assert session.set(SKIN, "wide", seen="0.8 mm") != (), "what cannot stand there is refused all the same"
    assert '"1.2 mm"' in session.text


def test_a_number_typed_again_stays_as_it_was_written(session: Session) -> None:
    """A field shows 0.8 for 0.80: the same again is no edit."""
    outside(session, "Qms = 6.1,", "Qms = 6.10,")
    session.poll()
    before = session.text
    assert "Qms = 6.10," in before
    assert session.set(("speaker", 0, "motor", "Qms"), "6.1") == ()
    assert session.text == before
    assert session.saved
    assert session.set(("speaker", 0, "motor", "Qms"), "6.2") == ()
    assert "Qms = 6.2," in session.text
