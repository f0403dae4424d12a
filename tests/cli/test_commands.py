"""The command line from outside: exit codes, JSON that others rely on, and what a person reads."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.cli.command_line import DEMO, SIX, run


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "van"
    shutil.copytree(DEMO, folder)
    return folder


@pytest.fixture(scope="module")
def checked(demo: Path) -> dict[str, Any]:
    done = run("check", demo, "--json")
    assert done.stderr == ""
    document: dict[str, Any] = json.loads(done.stdout)
    assert done.returncode == (1 if document["verdict"] == "stop" else 0)
    return document


def test_help_says_what_it_is_and_lists_the_commands_in_the_order_of_the_job() -> None:
    done = run("--help")
    assert done.returncode == 0
    text = done.stdout
    assert "Fit better loudspeakers" in text
    places = [text.index(f" {name} ") for name in ("demo", "new", "check", "why", "make", "help", "schema")]
    assert places == sorted(places)


def test_check_gives_every_key_that_others_rely_on(checked: dict[str, Any]) -> None:
    assert {"title", "verdict", "findings", "assumed", "fit"} <= set(checked)
    for finding in checked["findings"]:
        wanted = {
            "id",
            "subject",
            "topic",
            "verdict",
            "title",
            "value",
            "limit",
            "unit",
            "chance",
            "remedy",
            "working",
            "sources",
        }
        assert wanted <= set(finding)
        assert finding["verdict"] != "stop" or finding["remedy"]
        assert "{" not in finding["title"] + (finding["remedy"] or "")
        for step in finding["working"]:
            assert set(step) == {"symbol", "meaning", "value", "unit", "source"}
    assert {"front-door", "cargo-wall"} == set(checked["fit"])
    for opening in checked["fit"].values():
        for side in (opening, *opening["sides"].values()):
            assert set(side["seat_height_mm"]) == {"low", "high", "chosen"}
            for name in ("glass_clearance_mm", "grille_clearance_mm", "hole_clearance_mm"):
                assert side[name] is None or set(side[name]) == {"value", "u", "low", "high"}
            assert set(side["worst_case_mm"]) == {"glass", "grille", "hole"}
            assert 0.0 <= side["chance_margin"] <= side["chance_clear"] <= 1.0
            assert sum(c["share"] for c in side["contributions"]) == pytest.approx(1.0)
            assert set(side["clocking"]) >= {"angle_deg", "gap_mm"}
            assert set(side["foam_ring"]) >= {"free_mm", "closed_mm", "compression", "force_n"}
    order = [("stop", "caution", "ok").index(f["verdict"]) for f in checked["findings"]]
    assert order == sorted(order)
    ids = [f["id"] for f in checked["findings"]]
    assert len(set(ids)) == len(ids)


def test_why_shows_the_working_of_every_finding(demo: Path, checked: dict[str, Any]) -> None:
    glass = "fit.glass@front-door.left"
    assert glass in {f["id"] for f in checked["findings"]}
    done = run("why", demo, glass)
    assert done.returncode == 0, done.stderr
    assert "stand-off" in done.stdout
    assert "JCGM 101:2008" in done.stdout
    one = json.loads(run("why", demo, glass, "--json").stdout)
    assert one == next(f for f in checked["findings"] if f["id"] == glass)
    wrong = run("why", demo, "fit.glas@front-door.left")
    assert (wrong.returncode, wrong.stdout) == (2, "")
    assert glass in wrong.stderr


def test_six_readings_give_a_first_verdict_and_list_what_was_assumed(tmp_path: Path) -> None:
    made = run("new", tmp_path / "van", *SIX)
    assert made.returncode == 0, made.stderr
    done = run("check", tmp_path / "van", "--json")
    document = json.loads(done.stdout)
    side = document["fit"]["front-door"]["sides"]["left"]
    assert side["glass_clearance_mm"]["value"] is not None
    assert side["grille_clearance_mm"]["value"] is not None
    assert side["hole_clearance_mm"]["value"] is not None
    keys = {a["key"] for a in document["assumed"]}
    assert {"speaker.woofer.motor.Xmech", "speaker.woofer.profile", "speaker.woofer.terminals", "margins.glass"} <= keys
    assert all(a["why"] for a in document["assumed"])


def test_a_new_job_without_readings_passes_check_except_for_what_it_asks(tmp_path: Path) -> None:
    assert run("new", tmp_path / "van").returncode == 0
    done = run("check", tmp_path / "van", "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert document["findings"]
    assert {f["id"].partition("@")[0].partition(".")[0] for f in document["findings"]} <= {"job", "fit"}
    assert all(f["verdict"] != "stop" for f in document["findings"])


def test_bad_input_is_told_all_at_once_and_nothing_is_written(tmp_path: Path) -> None:
    text = (DEMO / "job.toml").read_text(encoding="utf-8")
    bad = text.replace('skin    = "0.8 mm"', 'skin    = "0.8 kg"').replace("thickness =", "thicknes  =", 1)
    (tmp_path / "job.toml").write_text(bad, encoding="utf-8")
    for command in ("check", "make"):
        done = run(command, tmp_path)
        assert (done.returncode, done.stdout) == (2, "")
        assert "a mass where a length is meant" in done.stderr
        assert "nearest known key: thickness" in done.stderr
        assert "job.toml:" in done.stderr
        assert "Traceback" not in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == ["job.toml"]


def test_what_is_missing_is_exit_code_3_with_how_to_get_it(tmp_path: Path) -> None:
    done = run("check", tmp_path / "nowhere")
    assert done.returncode == 3
    assert "backwave new" in done.stderr


def test_us_display_changes_what_a_person_sees_and_not_the_json(
    demo: Path, checked: dict[str, Any], tmp_path: Path
) -> None:
    folder = tmp_path / "van"
    shutil.copytree(demo, folder, ignore=shutil.ignore_patterns("made"))
    text = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(text.replace('show   = "metric"', 'show   = "us"'), encoding="utf-8")
    assert json.loads(run("check", folder, "--json").stdout)["fit"] == checked["fit"]
    shown = run("check", folder, "--all").stdout
    assert " in " in shown


def test_the_schema_is_one_json_document() -> None:
    done = run("schema")
    assert json.loads(done.stdout)["properties"]["opening"]


def test_a_driver_that_cannot_fit_is_a_stop_with_its_reason(tmp_path: Path) -> None:
    six = SIX.copy()
    six[six.index("--depth") + 1] = "120 mm"
    assert run("new", tmp_path / "van", *six).returncode == 0
    done = run("check", tmp_path / "van")
    assert done.returncode == 1
    assert "STOP" in done.stdout
    assert "Traceback" not in done.stderr


def test_the_same_job_gives_the_same_answer_twice(demo: Path, checked: dict[str, Any]) -> None:
    assert json.loads(run("check", demo, "--json").stdout) == checked
