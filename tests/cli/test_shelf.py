"""`backwave shelf` from outside."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from backwave.job import load
from tests.cli.command_line import run as command

EXAMPLE = Path(__file__).resolve().parents[2] / "docs/example-job.toml"


def run(*args: str | Path, cwd: Path) -> CompletedProcess[str]:
    return command("shelf", *args, cwd=cwd, BACKWAVE_SHELF=str(cwd / "shelf"))


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    for name in ("first", "next"):
        (tmp_path / name).mkdir()
    shutil.copy(EXAMPLE, tmp_path / "first/job.toml")
    (tmp_path / "next/job.toml").write_text('format = 1\ntitle = "Next"  # kept\n', encoding="utf-8")
    return tmp_path


def test_saved_listed_handed_over_and_taken(bench: Path) -> None:
    assert "Nothing on the shelf yet" in run(cwd=bench).stdout
    done = run("save", "first", "opening", "front-door", "--who", "The lead", "--note", "in rain", cwd=bench)
    assert (done.returncode, done.stdout) == (0, "")
    assert "front-door.toml" in done.stderr
    done = run("save", "first", "speaker", "demo-165", "--who", "The lead", "--json", cwd=bench)
    driver = Path(json.loads(done.stdout)["file"])
    assert driver.is_file()
    done = run("--json", cwd=bench)
    assert done.stderr == ""
    document = json.loads(done.stdout)
    assert [(e["kind"], e["id"], e["who"]) for e in document["entries"]] == [
        ("opening", "front-door", "The lead"),
        ("speaker", "demo-165", "The lead"),
    ]
    assert document["problems"] == []
    assert document["entries"][0]["with_mm"]["gauge"] == 1.0
    shown = run(cwd=bench).stdout
    assert "Demo panel van" in shown
    assert "in rain" in shown
    done = run("take", "next", "front-door", "--json", cwd=bench)
    assert done.stderr == ""
    document = json.loads(done.stdout)
    assert (document["kind"], document["id"]) == ("opening", "front-door")
    assert any("glass" in line for line in document["measure_again"])
    handed = bench / "from a colleague.toml"
    shutil.move(driver, handed)
    done = run("take", "next", handed, cwd=bench)
    assert done.returncode == 0
    assert "Measure again" in done.stderr
    job = load(bench / "next")
    assert ([o.id for o in job.file.opening], [s.id for s in job.file.speaker]) == (["front-door"], ["demo-165"])
    assert "# kept" in (bench / "next/job.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("args", "code", "words"),
    [
        (("give",), 2, "not a use of the shelf"),
        (("save", "first"), 2, "not a use of the shelf"),
        (("save", "first", "opening", "front-door"), 2, "who measured it"),
        (("save", "first", "seat", "driver", "--who", "x"), 2, "not kept on the shelf"),
        (("save", "nowhere", "opening", "front-door", "--who", "x"), 3, "no job folder"),
        (("take", "next", "front-door"), 3, "There is no front-door on the shelf"),
        (("take", "next", "../first/job"), 2, "not a name on the shelf"),
        (("take", "next", "first/job.toml"), 2, "no \\[measured\\]"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_written(
    bench: Path, args: tuple[str, ...], code: int, words: str
) -> None:
    before = (bench / "next/job.toml").read_bytes()
    done = run(*args, cwd=bench)
    assert (done.returncode, done.stdout) == (code, "")
    assert words.replace("\\", "") in done.stderr
    assert (bench / "next/job.toml").read_bytes() == before
    assert not (bench / "shelf").exists()


def test_a_file_that_cannot_be_read_bars_no_other(bench: Path) -> None:
    run("save", "first", "speaker", "demo-165", "--who", "The lead", cwd=bench)
    (bench / "shelf/drivers/broken.toml").write_text("format = 9\n", encoding="utf-8")
    done = run(cwd=bench)
    assert done.returncode == 0
    assert "demo-165" in done.stdout
    assert "newer" in done.stderr
    document = json.loads(run("--json", cwd=bench).stdout)
    assert len(document["entries"]) == 1
    assert "newer" in document["problems"][0]
