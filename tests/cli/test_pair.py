"""`pair`: what is edited while it waits at its prompts, and readings that are none."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import typer

from backwave.cli import main
from backwave.job import Session

GATE = "traced = {0}, not_yellow = {0}, not_airbag = {0}, battery_off = {0}, unplugged = {0}"
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
confirmed = { traced = false, unplugged = false }
"""
CONFIRMED = "confirmed = { traced = false, unplugged = false }"
ALL = dict.fromkeys(("traced", "not_yellow", "not_airbag", "battery_off", "unplugged"), True)
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


@pytest.mark.parametrize("was", [CONFIRMED, "", f"confirmed = {{ {GATE.format('true')} }}"])
def test_a_gate_that_was_taken_back_meanwhile_stays_so(
    ask: Ask, tmp_path: Path, was: str, capfd: pytest.CaptureFixture[str]
) -> None:
    edit(tmp_path, CONFIRMED, was)()
    theirs = "confirmed = { traced = false, unplugged = false, battery_off = false }"
    change = edit(tmp_path, was, theirs) if was else edit(tmp_path, 'side = "left"', f'side = "left"\n{theirs}')
    code, asked = ask(True, change, True, True, True, "3.9 ohm", "", "")
    assert (code, len(asked)) == (2, 5)  # nothing is read on it either
    said = capfd.readouterr().err
    assert "edited elsewhere meanwhile" in said
    assert "pair.a.confirmed" in said
    assert not any(row(tmp_path)["confirmed"].values())
    assert "resistance" not in row(tmp_path)


def test_a_gate_taken_back_while_the_meter_is_read_leaves_no_reading(ask: Ask, tmp_path: Path) -> None:
    code, _ = ask(*[True] * 5, edit(tmp_path, "unplugged = true", "unplugged = false", "3.9 ohm"), "", "")
    assert code == 2
    assert row(tmp_path)["confirmed"] == ALL | {"unplugged": False}
    assert "resistance" not in row(tmp_path)


def test_what_else_was_edited_meanwhile_stays(ask: Ask, tmp_path: Path) -> None:
    code, _ = ask(True, edit(tmp_path, 'title = "x"', 'title = "y"'), True, True, True, "3.9 ohm", "", "out")
    assert code == 0
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert 'title = "y"  # a remark' in text
    assert row(tmp_path)["confirmed"] == ALL
    assert (row(tmp_path)["resistance"], row(tmp_path)["cone"]) == ("3.9 ohm", "out")


def test_a_reading_that_is_none_is_asked_for_again(
    ask: Ask, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    code, asked = ask(*[True] * 5, "3,9 apples", "3.9 ohm", "5 ohm", "0.2 ohm", "sideways", "out")
    assert (code, len(asked)) == (0, 11)
    said = capfd.readouterr().err
    assert said.count("Once more, or Enter") == 3
    assert all(words in said for words in ("apples", "clean the tips", "sideways"))
    assert row(tmp_path)["confirmed"] == ALL
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
    assert row(tmp_path)["confirmed"] == ALL
    assert "resistance" not in row(tmp_path)


def test_a_gate_under_a_header_of_its_own(ask: Ask, tmp_path: Path) -> None:
    edit(tmp_path, CONFIRMED, "[pair.confirmed]\ntraced = false  # not yet")()
    assert ask(*[True] * 5, "", "", "")[0] == 0
    assert row(tmp_path)["confirmed"] == ALL
    assert "traced = true  # not yet" in (tmp_path / "job.toml").read_text(encoding="utf-8")
