"""`plan` from outside: what it is told is kept in the log, taken back, refused with its reason."""

from __future__ import annotations

import gc
import io
import json
import re
import shlex
import tomllib
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from backwave.cli import main
from tests.cli.command_line import DEMO
from tests.cli.command_line import run as program


@pytest.fixture
def van(tmp_path: Path) -> Path:
    """The demo without its sound and supply."""
    folder = tmp_path / "van"
    folder.mkdir()
    text = (DEMO / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(text[: text.index("# ---- what drives them")], encoding="utf-8")
    return folder


def log_of(folder: Path) -> dict[str, Any]:
    return tomllib.loads((folder / "log.toml").read_text(encoding="utf-8"))


def run(*arguments: object) -> SimpleNamespace:
    """The command in this very process, which spares its start."""
    out, err = io.StringIO(), io.StringIO()
    with pytest.raises(SystemExit) as left, redirect_stdout(out), redirect_stderr(err):
        main([str(one) for one in arguments])
    gc.enable()  # which the command line does without
    return SimpleNamespace(returncode=left.value.code, stdout=out.getvalue(), stderr=err.getvalue())


def told(folder: Path, *arguments: object) -> dict[str, Any]:
    done = run("plan", folder, *arguments, "--json")
    assert done.returncode == 0, done.stderr
    return dict(json.loads(done.stdout))


def test_what_is_said_is_kept_and_taken_back(van: Path, tmp_path: Path) -> None:
    (van / "log.toml").write_text(
        'format = 1\nelsewhere = "stays"\n[[note]]\nid = "n-1"\ntext = "Six clips"\nplace = "front-door.left"\ncount = 6\n'
        '[[refit]]\nid = "n-1"\ncount = 5\n',
        encoding="utf-8",
    )
    said = told(van, "--tick", "consent", "--minutes", "12", "--by", "Ada", "--csv", tmp_path / "list.csv")
    held = {task["id"]: task for task in said["tasks"]}
    assert (held["consent"]["done"], held["consent"]["took_min"], held["consent"]["done_by"]) == (True, 12.0, "Ada")
    assert held["consent"]["why"]
    (uneven,) = [f for f in said["findings"] if f["id"].startswith("work.uneven")]
    assert (uneven["verdict"], uneven["value"], uneven["limit"]) == ("caution", 5.0, 6.0)
    assert (tmp_path / "list.csv").read_bytes().startswith(b"\xef\xbb\xbfhave,")
    assert log_of(van)["elsewhere"] == "stays"
    text = " ".join(run("plan", van).stdout.split())
    assert "☑ Agree in writing" in text
    assert "work.uneven.fasteners@front-door.left" in text
    assert not {task["id"]: task for task in told(van, "--undo")["tasks"]}["consent"]["done"]


def test_a_task_waits_for_its_gates_and_for_consent(van: Path) -> None:
    for options, words in (
        (("--tick", "battery-off"), "battery-off waits for others"),
        (("--tick", "consent", "--tick", "battery-off"), "Ignition off"),
        (("--consent", "Demo owner"), "consent without what it is to"),
    ):
        done = run("plan", van, *options)
        assert done.returncode == 2, options
        assert words in done.stderr.replace("\n", " "), (options, done.stderr)
        assert not (van / "log.toml").exists()
    told(van, "--tick", "consent", "--confirm", "battery-off")
    said = told(van, "--tick", "battery-off", "--consent", "Demo owner", "--text", "four holes")
    assert {task["id"]: task for task in said["tasks"]}["battery-off"]["done"]
    said = told(van, "--consent", "Demo keeper", "--text", "one cut")
    assert [(one["who"], one["text"]) for one in said["consent"]] == [
        ("Demo owner", "four holes"),
        ("Demo keeper", "one cut"),
    ]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--tick", "consen"), "accepted: consent"),
        (("--undo",), "nothing to take back"),
        (("--paper", "A0"), "A4 or Letter"),
    ],
)
def test_what_is_refused_says_why_and_writes_nothing(van: Path, options: tuple[str, ...], words: str) -> None:
    done = run("plan", van, *options)
    assert done.returncode in (2, 3), done.stderr
    assert words in done.stderr.replace("\n", " ")
    assert "Traceback" not in done.stderr
    assert [path.name for path in van.iterdir()] == ["job.toml"]


def test_the_lists_on_paper(van: Path) -> None:
    done = program("plan", van, "--paper", "Letter")
    assert done.returncode == 0, done.stderr
    assert (van / "made/lists.pdf").read_bytes()[:5] == b"%PDF-"


def test_what_the_page_shows_runs(van: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    page = Path(__file__).resolve().parents[2] / "docs/work.md"
    (block,) = re.findall(r"```sh\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL)
    for line in block.splitlines():
        done = run(*shlex.split(line)[1:])
        assert done.returncode == 0, (line, done.stderr)
    # and every kind of row the tool writes stands in the page's table
    from backwave.assess.work.log_codec import KINDS

    assert re.findall(r"^\| `\[\[(\w+)\]\]`", page.read_text(encoding="utf-8"), re.MULTILINE) == list(KINDS)
    assert set(log_of(van)) >= {"tick", "gate", "consent", "back"}


def test_a_row_that_a_crash_cut_off_is_told_until_its_file_is_gone(van: Path) -> None:
    told(van, "--tick", "consent")
    with (van / "log.toml").open("ab") as file:
        file.write(b'[[item]] # {\nid = "fo')
    for _ in range(2):
        found = told(van)
        (torn,) = [f for f in found["findings"] if f["id"].startswith("work.torn")]
        (aside,) = van.glob("log.toml.torn-*")
        assert aside.name in torn["title"]
        assert aside.read_bytes() == b'[[item]] # {\nid = "fo'
    aside.unlink()
    found = told(van)
    assert not [f for f in found["findings"] if f["id"].startswith("work.torn")]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--consent", "a\x1b[2J", "--text", "a hole"), "a control character"),
        (("--consent", "half \udcff", "--text", "a hole"), "half a letter"),
        (("--consent", "the owner", "--text", "x" * 4001), "at most 4000"),
        (("--tick", "consent", "--minutes", "1e300"), "0 to 10080"),
    ],
)
def test_what_no_log_should_hold_is_refused(van: Path, arguments: tuple[str, ...], words: str) -> None:
    done = run("plan", van, *arguments)
    assert done.returncode == 2
    assert words in done.stderr
    assert not (van / "log.toml").exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--tick", "consent", "--minutes", -5), "nothing was kept of tick 'consent': minutes cannot be: -5.0"),
        (("--minutes", -5), "--minutes without its task: found -5.0; accepted: --tick"),
        (("--tick", "x" * 500), f"found '{'x' * 115}...'"),
    ],
)  # fmt: skip
def test_what_cannot_be_kept_says_what_and_why(arguments: tuple[object, ...], words: str, van: Path) -> None:
    done = run("plan", van, *arguments)
    assert done.returncode == 2
    assert words in done.stderr
    assert not (van / "log.toml").exists()
