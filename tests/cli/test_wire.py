"""`wire` from the command line: cautions first, the gate before the voltage."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from subprocess import CompletedProcess

from tests.cli.command_line import DEMO
from tests.cli.command_line import run as command


def run(*args: str | Path, code: int = 0, typed: str = "") -> CompletedProcess[str]:
    return command(*args, code=code, typed=typed, columns=150)


def test_cautions_come_first_and_the_gate_before_the_voltage(tmp_path: Path) -> None:
    shutil.copy(DEMO / "job.toml", tmp_path)
    text = run("wire", tmp_path).stdout
    assert text.index("hydrogen") < text.index("Block") < text.index("engine off")
    assert "17.3 V" not in text
    assert "wire --speakers-off, asks them" in " ".join(text.split())
    some = run("wire", tmp_path, "--speakers-off", typed="y\ny\nn\n" + "n\n" * 8).stdout
    assert "17.3 V" not in some
    assert "17.3" not in run("wire", tmp_path, "--json").stdout
    # the first output's own four lines open it and no other
    first = run("wire", tmp_path, "--speakers-off", typed="y\n" * 4 + "n\n" * 8).stdout
    assert first.count("17.3 V, a ceiling") == 1
    assert first.index("disconnected") < first.index("17.3 V")
    channels = json.loads(run("wire", tmp_path, "--json").stdout)["channels"]
    assert [one["test_tone_v"] is not None for one in channels if one["tone_hz"]].count(True) == 1


def test_json_and_why() -> None:
    document = json.loads(run("wire", DEMO, "--json").stdout)
    assert document["cables"][0]["fuse_a"] == 80
    assert "ISO 8820" in run("why", DEMO, "power.fuse-breaking@block").stdout


def test_nothing_to_wire_says_what_to_add(tmp_path: Path) -> None:
    text = (DEMO / "job.toml").read_text(encoding="utf-8")
    (tmp_path / "job.toml").write_text(text[: text.index("# ---- what feeds them")], encoding="utf-8")
    assert "Add a [[load]]" in run("wire", tmp_path, code=3).stderr


def test_lists_drawings_and_no_load_at_all(tmp_path: Path) -> None:
    """Door speakers on the head unit alone draw nothing, and their wires are listed all the same."""
    text = (DEMO / "job.toml").read_text(encoding="utf-8")
    for table in ("load", "distribution", "cable_test"):
        text = "".join(f"[[{part}" for part in text.split("[[") if not part.startswith(f"{table}]]")).removeprefix("[[")
    (tmp_path / "job.toml").write_text(text[: text.index("# ---- the factory's wires")], encoding="utf-8")
    lists = run("wire", tmp_path, "--lists", "--plot", tmp_path / "drawn").stdout
    assert "crossover-left-in-plus" in lists
    assert lists.index("Wire schedule") < lists.index("What to cut") < lists.index("Labels")
    assert sorted(path.name for path in (tmp_path / "drawn").iterdir()) == ["harness.svg"]
    document = json.loads(run("wire", tmp_path, "--json").stdout)
    assert (document["cables"], len(document["harness"]["wires"])) == ([], 14)


def test_pins_and_colors_that_are_none_are_bad_input(tmp_path: Path) -> None:
    text = (DEMO / "job.toml").read_text(encoding="utf-8").replace('to     = "amp.turn-on"', 'to     = "amp.turn-onn"')
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    said = run("wire", tmp_path, code=2).stderr
    line = next(n for n, row in enumerate(text.split("\n"), 1) if "amp.turn-onn" in row)
    assert f"job.toml:{line}: wire.amp-turn-on.to: no such pin" in said
    assert "nearest known key: amp.turn-on" in said


def test_the_guided_record_of_a_pair(tmp_path: Path) -> None:
    shutil.copy(DEMO / "job.toml", tmp_path)
    was = (tmp_path / "job.toml").read_text(encoding="utf-8")
    # a line that is not so ends it: no reading is asked for, none is written
    stopped = run("pair", tmp_path, "dash-right", typed="y\nn\n").stdout
    assert "Put the meter away" in stopped
    assert "The meter across" not in stopped
    assert (tmp_path / "job.toml").read_text(encoding="utf-8").count("resistance") == was.count("resistance")
    done = run("pair", tmp_path, "dash-right", typed="y\n" * 5 + "open\n\n").stdout
    assert "1.5 V cell" not in done  # a tweeter
    assert "cannot tell which is plus" in done
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert text.count('resistance = "open"') == 2
    assert "# not confirmed yet, so nothing is read" in text  # comments stay
    # no always wins: it is written, and the reading that stood on it is not used any more
    said = run("pair", tmp_path, "dash-right", typed="\nn\n").stdout
    assert "Put the meter away" in said
    assert "not confirmed and not used" in said
    assert (tmp_path / "job.toml").read_text(encoding="utf-8") == text
    assert "door-left, door-right" in run("pair", tmp_path, "nobody", code=2).stderr
