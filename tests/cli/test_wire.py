"""`wire` from the command line: cautions first, the gate before the voltage."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job"


def run(*args: str | Path, code: int = 0) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(
        [sys.executable, "-m", "backwave", *map(str, args)],
        check=False, capture_output=True, text=True, env={"COLUMNS": "150", "PATH": ""},
    )  # fmt: skip
    assert done.returncode == code, done.stderr or done.stdout
    return done


def test_cautions_come_first_and_the_gate_before_the_voltage() -> None:
    text = run("wire", DEMO).stdout
    assert text.index("hydrogen") < text.index("block") < text.index("engine off:")
    assert "17.3 V" not in text
    assert "the voltage shows with --speakers-off" in text
    confirmed = run("wire", DEMO, "--speakers-off").stdout
    assert "17.3 V" in confirmed
    assert confirmed.index("disconnected") < confirmed.index("17.3 V")


def test_json_and_why() -> None:
    document = json.loads(run("wire", DEMO, "--json").stdout)
    assert document["cables"][0]["fuse_a"] == 80
    assert "ISO 8820" in run("why", DEMO, "power.fuse-breaking@block").stdout


def test_nothing_to_wire_says_what_to_add(tmp_path: Path) -> None:
    text = (DEMO / "job.toml").read_text(encoding="utf-8")
    (tmp_path / "job.toml").write_text(text[: text.index("# ---- what feeds them")], encoding="utf-8")
    assert "Add a [[load]]" in run("wire", tmp_path, code=3).stderr
