"""The edit session: undo to the letter, saves whole, outside edits taken in, a conflict that loses neither version.

Nothing here is calculated, so there is no published source to hold it against: `tomllib` judges what was written,
and the text before an edit judges what undo brings back.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import threading
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.errors import JobError, MissingError
from backwave.job import history, load
from backwave.job.session import Session
from backwave.job.undo import Append, Conflict, Put, Remove

EXAMPLE = Path(__file__).resolve().parents[2] / "docs/example-job.toml"
FLANGE = '{ traced = "photos/ring.toml" }'
TRIM = ("opening", 0, "trim", "clear")
SKIN = ("opening", 0, "skin")


def job_in(parent: Path) -> Path:
    (parent / "van").mkdir()
    shutil.copy(EXAMPLE, parent / "van/job.toml")
    return parent / "van"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return job_in(tmp_path)


@pytest.fixture
def session(folder: Path) -> Session:
    return Session(folder, delay_s=0)


def disk(session: Session) -> str:
    return (session.folder / "job.toml").read_bytes().decode()


def outside(session: Session, old: str, new: str) -> None:
    """Somebody's text editor."""
    text = disk(session)
    assert old in text
    (session.folder / "job.toml").write_bytes(text.replace(old, new, 1).encode())


def conflict(session: Session) -> Conflict | None:
    return session.conflict


def held_by(session: Session) -> Conflict:
    found = session.conflict
    assert found is not None
    return found


def comments(text: str) -> list[str]:
    return [line[line.index("#") :] for line in text.splitlines() if "#" in line]


def value(session: Session, path: tuple[str | int, ...]) -> Any:
    node: Any = tomllib.loads(session.text)
    for step in path:
        node = node[step]
    return node


# -- edits ------------------------------------------------------------------------------------------------------


def test_an_edit_is_seen_at_once_and_written_a_moment_later(folder: Path) -> None:
    session, before = Session(folder, delay_s=60), (folder / "job.toml").read_text(encoding="utf-8")
    assert session.set(TRIM, "36.5 ± 0.5 mm") == ()
    assert session.job.file.opening[0].trim.clear.text == "36.5 ± 0.5 mm"  # type: ignore[union-attr]
    assert (session.revision, session.saved) == (1, False)
    assert not session.poll()
    assert disk(session) == before
    session.flush()
    assert session.saved
    assert disk(session) == before.replace('clear = "37 mm"', 'clear = "36.5 ± 0.5 mm"')
    assert not session.poll()  # our own write is no news
    assert session.revision == 1


@pytest.mark.parametrize(
    ("path", "typed", "stands"),
    [
        (TRIM, "71 +- 1 mm", "71 +- 1 mm"),
        (TRIM, '"36 mm"', "36 mm"),
        (TRIM, '["36 mm", "36.4 mm"]', ["36 mm", "36.4 mm"]),
        (("title",), "3", "3"),  # a number where text is wanted
        (("title",), "true", "true"),
        (("title",), "2026-01-02", "2026-01-02"),
        (("title",), "Van 'two' \"three\"", "Van 'two' \"three\""),
        (("speaker", 0, "holes", "count"), "6", 6),
        (("adapter", 0, "thickness"), "12 mm", "12 mm"),
        (("opening", 0, "sides"), '["left", "right"]', ["left", "right"]),
        (("opening", 0, "trim", "grille"), "150 mm", "150 mm"),
        (("margins", "vent"), "7 mm", "7 mm"),
        (("opening", 0, "behind", 1, "clear"), "54 mm", "54 mm"),
        (("opening", 0, "stand_in"), '{ outcome = "clear" }', {"outcome": "clear"}),
    ],
)
def test_what_a_person_types_is_taken_as_the_field_wants_it(
    session: Session, path: tuple[str | int, ...], typed: str, stands: Any
) -> None:
    assert session.set(path, typed) == ()
    assert value(session, path) == stands


@pytest.mark.parametrize("typed", ["x\nshow = 'us'", "bell \x07", "\u202eover", "half \ud83d", "x" * 500])
def test_a_title_of_letters_that_no_name_may_hold_is_refused(session: Session, typed: str) -> None:
    before = session.text
    (problem,) = session.set(("title",), typed)
    assert (problem.key, session.text) == ("title", before)


@pytest.mark.parametrize(
    ("path", "typed", "key"),
    [
        (TRIM, "71", "opening.front-door.trim.clear"),
        (TRIM, "71 kg", "opening.front-door.trim.clear"),
        (TRIM, "-3 mm", "opening.front-door.trim.clear"),
        (TRIM, "", "opening.front-door.trim.clear"),
        (("opening", 0, "trim", "clera"), "3 mm", "opening.front-door.trim.clera"),
        (("opening", 0, "zone"), "roof", "opening.front-door.zone"),
        (("opening", 7, "skin"), "1 mm", "opening[7].skin"),
        (("opening", 0, "skin"), '{ a = "1 mm"', "opening.front-door.skin"),
        (("speaker", 0, "holes", "count"), "2.5", "speaker.demo-165.holes.count"),
        (("adapter", 0, "opening"), "boot", "adapter[0].opening"),
        (("margins", "a.b"), "5 mm", 'margins."a.b"'),
        (("format",), "2", "format"),
        ((), "2", ""),
    ],
)
def test_what_cannot_stand_there_changes_nothing_and_says_why_at_its_key(
    session: Session, path: tuple[str | int, ...], typed: str, key: str
) -> None:
    before = session.text
    problems = session.set(path, typed)
    assert key in {p.key for p in problems}
    assert all(p.message for p in problems)
    assert (session.text, session.revision, session.saved, session.can_undo) == (before, 0, True, False)


