"""`pack` from outside: the folder, a log that cannot be read, what is refused."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import shutil
import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.cli.command_line import DEMO, run

WHOLE = {
    "dossier.pdf", "customer.pdf", "public/page.pdf", "lists/shopping.csv", "lists/checklist.csv", "job.toml",
    "data/findings.json", "data/plan.json", "data/supply.json", "drawings/above.svg", "drawings/section-front-door-left.svg",
}  # fmt: skip


def small(folder: Path) -> Path:
    """The demo without its sound and supply, which refusals do not need."""
    folder.mkdir()
    text = (DEMO / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(text[: text.index("# ---- what drives them")], encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pack") / "van"
    shutil.copytree(DEMO, folder)
    return folder


@pytest.fixture(scope="module")
def packed(job: Path) -> dict[str, Any]:
    done = run("pack", job, "--no-parts", "--date", "2026-03-14", "--json")
    assert done.returncode == 0, done.stderr
    document: dict[str, Any] = json.loads(done.stdout)
    return document


def contents(folder: Path) -> dict[str, str]:
    lines = (folder / "contents.txt").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("# written by backwave")
    return {name: digest for digest, _, name in (line.partition("  ") for line in lines if line[0] != "#")}


def test_the_folder_holds_what_it_says(packed: dict[str, Any]) -> None:
    folder = Path(packed["folder"])
    assert set(packed["files"]) >= WHOLE
    assert all(Path(path).is_file() for path in packed["files"].values())
    assert contents(folder).keys() == packed["files"].keys()
    assert packed["revision"] == "1"
    rows = list(csv.DictReader(io.StringIO((folder / "lists/shopping.csv").read_bytes().decode("utf-8-sig"))))
    plan = json.loads((folder / "data/plan.json").read_text(encoding="utf-8"))
    assert [row["id"] for row in rows] == [item["id"] for item in plan["shopping"]]


def test_the_same_job_elsewhere_gives_the_same_bytes_and_the_same_job_again_the_same_revision(
    job: Path, packed: dict[str, Any], tmp_path: Path
) -> None:
    shutil.copytree(DEMO, tmp_path / "other")
    done = run("pack", tmp_path / "other", "--no-parts", "--date", "2026-03-14", "--out", tmp_path / "out", "--json")
    assert done.returncode == 0, done.stderr
    assert contents(tmp_path / "out") == contents(Path(packed["folder"]))
    # a changed job file is the next revision, and what is no longer packed is taken away
    path = tmp_path / "other" / "job.toml"
    text = path.read_text(encoding="utf-8")
    part = text[text.index('[[adapter]]\nopening   = "cargo-wall"') : text.index("# ---- what drives them")]
    path.write_text(text.replace(part, ""), encoding="utf-8")
    again = run("pack", tmp_path / "other", "--no-parts", "--date", "2026-03-15", "--out", tmp_path / "out", "--json")
    assert again.returncode == 0, again.stderr
    assert json.loads(again.stdout)["revision"] == "2"
    assert not (tmp_path / "out/drawings/face-cargo-wall.svg").exists()
    assert (tmp_path / "out/drawings/face-front-door-left.svg").exists()
    log = tomllib.loads((tmp_path / "other/log.toml").read_text(encoding="utf-8"))
    assert [(row["number"], row["date"]) for row in log["revision"]] == [(1, "2026-03-14"), (2, "2026-03-15")]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [(("pack", "--date", "14.3.2026"), "year-month-day"), (("pack", "--paper", "A0"), "A4 or Letter")],
)
def test_what_is_refused_says_why_and_writes_nothing(tmp_path: Path, arguments: tuple[str, ...], words: str) -> None:
    small(tmp_path / "van")
    command, *options = arguments
    done = run(command, tmp_path / "van", *options)
    assert done.returncode == 2, done.stderr
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert [p.name for p in (tmp_path / "van").iterdir()] == ["job.toml"]


@pytest.mark.parametrize(
    ("log", "words"),
    [
        ('format = 99\n[[tick]]\nid = "consent"\n', "newer"),
        ('format = 1\n[[tick]]\nid = "cons', "cut short"),
        ('format = 1\n[[task]]\nid = "shop"\nafter = ["shop"]\n', "shop waits for shop"),
        ('format = 1\n[[item]]\nid = "x"\nprice = "1,500"\n', "two ways"),
        ("format = 1\n[[tick]]\ndone = true\n", "tick[0].id"),
    ],
)
def test_a_log_that_cannot_be_read_is_left_as_it_is(tmp_path: Path, log: str, words: str) -> None:
    small(tmp_path / "van")
    (tmp_path / "van/log.toml").write_text(log, encoding="utf-8")
    for command in (("plan", "--tick", "shop"), ("pack", "--no-parts")):
        done = run(command[0], tmp_path / "van", *command[1:])
        assert done.returncode == 2, done.stderr
        assert words in done.stderr
        assert (tmp_path / "van/log.toml").read_text(encoding="utf-8") == log
    assert not (tmp_path / "van/made").exists()


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ('[[revision]]\nnumber = "x"\n\n[[revision]]\njob = "y"\n', ["revision[0]", "'x'", "revision[1]"]),
        ("revision = 5\n", ["not a list of rows"]),
        ("revision = [1]\n", ["revision[0]"]),
        ("[revision]\nnumber = 1\n", ["not a list of rows"]),
    ],
)
def test_revisions_that_are_none_are_told_in_a_sentence(tmp_path: Path, rows: str, words: list[str]) -> None:
    small(tmp_path / "van")
    (tmp_path / "van/log.toml").write_text("format = 1\n" + rows, encoding="utf-8")
    done = run("pack", tmp_path / "van", "--no-parts")
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
    assert [word for word in words if word not in done.stderr] == []
    assert not (tmp_path / "van/made").exists()


def test_what_is_not_ours_stays_and_is_told(tmp_path: Path) -> None:
    small(tmp_path / "van")
    out = tmp_path / "out"
    out.mkdir()
    (out / "precious.txt").write_text("precious\n", encoding="utf-8")
    digest = hashlib.sha256(b"precious\n").hexdigest()
    (out / "contents.txt").write_text(f"{digest}  precious.txt\n", encoding="utf-8")
    done = run("pack", tmp_path / "van", "--no-parts", "--out", out)
    assert done.returncode in (0, 1), done.stderr
    assert (out / "precious.txt").read_text(encoding="utf-8") == "precious\n"
    (kept,) = out.glob("contents.txt.kept-*")
    assert kept.name in done.stdout
    (out / "lists/checklist.csv").write_text("mine", encoding="utf-8")
    done = run("pack", tmp_path / "van", "--no-parts", "--out", out, "--json")
    told = json.loads(done.stdout)
    assert set(told["kept"]) == {"lists/checklist.csv"}
    assert (out / "lists" / told["kept"]["lists/checklist.csv"]).read_text(encoding="utf-8") == "mine"


@pytest.mark.slow
@pytest.mark.kernel
def test_parts_that_are_missing_are_made_and_packed(tmp_path: Path) -> None:
    shutil.copytree(DEMO, tmp_path / "van")
    path = tmp_path / "van/job.toml"
    text = path.read_text(encoding="utf-8")
    begin = text.index('[[adapter]]\nopening   = "front-door"')
    path.write_text(text[:begin] + text[text.index('[[adapter]]\nopening   = "cargo-wall"') :], encoding="utf-8")
    done = run("pack", tmp_path / "van", "--json")
    assert done.returncode == 0, done.stderr
    files = json.loads(done.stdout)["files"]
    kinds = {Path(name).suffix for name in files if name.startswith("parts/cargo-wall-demo-130/")}
    assert {".step", ".stl", ".3mf", ".dxf", ".pdf"} <= kinds


def test_the_dossier_of_another_job_is_refused_before_anything_is_made(packed: dict[str, Any], tmp_path: Path) -> None:
    out = tmp_path / "out"
    shutil.copytree(packed["folder"], out)
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    title = tomllib.loads((DEMO / "job.toml").read_text(encoding="utf-8"))["title"]
    other = small(tmp_path / "other")
    text = (other / "job.toml").read_text(encoding="utf-8")
    (other / "job.toml").write_text(text.replace(title, "Somebody else's"), encoding="utf-8")
    done = run("pack", other, "--no-parts", "--out", out)
    assert done.returncode == 2, done.stderr
    assert "another job" in done.stderr
    assert title in done.stderr
    assert "Somebody else's" in done.stderr
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before
    assert sorted(path.name for path in other.iterdir()) == ["job.toml"]
