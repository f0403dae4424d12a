"""`predict` and `design` from the command line, as a person runs them."""

from __future__ import annotations

import json
import shutil
import xml.etree.ElementTree as ET
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from tests.cli.command_line import DEMO
from tests.cli.command_line import run as command


def run(*args: str | Path, code: int = 0) -> CompletedProcess[str]:
    return command(*args, code=code, columns=160)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    shutil.copytree(DEMO, tmp_path / "job")
    return tmp_path / "job"


def test_predict_tells_stages_and_what_they_are_worth(job: Path) -> None:
    text = run("predict", job).stdout
    for words in ("As it was", "Subwoofer takes the deep bass", "what the foam ring is worth", "mid-bass", "loudest"):
        assert words in text
    plain = run("predict", job, "--json")
    document = json.loads(plain.stdout)
    assert {"stages", "comparisons"} <= set(document)
    assert plain.stderr == ""


def test_plots_are_drawings_a_browser_reads(job: Path, tmp_path: Path) -> None:
    done = run("predict", job, "--plot", tmp_path / "plots", "--json")
    written = sorted((tmp_path / "plots").glob("*.svg"))
    assert len(written) > 10
    assert done.stderr.count(".svg") == len(written)
    for path in written:
        assert ET.parse(path).getroot().tag.endswith("svg")
    assert "New speakers on" in (tmp_path / "plots" / "response-driver.svg").read_text(encoding="utf-8")


def test_a_stop_is_exit_code_1_and_no_stage_is_3(job: Path) -> None:
    text = (job / "job.toml").read_text(encoding="utf-8")
    (job / "job.toml").write_text(text.replace(', network = ["series C 4.7 uF"]', ""), encoding="utf-8")
    assert "burns at the first loud note" in run("predict", job, code=1).stdout
    (job / "job.toml").write_text(text[: text.index("# ---- what drives them")], encoding="utf-8")
    assert "Add a [[source]]" in run("predict", job, code=3).stderr


def test_why_a_prediction_says_so(job: Path) -> None:
    text = run("why", job, "sound.box.under-seat@subwoofer").stdout
    assert "Small 1972" in text
    assert "alpha" in text


def test_design_writes_parts_that_the_job_takes(job: Path) -> None:
    one = json.loads(
        run("design", job, "low-pass", "2.5 kHz", "LR4", "--path", "front-door/demo-165", "--zobel", "--json").stdout
    )
    assert one["network"][0].startswith("series L")
    assert len(one["stress"]) == 6
    assert one["real"]["reached_hz"] != one["ideal"]["reached_hz"]  # a driver is no resistor
    text = (job / "job.toml").read_text(encoding="utf-8")
    old = 'network = ["series L 0.39 mH 0.2 ohm", "shunt R 3.9 ohm + C 22 uF"]'
    (job / "job.toml").write_text(text.replace(old, f"network = {json.dumps(one['network'])}"), encoding="utf-8")
    assert json.loads(run("predict", job, "--json").stdout)["stages"]


def test_design_for_tweeter_box_and_coils(job: Path, tmp_path: Path) -> None:
    cap = run("design", job, "capacitor", "3 kHz", "--path", "dash/demo-25", "--plot", tmp_path).stdout
    assert "series C 12 uF" in cap
    assert (tmp_path / "design-dash-demo-25.svg").is_file()
    box = json.loads(run("design", job, "box", "under-seat", "--json").stdout)
    assert box["net_m3"] == pytest.approx(14e-3)
    assert [c["count"] for c in box["cuts"]] == [2, 2, 2]
    coils = json.loads(run("design", job, "coils", "2", "4 ohm", "--path", "under-seat/demo-250", "--json").stdout)
    assert [w["load_ohm"] for w in coils["wirings"]] == [2.0, 8.0]
    assert all(w["allowed"] for w in coils["wirings"])


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("band-pass", "1 kHz", "LR4"), "not something to design"),
        (("low-pass", "2.5 kHz"), "not something to design"),
        (("low-pass", "2.5 kHz", "LR4"), "--path"),
        (("low-pass", "2.5 kHz", "LR3", "--path", "front-door"), "LR4"),
        (("low-pass", "2.5 mm", "LR4", "--path", "front-door"), "frequency"),
        (("low-pass", "2.5 kHz", "LR4", "--path", "nowhere"), "front-door/factory-160"),
        (("low-pass", "2.5 kHz", "LR4", "--path", "front-door", "--stage", "none"), "factory"),
        (("box", "trunk"), "under-seat"),
        (("coils", "none", "4 ohm"), "how many"),
    ],
)
def test_design_says_what_it_takes(job: Path, args: tuple[str, ...], words: str) -> None:
    assert words in run("design", job, *args, code=2).stderr