def test_none_takes_a_key_out_and_the_same_value_again_is_no_edit(session: Session) -> None:
    assert session.set(SKIN, "0.8 mm") == ()
    assert session.revision == 0
    assert session.set(SKIN, None) == ()
    assert session.job.file.opening[0].skin is None
    assert session.set(SKIN, None)[0].message == "no such key to take out"


def test_readings_are_added_and_taken_out_a_line_each(session: Session) -> None:
    before = session.text
    rows = len(session.job.file.opening[0].behind or ())
    row = {"radius": "40 mm", "clear": "56 ± 1 mm", "what": "loom"}
    assert session.set(("opening", 0, "behind", rows), row) == ()
    assert len(session.text.splitlines()) == len(before.splitlines()) + 1
    assert session.job.file.opening[0].behind[-1].what == "loom"  # type: ignore[index]
    assert session.set(("opening", 0, "behind", rows), None) == ()
    assert session.text == before
    assert session.set(("opening", 0, "behind", 0), None) == ()
    assert len(session.job.file.opening[0].behind or ()) == rows - 1
    assert session.undo()
    assert session.text == before


def test_several_changes_are_one_step_and_all_or_none(session: Session) -> None:
    before = session.text
    door = tomllib.loads(before)["opening"][0] | {"id": "rear-door"}
    adapter = {"opening": "rear-door", "speaker": "demo-165", "material": "ASA"}
    seen: list[int] = []
    end = session.subscribe(lambda: seen.append(session.revision))
    assert session.set_many([Append("adapter", adapter), Put(SKIN, "1 mm")])  # no such opening yet
    assert session.text == before
    assert session.set_many([Append("opening", door), Append("adapter", adapter), (SKIN, "1 mm")], label="Copy") == ()
    assert session.undo_label == "Copy"
    assert [o.id for o in session.job.file.opening] == ["front-door", "rear-door"]
    assert tomllib.loads(session.text)["opening"][1] == door
    assert comments(session.text) == comments(before)
    assert session.undo()
    assert session.text == before
    assert seen == [1, 2]
    end()
    end()
    assert session.redo()
    assert seen == [1, 2]


def test_a_table_goes_with_what_stands_in_it_and_comes_back_to_the_letter(session: Session) -> None:
    before = session.text
    assert session.set_many([Remove(("opening", 0))])  # an adapter still names it
    assert session.set_many([Remove(("adapter", 0)), Remove(("opening", 0))]) != ()  # a stage may name it too
    spare = {"id": "spare", "cutout": "114 mm", "magnet": "70 mm", "depth": "50 mm"}
    assert session.set_many([Append("speaker", spare)]) == ()
    there = session.text
    assert session.set_many([Remove(("speaker", len(session.job.file.speaker) - 1))]) == ()
    assert tomllib.loads(session.text) == tomllib.loads(before)
    assert comments(session.text) == comments(before)
    assert session.undo()
    assert session.text == there
    assert session.undo()
    assert session.text == before
    assert session.set_many([Remove(("speaker", 99))])[0].message == "no such table"
    assert session.set_many([Remove(("margins", 0))])[0].message == "no such table"


def test_a_table_that_stands_in_several_places_is_not_taken_out_with_what_stands_between(tmp_path: Path) -> None:
    text = 'format = 1\n[[opening]]\nid = "a"\nsides = ["left", "right"]\n[[seat]]\nid = "s"\near = ["1 m", "1 m", "1 m"]\n'
    (tmp_path / "job.toml").write_text(text + '[opening.right]\nskin = "1 mm"\n', encoding="utf-8")
    session = Session(tmp_path, delay_s=0)
    assert session.set_many([Remove(("opening", 0))])[0].message == "a table that stands in several places"
    assert [s.id for s in session.job.file.seat] == ["s"]


def test_line_ends_of_another_system_stay(folder: Path) -> None:
    path = folder / "job.toml"
    path.write_bytes(path.read_text(encoding="utf-8").replace("\n", "\r\n").encode())
    session, before = Session(folder, delay_s=0), path.read_bytes().decode()
    assert session.set(SKIN, "1 mm") == ()
    assert session.set_many([Append("seat", {"id": "guest", "ear": ["0.95 m", "1.2 m", "0.95 m"]})]) == ()
    assert session.text.count("\n") == session.text.count("\r\n")
    assert session.undo()
    assert session.undo()
    assert session.text == before


