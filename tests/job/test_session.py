"""The edit session: what is typed is taken as its field wants it, and undo brings it back to the letter.

Nothing here is calculated, so there is no published source to hold it against: `tomllib` judges what was written,
and the text before an edit judges what undo brings back.
"""

from __future__ import annotations

import tempfile
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.job import history, load
from backwave.job.session import Session
from backwave.job.undo import Append, Put, Remove
from tests.job.sessions import SKIN, TRIM, comments, disk, job_in, outside, value

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
