"""Gates: bound to what they are about, dated, never revived, and held by the job rather than by a page.

The lines themselves are common trade practice; an igniter reads like a speaker.
"""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from backwave.job import Session, load, log
from backwave.job.gates import Gates, GateWord, about, add, gates_of, reading
from backwave.job.undo import Append, Put
from backwave.notation.wires import GATES, HOLDS_S, PAIR_GATE

JOB = """\
format = 1
title = "x"
[[opening]]
id = "door"
sides = ["left", "right"]
[[pair]]
id = "a"
opening = "door"
side = "left"
colors = ["red", "black"]
ends_at = "woofer"
[[factory_output]]
id = "front"
opening = "door"
side = "left"
"""
ALL = dict.fromkeys(PAIR_GATE, True)


@pytest.fixture
def session(tmp_path: Path) -> Session:
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    return Session(tmp_path, delay_s=0.0)


def row(session: Session) -> Any:
    return session.job.file.pair[0]


def confirm(session: Session, said: dict[str, bool] | None = None) -> None:
    session.confirm("pair", row(session).id, about("pair", row(session)), ALL if said is None else said)


def read(session: Session, value: str = "3.9 ohm") -> Any:
    done = session.set(("pair", 0, "resistance"), value)
    session.flush()
    return done


def counts(session: Session) -> bool:
    """By the job as anybody reads it from disk."""
    one = load(session.folder)
    pair = one.file.pair[0]
    return one.gates.counts("pair", pair.id, about("pair", pair), reading("pair", pair))


def test_a_reading_counts_behind_its_whole_gate_and_not_before(session: Session) -> None:
    for line in PAIR_GATE:
        problems = read(session)
        assert len(problems) == 1
        assert PAIR_GATE[line] in problems[0].accepted
        confirm(session, {line: True})
    assert read(session) == ()
    assert counts(session)


def test_a_job_with_a_reading_that_nobody_confirmed_loads_and_does_not_count(session: Session) -> None:
    path = session.folder / "job.toml"
    gate = "confirmed = { traced = true, not_yellow = true, not_airbag = true, battery_off = true, unplugged = true }"
    path.write_text(JOB.replace('"woofer"', f'"woofer"\nresistance = "2 ohm"\n{gate}'), encoding="utf-8")
    assert session.poll()
    assert row(session).resistance is not None  # kept
    assert not counts(session)  # what an older file says of itself counts for nothing


@pytest.mark.parametrize("line", [line for line in PAIR_GATE if line != "battery_off"])
def test_a_no_always_wins_and_is_always_written(session: Session, line: str) -> None:
    confirm(session)
    assert read(session) == ()
    confirm(session, {line: False})
    assert not counts(session)
    assert any(r["line"] == line and r["yes"] is False for r in log.read(session.folder)["confirmed"])
    assert read(session, "4 ohm")  # refused
    confirm(session)
    assert not counts(session)  # what was read before the no stays void
    assert read(session, "4 ohm") == ()
    assert counts(session)


def test_the_battery_on_again_voids_its_own_line_and_no_reading_taken_before(session: Session) -> None:
    confirm(session)
    assert read(session) == ()
    time.sleep(0.002)  # words are dated to the millisecond, and of two of one moment the no is the later
    confirm(session, {"battery_off": False})
    assert counts(session)
    missing = session.job.gates.missing("pair", "a", about("pair", row(session)), datetime.now(UTC))
    assert missing == ("battery_off",)
    assert read(session, "4 ohm")  # a new reading is refused


def test_the_battery_is_said_once_for_the_vehicle(session: Session) -> None:
    confirm(session)
    held = session.job.gates.held("pair", "another", "else", datetime.now(UTC))
    assert set(held) == {"battery_off"}


@pytest.mark.parametrize(
    ("key", "value"), [("colors", ["GY", "BK"]), ("id", "b"), ("side", "right"), ("ends_at", "unknown")]
)
def test_an_edit_or_a_new_name_voids_it_and_undo_does_not_revive_it(session: Session, key: str, value: Any) -> None:
    confirm(session)
    assert read(session) == ()
    assert session.set(("pair", 0, key), value) == ()
    session.flush()
    assert not counts(session)
    assert session.undo()
    session.flush()
    assert row(session).id == "a"
    assert not counts(session)
    missing = session.job.gates.missing("pair", "a", about("pair", row(session)), datetime.now(UTC))
    assert set(missing) == set(PAIR_GATE) - {"battery_off"}


def test_a_copy_has_neither_gate_nor_reading(session: Session) -> None:
    confirm(session)
    assert read(session) == ()
    copy = {"id": "a-2", "opening": "door", "side": "left", "colors": ["red", "black"], "resistance": "3.9 ohm"}
    assert session.set_many([Append("pair", copy)])  # refused
    del copy["resistance"]
    assert session.set_many([Append("pair", copy)]) == ()
    session.flush()
    assert session.set(("pair", 1, "resistance"), "3.9 ohm")