# -- undo -------------------------------------------------------------------------------------------------------

LENGTHS = st.integers(10, 600).map(lambda tenths: f"{tenths / 10:g} mm")
PUTS = st.tuples(
    st.sampled_from(
        [TRIM, ("margins", "glass"), ("margins", "vent"), ("opening", 0, "behind", 1, "clear"), ("speaker", 0, "rim")]
    ),
    LENGTHS,
)
ACTIONS = (
    PUTS
    | st.sampled_from(["undo", "redo", "save", "reload"])
    | st.integers(0, 99).map(lambda n: Append("seat", {"id": f"guest-{n}", "ear": ["0.9 m", f"{n} cm", "0.9 m"]}))
    | st.just(Remove(("seat", 1)))
)


@settings(max_examples=15, deadline=None)
@given(st.lists(ACTIONS, max_size=12))
def test_any_run_of_edits_is_taken_back_and_done_again_to_the_letter(actions: list[Any]) -> None:
    with tempfile.TemporaryDirectory() as made:
        folder = job_in(Path(made))
        session = Session(folder, delay_s=0)
        past, future = [session.text], list[str]()
        for action in actions:
            if action == "undo":
                assert session.undo() == (len(past) > 1)
                if len(past) > 1:
                    future.append(past.pop())
            elif action == "redo":
                assert session.redo() == bool(future)
                if future:
                    past.append(future.pop())
            elif action == "save":
                session.flush()
            elif action == "reload":
                session.flush()
                session = Session(folder, delay_s=0)
            elif not session.set_many([action]) and session.text != past[-1]:
                past.append(session.text)
                future = []
            assert session.text == past[-1]
            assert (session.can_undo, session.can_redo) == (len(past) > 1, bool(future))
            assert set(comments(past[0])) <= set(comments(session.text))
        session.flush()
        assert load(folder).file == session.job.file
        while session.undo():
            pass
        assert session.text == past[0]
        while session.redo():
            pass
        assert session.text == (future[0] if future else past[-1])


def test_undo_outlives_the_session_with_its_words(session: Session, folder: Path) -> None:
    before = session.text
    assert session.set(SKIN, "1 mm") == ()
    assert session.set(TRIM, "36 mm") == ()
    session.flush()
    again = Session(folder)
    assert again.undo_label == session.undo_label == 'opening.front-door.trim.clear: "37 mm" to "36 mm"'
    assert again.undo()
    assert again.redo_label == session.undo_label
    assert again.undo()
    assert again.text == before
    assert not again.undo()


def test_an_undo_of_what_was_edited_outside_is_refused_with_a_word_and_bars_no_other(session: Session) -> None:
    assert session.set(TRIM, "36 mm") == ()
    assert session.set(SKIN, "1 mm") == ()
    session.flush()
    outside(session, 'skin    = "1 mm"', 'skin    = "1.1 mm"')
    assert session.poll()
    assert not session.undo()
    assert "edited elsewhere" in session.said
    assert value(session, SKIN) == "1.1 mm"
    assert session.undo()  # the trim is as it was left
    assert (value(session, TRIM), value(session, SKIN), session.said) == ("37 mm", "1.1 mm", "")


def test_an_undo_finds_its_table_by_id_after_others_moved_it(session: Session) -> None:
    assert session.set(("opening", 0, "behind", 1, "clear"), "54 mm") == ()
    assert session.set(TRIM, "36 mm") == ()
    session.flush()
    # a look-alike of the door stands first now, with the very values that were set
    twin = '[[opening]]\nid = "twin"\ntrim = { clear = "36 mm" }\n\n[[opening]]\nid      = "front-door"'
    outside(session, '[[opening]]\nid      = "front-door"', twin)
    assert session.poll()
    assert session.undo()
    assert value(session, ("opening", 0, "trim", "clear")) == "36 mm"
    assert value(session, ("opening", 1, "trim", "clear")) == "37 mm"
    outside_row = "behind  = ["
    session.flush()
    outside(session, outside_row, outside_row + 2 * '\n  { radius = "5 mm", clear = "54 mm" },')
    assert session.poll()
    assert not session.undo()  # the rows were counted: the second one is another now
    assert "edited elsewhere" in session.said


def test_an_undo_that_would_make_the_job_wrong_is_refused(session: Session) -> None:
    assert session.set_many([Append("seat", {"id": "guest", "ear": ["1 m", "1 m", "1 m"]})]) == ()
    session.flush()
    with (session.folder / "job.toml").open("a", encoding="utf-8") as file:
        file.write('\n[[reading]]\nfile = "readings/a.wav"\nseat = "guest"\n')
    assert session.poll()
    assert not session.undo()
    assert "no seat of that id" in session.said


def test_the_history_is_bounded(folder: Path) -> None:
    session = Session(folder, delay_s=60)
    for n in range(205):
        assert session.set(SKIN, f"{1 + n / 1000:g} mm") == ()
    session.flush()
    assert len(history.read(folder).undo) == 200


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
