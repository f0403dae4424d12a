"""`backwave` alone says what to do next; `backwave help` what a key means."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from unittest import mock

import pytest

from backwave.cli import output, start
from backwave.job import FILE
from tests.cli.command_line import SIX, run


def test_an_empty_folder_is_told_how_to_start_and_loads_nothing_for_it(tmp_path: Path) -> None:
    assert start._FILE == FILE
    code = "import sys, backwave.cli as c\ntry: c.main([])\nfinally: print(*sorted({'numpy', 'scipy', 'backwave.job'} & {*sys.modules}))"
    before = os.times()
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True)
    after = os.times()
    spent = after.children_user + after.children_system - before.children_user - before.children_system
    *told, loaded = done.stdout.split("\n")[:-1]
    assert all(f"backwave {word}" in done.stdout for word in ("open", "new", "demo", "--help"))
    assert "disconnect the battery" in done.stdout  # before the first step there is
    assert max(map(len, told)) <= 80
    assert loaded == ""
    assert spent < 1.0  # 0.2 s of the processor on a quiet machine


def test_a_job_says_its_verdict_its_first_step_and_the_command(tmp_path: Path) -> None:
    run("new", tmp_path / "van", *SIX, code=0)
    (tmp_path / "van" / "made").mkdir()
    for folder in (tmp_path / "van", tmp_path / "van" / "made", tmp_path):  # in it, inside it, or the only one below
        done = run(cwd=folder, columns=80)
        lines = [line for line in done.stdout.splitlines() if line]
        assert done.returncode in (0, 1), done.stderr
        assert lines[0].startswith("Van ")
        assert " open, " in lines[0]
        assert lines[1].startswith("Next: ")
        assert "backwave check" in done.stdout
        assert max(map(len, lines)) <= 80


def test_a_job_that_is_not_right_is_told_with_its_line(tmp_path: Path) -> None:
    (tmp_path / FILE).write_text("format = 1\ntitle = 3\n", encoding="utf-8")
    done = run(cwd=tmp_path)
    assert done.returncode == 2
    assert "job.toml:2: title" in done.stdout
    assert "backwave open" in done.stdout


def test_several_jobs_are_listed_by_their_titles(tmp_path: Path) -> None:
    for name in ("one", "two"):
        run("new", tmp_path / name, "--title", f"Round {name}", code=0)
    (tmp_path / "two" / FILE).write_text("title = [", encoding="utf-8")
    done = run(cwd=tmp_path, columns=80, code=0)
    assert "backwave check one" in done.stdout
    assert "Round one" in done.stdout
    assert "cannot be read" in done.stdout


@pytest.mark.parametrize(
    ("said", "parts"),
    [
        ("clear", ("opening.behind.clear", "opening.trim.clear", "0 mm to 3 m", "such as  clear =")),
        ("margins.glass", ("5 mm", "common trade practice", 'glass = "5 mm"')),
        ("fit.glass@front-door.left", ("fit.glass", "backwave why JOB fit.glass")),
        ("seat height", ("stand-off", "rim")),
        ("crew", ("nothing computes with it yet",)),
    ],
)
def test_help_says_what_a_name_means(said: str, parts: tuple[str, ...]) -> None:
    done = run("help", said, columns=80, code=0)
    for part in parts:
        assert part in done.stdout
    assert json.loads(run("help", said, "--json", code=0).stdout)[0]["meaning"]


def test_help_proposes_what_is_near() -> None:
    done = run("help", "thicknes", code=2)
    assert done.stdout == ""
    assert "adapter.thickness" in done.stderr


@pytest.mark.parametrize("width", [40, 80])
def test_a_table_breaks_no_name_and_no_number_from_its_unit(width: int, capsys: pytest.CaptureFixture[str]) -> None:
    names = ["Subwoofer takes the deep bass", "front-door.left-demo-165", "mid-bass, 60 to 250 Hz"]
    rows = [(name, "+2.6 ± 1.7 dB", "limited by the excursion of the woofer in the front left door") for name in names]
    for wide in (False, True):
        with mock.patch.dict(os.environ, {"COLUMNS": str(width)}):
            output.put_table(("stage", "level", "why"), rows, wide=wide)
        shown = capsys.readouterr().out
        lines = shown.splitlines()
        for name in names:
            assert any(name in line for line in lines) or all(
                any(part in line for line in lines) for part in name.split(", ")
            )
        assert shown.count("1.7 dB") == 3
        assert "\ue000" not in shown
        assert wide == (len(lines) == 4)


def test_read_folds_no_band_and_runs_on_in_one_line_where_asked(tmp_path: Path) -> None:
    run("sweep", tmp_path / "sweep.wav", "--length", "1 s", "--identified", code=0)
    for option in ((), ("--wide",)):
        done = run("read", tmp_path / "sweep.wav", *option, columns=40)
        heads = [line for line in done.stdout.splitlines() if "output" in line and "later by" in line]
        assert bool(heads) is bool(option)
