"""A command line in this process, as if it had one of its own; what only a process shows is asked in test_endings.py."""

from __future__ import annotations

import contextlib
import gc
import io
import os
from pathlib import Path
from subprocess import CompletedProcess
from unittest import mock

from backwave.cli import main

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job"
SIX = [
    word
    for pair in {
        "--hole": "143.5 mm", "--behind": "58 mm", "--trim": "37 mm", "--cutout": "141 mm", "--magnet": "92 mm", "--depth": "64 mm",
    }.items()
    for word in pair
]  # fmt: skip


def run(
    *args: str | Path, code: int | None = None, cwd: Path | None = None, typed: str = "", columns: int = 110, **env: str
) -> CompletedProcess[str]:
    """What it said and its exit code, which is checked where one is given."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="\n") for _ in range(2))
    ended: object = None
    with (
        contextlib.chdir(cwd or "."),
        mock.patch.dict(os.environ, {"COLUMNS": str(columns), "NO_COLOR": "1", **env}),
        mock.patch("sys.stdin", io.StringIO(typed)),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            main([str(arg) for arg in args])
        except SystemExit as end:
            ended = end.code
        finally:
            gc.enable()  # which a short command goes without
    assert isinstance(ended, int)
    said = []
    for stream in (out, err):
        stream.seek(0)
        said.append(stream.read())
    assert code is None or ended == code, said[1] or said[0]
    assert "Traceback" not in said[1]
    return CompletedProcess(args, ended, *said)
