"""A part that is stopped: not made, planned, bought or packed; what settles the stop always is, and a reason overrides it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.cli.command_line import DEMO, run

STOPPED, SOUND = "cargo-wall-demo-130", "front-door-demo-165-left"
TRIED = {"check_ring", "stand_in", "template"}

pytestmark = [pytest.mark.slow, pytest.mark.kernel]


def shallow(folder: Path) -> Path:
    """The demo with something 30 mm behind the cargo wall, where its driver takes twice that."""
    shutil.copytree(DEMO, folder)
    text = (folder / "job.toml").read_text(encoding="utf-8")
    assert 'clear = "74 mm"' in text
    (folder / "job.toml").write_text(text.replace('clear = "74 mm"', 'clear = "30 mm"'), encoding="utf-8")
    return folder


def made(job: Path, *more: str) -> tuple[int, dict[str, Any]]:
    done = run("make", job, "--part", STOPPED, "--part", SOUND, "--json", *more)
    assert done.returncode in (0, 1), done.stderr
    return done.returncode, {part["id"]: part for part in json.loads(done.stdout)["parts"]}


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shallow(tmp_path_factory.mktemp("stopped") / "van")


def test_the_stopped_part_is_not_made_and_the_other_is(job: Path) -> None:
    code, parts = made(job)
    assert code == 1
    assert set(parts[STOPPED]["files"]) == TRIED
    assert "fit.behind" in parts[STOPPED]["stopped_by"]
    assert {"step", "stl", "3mf", "dxf", "template"} <= set(parts[SOUND]["files"])
    assert {p.name for p in (job / "made" / STOPPED).iterdir()} == {
        Path(name).name for name in parts[STOPPED]["files"].values()
    }
    said = run("make", job, "--part", STOPPED).stdout
    assert "STOPPED: not made" in said
    assert "give a reason with --anyway" in said


def test_nothing_of_it_is_planned_or_bought_but_what_settles_it(job: Path) -> None:
    plan = json.loads(run("plan", job, "--json").stdout)
    ids = {task["id"] for task in plan["tasks"]}
    assert {f"try-{STOPPED}", f"settle-{STOPPED}", f"print-{SOUND}"} <= ids
    assert not ids & {f"{kind}-{STOPPED}" for kind in ("print", "cut", "inserts", "foam")}
    fit = next(task for task in plan["tasks"] if task["id"].startswith("fit-cargo-wall"))
    assert f"settle-{STOPPED}" in fit["after"]
    bought = {(item["what"], why) for item in plan["shopping"] for why in item["why"]}
    assert not [what for what, why in bought if why.startswith("Cargo wall") and "filament" in what]
    assert [what for what, why in bought if why.startswith("Front door, left") and "filament" in what]


def test_a_reason_is_needed_kept_and_printed_and_the_job_file_stays_as_it_is(job: Path) -> None:
    before = (job / "job.toml").read_bytes()
    empty = run("make", job, "--part", STOPPED, "--anyway", "  ")
    assert empty.returncode == 2
    assert "reason" in empty.stderr
    none = run("make", job, "--part", SOUND, "--anyway", "why not")
    assert none.returncode == 2
    assert not (job / "log.toml").exists()
    code, parts = made(job, "--anyway", "a display piece")
    assert code == 1  # it is still stopped
    assert parts[STOPPED]["made_anyway"] == "a display piece"
    assert "STOPPED-made-anyway" in parts[STOPPED]["files"]["step"]
    assert parts[SOUND]["made_anyway"] is None
    assert (job / "job.toml").read_bytes() == before
    assert "a display piece" in (job / "log.toml").read_text(encoding="utf-8")
    assert made(job)[1][STOPPED]["made_anyway"] == "a display piece"  # it need not be said twice
    plan = json.loads(run("plan", job, "--json").stdout)
    (task,) = [task for task in plan["tasks"] if task["id"] == f"print-{STOPPED}"]
    assert "STOPPED: made anyway: a display piece" in task["cautions"]


def test_another_part_is_stopped_again_and_the_old_one_does_not_stay(job: Path) -> None:
    text = (job / "job.toml").read_text(encoding="utf-8")
    assert 'cutout    = "114 mm"' in text
    (job / "job.toml").write_text(text.replace('cutout    = "114 mm"', 'cutout    = "113.5 mm"'), encoding="utf-8")
    code, parts = made(job)
    assert code == 1
    assert set(parts[STOPPED]["files"]) == TRIED
    assert not list((job / "made" / STOPPED).glob("*.step"))
    manifest = json.loads((job / "made/manifest.json").read_text(encoding="utf-8"))
    (entry,) = [part for part in manifest["parts"] if part["id"] == STOPPED]
    assert set(entry["files"]) == TRIED


def test_what_cannot_be_built_holds_up_no_other(tmp_path: Path) -> None:
    job = shallow(tmp_path / "van")
    text = (job / "job.toml").read_text(encoding="utf-8")
    leaning = text.replace(
        'door    = "sheet"', 'mounting = { tilt = "5 deg", toward = "90 deg" }\ndoor    = "sheet"', 1
    )
    assert leaning != text
    (job / "job.toml").write_text(leaning, encoding="utf-8")
    code, parts = made(job, "--anyway", "a display piece")
    assert code == 1
    assert parts[STOPPED]["made_anyway"] == "a display piece"
    assert (parts[SOUND]["made_anyway"], set(parts[SOUND]["files"])) == (None, {"check_ring", "template"})
    alone = run("make", job, "--part", SOUND, "--anyway", "a display piece")
    assert alone.returncode == 2
    assert "cannot be built" in alone.stderr
    assert "Try the test ring, enter" in run("make", job, "--part", SOUND).stdout
