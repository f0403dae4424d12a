"""However the workbench is ended, what waits to be saved is saved."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).resolve().parents[2] / "docs/example-job.toml"
CODE = """
import sys
from pathlib import Path
from backwave.bench import board, serve
from backwave.job import Session
board.Session = lambda folder: Session(folder, delay_s=60)
real = board.Board.run
async def run(self):
    self.session.set(("title",), "Typed last")
    print("typed", flush=True)
    await real(self)
board.Board.run = run
serve(Path(sys.argv[1]), port=0, show=False)
"""


@pytest.mark.skipif(os.name == "nt", reason="signals as on Unix")
@pytest.mark.parametrize("how", ["SIGHUP", "SIGTERM", "SIGINT", "SIGINT twice"])
def test_what_waits_is_saved_whatever_ends_it(tmp_path: Path, how: str) -> None:
    shutil.copy(EXAMPLE, tmp_path / "job.toml")
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST")}
    command = [sys.executable, "-c", CODE, str(tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env) as process:
        assert process.stdout is not None
        try:
            assert any(line == "typed\n" for line in process.stdout), "it started"
            assert tomllib.loads((tmp_path / "job.toml").read_text(encoding="utf-8"))["title"] != "Typed last"
            if how == "SIGHUP":
                process.stdout.close()  # as a terminal that is gone
            for _ in range(1 + how.endswith("twice")):
                process.send_signal(getattr(signal, how.partition(" ")[0]))
                time.sleep(0.05)
            code = process.wait(20)
        finally:
            process.kill()
    assert tomllib.loads((tmp_path / "job.toml").read_text(encoding="utf-8"))["title"] == "Typed last"
    assert code == (130 if "INT" in how else -signal.SIGTERM)
    assert not list((tmp_path / "made/.cache/open").glob("*"))


FULL = CODE.replace(
    '    print("typed"',
    "    from backwave.job.undo import Append\n"
    '    self.session.set_many([Append("opening", {"id": "extra", "name": "Shelf"})])\n'
    "    import resource\n"
    "    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))  # no file takes a byte from here on\n"
    '    print("typed"',
)


@pytest.mark.skipif(os.name == "nt", reason="signals and limits as on Unix")
@pytest.mark.parametrize("how", ["SIGTERM", "SIGINT"])
def test_what_cannot_be_saved_in_the_end_is_told_in_a_sentence(tmp_path: Path, how: str) -> None:
    shutil.copy(EXAMPLE, tmp_path / "job.toml")
    before = (tmp_path / "job.toml").read_bytes()
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST")}
    with subprocess.Popen(
        [sys.executable, "-c", FULL, str(tmp_path)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env,
    ) as process:  # fmt: skip
        assert process.stdout is not None
        assert process.stderr is not None
        try:
            assert any(line == "typed\n" for line in process.stdout), "it started"
            process.send_signal(getattr(signal, how))
            said = process.stderr.read()
            code = process.wait(20)
        finally:
            process.kill()
    assert "Traceback" not in said
    assert said.count("\n") == 1
    assert said.startswith("Not saved (File too large); enter it again: ")
    assert 'title = "Typed last"' in said
    assert "a row added: [[opening]] | id" in said
    assert code == 3
    assert (tmp_path / "job.toml").read_bytes() == before
    assert not list((tmp_path / "made/.cache/open").glob("*")), "no trace of a workbench that is gone"
