"""`make` and `demo` from outside: the files, what is kept of the solids, and what happens the second time."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from backwave.job import load
from backwave.stock import shipped
from tests.cli.command_line import DEMO, run

PART = "cargo-wall-demo-130"
KINDS = {"step", "stl", "3mf", "dxf", "template"}

pytestmark = [pytest.mark.slow, pytest.mark.kernel]


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("make") / "van"
    shutil.copytree(DEMO, folder)
    return folder


@pytest.fixture(scope="module")
def made(job: Path) -> dict[str, Any]:
    done = run("make", job, "--part", PART, "--json")
    assert done.returncode == 0, done.stderr
    document: dict[str, Any] = json.loads(done.stdout)
    return document


def test_every_file_is_there_and_the_json_is_as_others_rely_on(made: dict[str, Any]) -> None:
    (part,) = made["parts"]
    assert part["id"] == PART
    assert set(part["files"]) >= KINDS
    assert all(Path(path).is_file() for path in part["files"].values())
    assert {"side", "volume_mm3", "mass_kg", "bounds_mm", "closed", "least_wall_mm", "print", "sheet"} <= set(part)
    assert part["closed"] is True
    assert len(part["bounds_mm"]) == 3
    assert part["least_wall_mm"] >= 0.9
    # Volume times the density of the stock's row for the material that the demo names.
    adapter = next(a for a in load(DEMO).file.adapter if a.opening == "cargo-wall")
    density = shipped().material(adapter.material).density_kg_m3
    assert part["mass_kg"] == pytest.approx(part["volume_mm3"] * 1e-9 * density)


def test_check_shows_what_was_measured_while_the_part_is_the_same(job: Path, made: dict[str, Any]) -> None:
    assert made["parts"]
    ids = {f["id"] for f in json.loads(run("check", job, "--json").stdout)["findings"]}
    assert "part.wall@cargo-wall" in ids
    assert "part.solid.state@front-door.left" in ids  # not built yet
    assert "part.solid.state@cargo-wall" not in ids
    text = (job / "job.toml").read_text(encoding="utf-8")
    other = job.parent / "other"
    shutil.copytree(job, other)
    (other / "job.toml").write_text(text.replace('cutout    = "114 mm"', 'cutout    = "113 mm"'), encoding="utf-8")
    ids = {f["id"] for f in json.loads(run("check", other, "--json").stdout)["findings"]}
    assert "part.solid.state@cargo-wall" in ids
    assert "part.wall@cargo-wall" not in ids


def test_the_second_time_nothing_is_made_anew_and_nothing_else_lies_about(job: Path, made: dict[str, Any]) -> None:
    stamps = {p: p.stat().st_mtime_ns for p in (job / "made" / PART).iterdir()}
    again = run("make", job, "--part", PART)
    assert again.returncode == 0, again.stderr
    assert "as before" in again.stdout
    assert {p: p.stat().st_mtime_ns for p in (job / "made" / PART).iterdir()} == stamps
    names = {Path(path).name for path in made["parts"][0]["files"].values()}
    assert {p.name for p in (job / "made" / PART).iterdir()} == names
    manifest = json.loads((job / "made" / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["parts"][0]["id"] == PART
    for name in manifest["parts"][0]["files"].values():
        assert (job / "made" / name).is_file()
    drawings = {p.name for p in (job / "made" / "drawings").iterdir()}
    assert {"section-front-door-left.svg", "face-cargo-wall.svg"} <= drawings


def test_a_part_that_is_not_there_is_named(job: Path) -> None:
    done = run("make", job, "--part", "boot-lid")
    assert done.returncode == 2
    assert PART in done.stderr


def test_a_kept_file_that_is_spoiled_is_made_anew_not_a_traceback(job: Path, made: dict[str, Any]) -> None:
    assert made["parts"]
    other = job.parent / "spoiled"
    shutil.copytree(job, other)
    (other / "made/.cache/solids.json").write_text("{ not json", encoding="utf-8")
    done = run("check", other, "--json")
    assert done.returncode == 0, done.stderr
    assert "part.solid.state@cargo-wall" in {f["id"] for f in json.loads(done.stdout)["findings"]}


def test_the_demo_runs_the_whole_main_job_and_says_where_to_look(tmp_path: Path) -> None:
    done = run("demo", tmp_path / "demo")
    assert done.returncode == 0, done.stderr
    assert "Where to look" in done.stdout
    shown = [
        line.split()[0] for line in done.stdout[done.stdout.index("Where to look") :].splitlines()[1:] if line.strip()
    ]
    assert len(shown) >= 9
    assert all(Path(name).exists() for name in shown)
    kinds = {p.suffix for p in (tmp_path / "demo/made").rglob("*") if p.is_file()}
    assert {".step", ".stl", ".3mf", ".dxf", ".pdf", ".svg", ".json"} <= kinds


def test_parts_whose_adapter_is_gone_are_told_and_moved_aside(job: Path, made: dict[str, Any], tmp_path: Path) -> None:
    assert made["parts"]
    van = tmp_path / "van"
    shutil.copytree(job, van)
    path = van / "job.toml"
    text = path.read_text(encoding="utf-8")
    at = text.index('[[adapter]]\nopening   = "cargo-wall"')
    path.write_text(text[:at] + text[text.index("# ---- what drives them") :], encoding="utf-8")
    done = run("make", van, "--part", "none-of-these", code=2)  # a name that is wrong moves nothing
    assert (van / "made" / PART).is_dir(), done.stdout
    path.write_text(text[: text.index("[[adapter]]")] + text[text.index("# ---- what drives them") :], encoding="utf-8")
    done = run("make", van)
    assert f"No longer in the job, moved to {van}/made/old: {PART}" in done.stdout
    assert not (van / "made" / PART).exists()
    assert list((van / "made" / "old" / PART).glob("*.step"))
    assert json.loads((van / "made" / "manifest.json").read_text(encoding="utf-8"))["parts"] == []
    assert json.loads(run("make", van, "--json").stdout)["old"] == []
