"""`pair`: what is edited while it waits at its prompts, and readings that are none."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import typer

from backwave.cli import main
from backwave.job import Session, load
from backwave.job.gates import about, add, reading
from backwave.notation.wires import PAIR_GATE

JOB = """\
format = 1
title = "x"  # a remark
[[opening]]
id = "door"
sides = ["left"]
[[pair]]
id = "a"
opening = "door"
side = "left"
colors = ["red", "black"]
ends_at = "woofer"
"""
Ask = Callable[..., tuple[int, list[str]]]


@pytest.fixture
def ask(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Ask:
    """Runs the command on answers; one that can be called does something first, and gives its answer."""

    def go(*answers: Any) -> tuple[int, list[str]]:
        rest: Iterator[Any] = iter(answers)
        asked: list[str] = []

        def answer(words: str, **_: Any) -> Any:
            asked.append(words)
            said = next(rest, None)
            if said is None:
                raise typer.Abort
            return said() if callable(said) else said

        monkeypatch.setattr(typer, "confirm", answer)
        monkeypatch.setattr(typer, "prompt", answer)
        with pytest.raises(SystemExit) as left:
            main(["pair", str(tmp_path), "a"])
        return int(str(left.value.code)), asked

    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    return go


def row(folder: Path) -> dict[str, Any]:
    held: dict[str, Any] = tomllib.loads((folder / "job.toml").read_text(encoding="utf-8"))["pair"][0]
    return held


def edit(folder: Path, old: str, new: str, answer: Any = True) -> Callable[[], Any]:
    def done() -> Any:
        path = folder / "job.toml"
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new), encoding="utf-8")
        return answer

    return done


def no(folder: Path, line: str = "traced", answer: Any = True) -> Callable[[], Any]:
    """Somebody else says no to a line while it waits at its prompt."""

    def done() -> Any:
        pair = load(folder).file.pair[0]
        add(folder, "pair", pair.id, about("pair", pair), {line: False})
        return answer

    return done


def held(folder: Path) -> set[str]:
    job = load(folder)
    pair = job.file.pair[0]
    return set(job.gates.held("pair", pair.id, about("pair", pair), datetime.now(UTC)))


def counts(folder: Path) -> bool:
    job = load(folder)
    pair = job.file.pair[0]
    return job.gates.counts("pair", pair.id, about("pair", pair), reading("pair", pair))


def test_a_line_that_somebody_denied_meanwhile_stays_denied(ask: Ask, tmp_path: Path) -> None:
    code, asked = ask(True, no(tmp_path), True, True, True, "3.9 ohm", "", "")
    assert (code, len(asked)) == (0, 5)  # nothing is read on it
    assert "traced" not in held(tmp_path)
    assert "resistance" not in row(tmp_path)


def test_a_line_denied_while_the_meter_is_read_leaves_no_reading(
    ask: Ask, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    code, _ = ask(*[True] * 5, no(tmp_path, "unplugged", "3.9 ohm"), "", "")
    assert code == 2
    assert "not confirmed" in capfd.readouterr().err
    assert "resistance" not in row(tmp_path)


def test_the_same_pair_by_another_color_is_another_pair(ask: Ask, tmp_path: Path) -> None:
    code, _ = ask(*[True] * 5, edit(tmp_path, '"red"', '"blue"', "3.9 ohm"), "", "")
    assert code in (0, 2)
    assert not counts(tmp_path)


def test_a_reading_that_stands_already_is_asked_about(ask: Ask, tmp_path: Path) -> None:
    edit(tmp_path, 'ends_at = "woofer"', 'ends_at = "woofer"\nresistance = "3.9 ohm"')()
    assert ask(*[True] * 5, False, "", "", "")[0] == 0
    assert not counts(tmp_path)
    # the battery's line holds and is asked shortly; the pair's own four anew
    assert ask(*[True] * 5, True, "", "", "")[0] == 0
    assert counts(tmp_path)


def test_what_else_was_edited_meanwhile_stays(ask: Ask, tmp_path: Path) -> None:
    code, _ = ask(True, edit(tmp_path, 'title = "x"', 'title = "y"'), True, True, True, "3.9 ohm", "", "out")
    assert code == 0
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert 'title = "y"  # a remark' in text
    assert held(tmp_path) == set(PAIR_GATE)
    assert (row(tmp_path)["resistance"], row(tmp_path)["cone"]) == ("3.9 ohm", "out")
    assert counts(tmp_path)


def test_a_reading_that_is_none_is_asked_for_again(ask: Ask, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    code, asked = ask(*[True] * 5, "3,9 apples", "3.9 ohm", "5 ohm", "0.2 ohm", "sideways", "out")
    assert (code, len(asked)) == (0, 11)
    said = capfd.readouterr().err
    assert said.count("Once more, or Enter") == 3
    assert all(words in said for words in ("apples", "clean the tips", "sideways"))
    assert held(tmp_path) == set(PAIR_GATE)
    assert [row(tmp_path)[key] for key in ("resistance", "leads", "cone")] == ["3.9 ohm", "0.2 ohm", "out"]
    session = Session(tmp_path)
    assert session.undo()
    assert session.job.file.pair[0].resistance is None


def test_the_gate_is_kept_where_the_readings_are_broken_off(
    ask: Ask, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    code, _ = ask(*[True] * 5, "3.9 apples")
    assert code == 2
    said = capfd.readouterr().err
    assert "The gate is written, no reading is" in said
    assert "Nothing was written" not in said
    assert held(tmp_path) == set(PAIR_GATE)
    assert "resistance" not in row(tmp_path)