def test_undo_of_an_edit_does_not_touch_what_was_confirmed(session: Session) -> None:
    confirm(session)
    assert read(session) == ()
    confirm(session, {"traced": False})
    assert session.undo()  # the reading goes
    assert session.redo()  # and comes back, without its gate
    session.flush()
    assert row(session).resistance is not None
    assert not counts(session)


def test_to_take_a_reading_out_needs_no_gate(session: Session) -> None:
    confirm(session)
    assert read(session) == ()
    confirm(session, {"traced": False})
    assert session.set(("pair", 0, "resistance"), None) == ()


def test_a_reading_typed_in_a_text_editor_is_asked_about(session: Session) -> None:
    confirm(session)
    path = session.folder / "job.toml"
    path.write_text(JOB.replace('"woofer"', '"woofer"\nresistance = "2 ohm"'), encoding="utf-8")
    session.poll()
    assert session.set_many([Put(("title",), "y")]) == ()
    session.flush()
    assert not counts(session)
    session.confirm("pair", "a", about("pair", row(session)), {}, reading("pair", row(session)))
    assert counts(session)


def test_it_holds_for_one_visit() -> None:
    now = datetime.now(UTC)
    said = tuple(GateWord("vehicle" if k == "battery_off" else "pair", "" if k == "battery_off" else "a", k, True, "" if k == "battery_off" else "x", now) for k in PAIR_GATE)  # fmt: skip
    gates = Gates(said)
    late = timedelta(seconds=HOLDS_S)
    assert gates.missing("pair", "a", "x", now + late) == ()
    assert set(gates.missing("pair", "a", "x", now + late + timedelta(seconds=1))) == set(PAIR_GATE)
    assert set(gates.missing("pair", "a", "other", now)) == set(PAIR_GATE) - {"battery_off"}
    assert gates.missing("pair", "a", "x", now - timedelta(seconds=1)) == tuple(PAIR_GATE)  # not before it was said


def test_of_two_words_of_one_moment_the_no_counts(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    when = datetime.now(UTC).isoformat()
    for n, yes in enumerate((False, True)):
        word = {"key": f"k{n}", "gate": "pair", "of": "a", "line": "traced", "yes": yes, "about": "x", "when": when}
        log.add(tmp_path, lambda _, word=word: [("confirmed", word)])
    assert "traced" in gates_of(tmp_path).missing("pair", "a", "x", datetime.now(UTC))


@pytest.mark.parametrize(
    "spoiled", [{"yes": "true"}, {"yes": 1}, {"when": "soon"}, {"when": "2999-01-01T00:00:00+00:00"}, {"line": 3}]
)
def test_rows_that_are_none_confirm_nothing(tmp_path: Path, spoiled: dict[str, Any]) -> None:
    when = datetime.now(UTC).isoformat()
    for line in PAIR_GATE:
        word = {"key": line, "gate": "pair", "of": "a", "line": line, "yes": True, "about": "x", "when": when} | spoiled  # fmt: skip
        log.add(tmp_path, lambda _, word=word: [("confirmed", word)])
    assert set(gates_of(tmp_path).missing("pair", "a", "x", datetime.now(UTC))) == set(PAIR_GATE)


def test_a_log_written_anew_keeps_every_word(tmp_path: Path) -> None:
    add(tmp_path, "pair", "a", "x", ALL, "read")
    before = gates_of(tmp_path)
    log.write(tmp_path, {"other": [{"key": "z", "a": 1}]})
    assert gates_of(tmp_path) == before
    assert before.counts("pair", "a", "x", "read")


def test_an_output_is_read_behind_a_gate_of_its_own(session: Session) -> None:
    path = ("factory_output", 0, "loudest")
    assert session.set(path, "7.5 V")
    output = session.job.file.factory_output[0]
    session.confirm("output", "front", about("output", output), dict.fromkeys(GATES["output"], True))
    assert session.set(path, "7.5 V") == ()
    session.flush()
    job = load(session.folder)
    assert job.gates.counted(job.file.factory_output[0]).loudest is not None
    session.confirm("output", "front", about("output", output), {"closed": False})
    job = load(session.folder)
    assert job.gates.counted(job.file.factory_output[0]).loudest is None
    assert job.file.factory_output[0].loudest is not None


def test_the_battery_is_not_off_while_an_output_is_read_live(session: Session) -> None:
    confirm(session)
    output = session.job.file.factory_output[0]
    session.confirm("output", "front", about("output", output), dict.fromkeys(GATES["output"], True))
    now = datetime.now(UTC)
    assert session.job.gates.missing("pair", "a", about("pair", row(session)), now) == ("battery_off",)
    assert session.job.gates.missing("output", "front", about("output", output), now) == ()
    confirm(session, {"battery_off": True})
    now = datetime.now(UTC)
    assert session.job.gates.missing("output", "front", about("output", output), now) == ("live",)


@pytest.mark.parametrize("word", [{}, {"when": "last week"}, {"about": "something else"}])
def test_a_no_written_by_hand_counts_without_a_date(session: Session, word: dict[str, str]) -> None:
    confirm(session)
    assert read(session) == ()
    log.add(
        session.folder, lambda _: [("confirmed", {"gate": "pair", "of": "a", "line": "traced", "yes": False} | word)]
    )
    assert not counts(session)
