"""How commands end where something is wrong that is not the job's: a sentence, the right exit code, nothing half written."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Sequence
from pathlib import Path
from unittest import mock

import pytest

from backwave.errors import BuildError
from tests.cli.command_line import SIX, run

UNPRIVILEGED = 65534


@pytest.fixture(scope="module")
def van(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("endings") / "van"
    assert run("new", folder, *SIX).returncode == 0
    return folder


def planted(error: BaseException, scratch: Path, *args: str | Path) -> subprocess.CompletedProcess[str]:
    """`check`, in whose way an exception is laid; its reports lie in `scratch`."""
    with mock.patch("backwave.assess.assess", side_effect=error), mock.patch("tempfile.tempdir", str(scratch)):
        return run(*args)


def test_an_unexpected_exception_is_70_and_says_what_to_send(van: Path, tmp_path: Path) -> None:
    for args in (("check", van), ("check", van, "--json")):
        done = planted(KeyError("secret of the job"), tmp_path, *args)
        assert (done.returncode, done.stdout) == (70, "")
        assert "backwave failed" in done.stderr
    reports = sorted(tmp_path.glob("backwave-failed-*.txt"))
    assert len(reports) == 2  # one with --json, one without
    for path in reports:
        text = path.read_text(encoding="utf-8")
        assert str(path) in done.stderr or "--json" not in text
        assert "KeyError\n" in text
        assert "secret" not in text
        assert str(van.parent) not in text
        assert "backwave/cli/check.py:" in text


@pytest.mark.parametrize(
    ("what", "words", "code"),
    [
        (OSError(28, "x", "job.toml"), "no room left on the disk", 3),
        (OSError(13, "x", "job.toml"), "no permission for job.toml", 3),
        (MemoryError(), "not enough memory", 3),
        (UnicodeDecodeError("utf-8", b"\xff", 0, 1, "x"), "UTF-8", 2),
        (KeyboardInterrupt(), "Stopped.", 130),
        (SystemExit(1), "backwave failed", 70),
        (BuildError("boss", "gone"), "backwave failed", 70),
    ],
)
def test_what_can_be_expected_ends_with_2_or_3_and_a_sentence(
    van: Path, what: BaseException, words: str, code: int, tmp_path: Path
) -> None:
    done = planted(what, tmp_path, "check", van, "--json")
    assert (done.returncode, done.stdout) == (code, "")
    assert words in done.stderr


def test_wrong_words_are_2_and_reach_the_terminal_clean() -> None:
    for args in (
        ("\x1b]0;x\x07",),
        ("check", "--\x1b[2J=1"),
        ("check", "a", "\x9bb"),
        ("sweep", "x.wav", "--rate", "\x1b"),
    ):
        done = run(*args)
        assert done.returncode == 2
        assert "Error:" in done.stderr
        assert not set(done.stdout + done.stderr) & set("\x1b\x07\x9b")


def test_a_reader_that_stops_reading_changes_no_exit_code(van: Path) -> None:
    whole = run("check", van, "--all")
    for args in (("check", van, "--all"), ("check", van, "--json"), ("schema",)):
        command = [sys.executable, "-m", "backwave", *map(str, args)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
            assert process.stdout is not None
            assert process.stderr is not None
            process.stdout.close()
            assert process.stderr.read() == b""
            assert process.wait() == (whole.returncode if args[0] == "check" else 0)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_an_output_that_cannot_be_written_is_3(van: Path) -> None:
    for args in (("check", van), ("check", van, "--json"), ("schema",)):
        with Path("/dev/full").open("w") as full:
            command = [sys.executable, "-m", "backwave", *map(str, args)]
            done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
        assert done.returncode == 3
        assert done.stderr.startswith("There is no room left on the disk")
        assert "Traceback" not in done.stderr
        assert "Exception" not in done.stderr


@pytest.mark.parametrize("encoding", ["iso-8859-1", "ascii", "cp437"])
def test_a_terminal_without_utf8_replaces_letters_and_keeps_the_exit_code(van: Path, encoding: str) -> None:
    whole = run("check", van, "--all")
    env = {**os.environ, "COLUMNS": "110", "NO_COLOR": "1", "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
    command = [sys.executable, "-m", "backwave", "check", str(van)]
    done = subprocess.run([*command, "--all"], capture_output=True, check=False, env=env)
    assert (done.returncode, done.stderr) == (whole.returncode, b"")
    assert len(done.stdout.decode(encoding)) == len(whole.stdout)
    if encoding != "ascii":  # JSON is the same bytes in all of them
        return
    plain = subprocess.run([*command, "--json"], capture_output=True, check=False, env=env)
    assert json.loads(plain.stdout.decode(encoding)) == json.loads(run("check", van, "--json").stdout)


def test_closed_streams_are_no_fault(van: Path) -> None:
    code = run("check", van).returncode
    for closed in (">&-", "2>&-", ">&- 2>&-"):
        line = f'exec "$0" -m backwave check "$1" {closed}'
        done = subprocess.run(["sh", "-c", line, sys.executable, str(van)], capture_output=True, check=False)
        assert done.returncode == code


@pytest.mark.skipif(not hasattr(signal, "SIGINT") or os.name == "nt", reason="signals as on Unix")
def test_ctrl_c_is_130_and_a_word() -> None:
    code = "import backwave.cli as c, backwave.job.schema as s, time, sys\ns.json_schema = lambda: (print('x', file=sys.stderr, flush=True), time.sleep(30))\nc.main(['schema'])"
    with subprocess.Popen(
        [sys.executable, "-c", code], stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True
    ) as process:
        assert process.stderr is not None
        process.stderr.readline()
        time.sleep(0.1)
        process.send_signal(signal.SIGINT)
        assert process.stderr.read() == "Stopped.\n"
        assert process.wait() == 130


PACKS = """
import os, sys, time
from types import SimpleNamespace
from backwave.files import pdf
def compiled(*_, **__):
    os.write(2, b"typesetting\\n")
    time.sleep(60)
real = pdf.import_module
pdf.import_module = lambda name: SimpleNamespace(compile=compiled, Fonts=lambda **_: None) if name == "typst" else real(name)
from backwave.cli import main
main(["plan", sys.argv[1], "--paper", "A4"])
"""


@pytest.mark.skipif(os.name == "nt", reason="signals as on Unix")
@pytest.mark.parametrize(("how", "code"), [("SIGTERM", 143), ("SIGHUP", 129)])
def test_asked_to_stop_it_leaves_nothing_behind_and_says_so(how: str, code: int, van: Path, tmp_path: Path) -> None:
    folder, scratch = tmp_path / "van", tmp_path / "scratch"
    shutil.copytree(van, folder)
    scratch.mkdir()
    command = [sys.executable, "-c", PACKS, str(folder)]
    env = {**os.environ, "TMPDIR": str(scratch)}
    with subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True, env=env) as process:
        assert process.stderr is not None
        assert any(line == "typesetting\n" for line in process.stderr)
        assert list(scratch.glob("backwave-*/data.json")), "private texts lie there now"
        process.send_signal(getattr(signal, how))
        assert process.stderr.read() == "Stopped.\n"
        assert process.wait() == code
    assert not list(scratch.iterdir())
    assert not (folder / "made/lists.pdf").exists()


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="signals as on Unix")
def test_what_was_started_to_outlive_its_terminal_does() -> None:
    code = "import signal, backwave.cli as c, backwave.job.schema as s\ns.json_schema = lambda: (signal.raise_signal(signal.SIGHUP), {'a': 1})[1]\nc.main(['schema'])"
    done = subprocess.run(
        ["sh", "-c", 'trap "" HUP; exec "$0" -c "$1"', sys.executable, code], capture_output=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, b"")


def test_an_answer_that_never_comes_is_2(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(
        'format = 1\ntitle = "x"\n[[opening]]\nid = "door"\nsides = ["left"]\n[[pair]]\nid = "a"\nopening = "door"\n'
        'side = "left"\ncolors = ["red", "black"]\nends_at = "woofer"\n',
        encoding="utf-8",
    )
    before = (tmp_path / "job.toml").read_bytes()
    command = [sys.executable, "-m", "backwave", "pair", str(tmp_path), "a"]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    assert done.returncode == 2, done.stderr
    assert "Nothing was written" in done.stderr
    assert (tmp_path / "job.toml").read_bytes() == before


try:
    import resource
except ImportError:  # Windows has none, and skips what needs it
    resource = None  # type: ignore[assignment]


EACH = "import json, sys\nfrom tests.cli.command_line import run\nprint(json.dumps([vars(run(*args)) for args in json.loads(sys.argv[1])]))"


def limited(*commands: Sequence[str | Path], file_bytes: int | None = None) -> list[subprocess.CompletedProcess[str]]:
    """Commands in a process whose files may not get large, and that no permission of root's helps."""
    told = json.dumps([list(map(str, args)) for args in commands])
    command = [sys.executable, "-c", EACH, told]
    if os.geteuid() == 0 and (setpriv := shutil.which("setpriv")) is not None:
        command = [setpriv, "--bounding-set", "-dac_override,-dac_read_search", *command]

    def limits() -> None:
        if file_bytes is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (file_bytes, file_bytes))

    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, timeout=100, preexec_fn=limits, cwd=root
    )
    assert done.returncode == 0, done.stderr
    return [subprocess.CompletedProcess(**one) for one in json.loads(done.stdout)]


needs_unix = pytest.mark.skipif(os.name == "nt", reason="permissions and limits as on Unix")


def told(done: subprocess.CompletedProcess[str], code: int, words: str) -> None:
    assert done.returncode == code, done.stderr
    assert words in done.stderr
    assert not {"Traceback", "Errno", ".backwave-"} & set(re.findall(r"Traceback|Errno|\.backwave-", done.stderr))


@needs_unix
def test_what_may_not_be_read_or_written_is_named(van: Path, tmp_path: Path) -> None:
    shut = tmp_path / "shut"
    shutil.copytree(van, shut)
    (shut / "job.toml").chmod(0)
    if os.access(shut / "job.toml", os.R_OK) and shutil.which("setpriv") is None:
        pytest.skip("root may read anything here")
    noted = tmp_path / "noted"
    shutil.copytree(van, noted)
    (noted / "log.toml").write_text("format = 1\n", encoding="utf-8")
    (noted / "log.toml").chmod(0)
    orders = (("check",), ("check", "--json"), ("plan",), ("tune",), ("read",))
    *shown, log = limited(*((*args, shut) for args in orders), ("plan", noted))
    assert "log.toml" in log.stderr
    for done in shown:
        assert done.returncode in (2, 3), done.stderr
        assert "permission" in done.stderr
        assert "job.toml" in done.stderr
        assert done.stdout == ""
    (shut / "job.toml").chmod(0o644)
    shut.chmod(0o555)
    for done in limited(
        ("plan", shut, "--csv", shut / "x.csv"), ("sweep", shut / "x.wav"), ("new", shut / "n"), ("demo", shut / "d")
    ):
        told(done, 3, "You have no permission for")
    shut.chmod(0o755)
    assert {path.name for path in shut.iterdir()} <= {"job.toml", "photos", "readings", ".lock"}


@needs_unix
def test_a_file_that_may_not_get_large_is_named_and_leaves_nothing(van: Path, tmp_path: Path) -> None:
    (done,) = limited(("sweep", tmp_path / "x.wav"), file_bytes=10_000)
    told(done, 3, "x.wav may not get so large here")
    assert list(tmp_path.iterdir()) == []


@needs_unix
def test_no_ordinary_file_is_2_or_3_and_no_wait(van: Path, tmp_path: Path) -> None:
    odd = tmp_path / "odd"
    odd.mkdir()
    for name in ("folder", "pipe", "zero", "loop", "bytes"):
        (odd / name).mkdir()
    (odd / "folder/job.toml").mkdir()
    os.mkfifo(odd / "pipe/job.toml")
    (odd / "zero/job.toml").symlink_to("/dev/zero")
    (odd / "loop/job.toml").symlink_to("job.toml")
    (odd / "bytes/job.toml").write_bytes(b'format = 1\ntitle = "\xff"\n')
    folders = sorted(odd.iterdir())
    os.mkfifo(odd / "x.wav")
    (odd / "y.wav").mkdir()
    blocked = tmp_path / "blocked"
    shutil.copytree(van, blocked)
    (blocked / "made").touch()
    *demos, piped, sweep, onto, read, shelf, plan = limited(
        *(("demo", folder) for folder in folders), ("read", odd / "pipe/job.toml", "--sweep", odd),
        ("sweep", odd / "x.wav"), ("sweep", odd / "y.wav"), ("read", odd / "x.wav"),
        ("shelf", "list", "--shelf", odd / "x.wav"), ("plan", blocked, "--paper", "A4"),
    )  # fmt: skip
    for folder, done in zip(folders, demos, strict=True):
        told(done, 2, "UTF-8" if folder.name == "bytes" else "job.toml")
    told(piped, 2, "job.toml")
    told(sweep, 2, "x.wav is no ordinary file")
    told(onto, 2, "y.wav is a folder")
    told(read, 2, "no ordinary file")
    told(shelf, 2, "a folder")
    assert not (odd / "x.wav").is_file()
    told(plan, 2, "made is there already, and is no folder")


def test_a_title_that_would_break_the_job_is_refused_and_any_other_loads(tmp_path: Path) -> None:
    for title in ("A\nb = 1", "x \x1b]0;y\x07", "a\rb", "left\u202ethgir"):
        done = run("new", tmp_path / "bad", "--title", title)
        told(done, 2, "one line of text")
        assert not set(done.stderr) & set("\x1b\x07\u202e")
        assert not (tmp_path / "bad").exists()
    for n, title in enumerate(('q"uo\\te', "'''", "# [x] = {", "[/x] [bold]")):
        assert run("new", tmp_path / f"a\nb{n}", "--title", title).returncode == 0
        with (tmp_path / f"a\nb{n}/job.toml").open("rb") as file:
            assert tomllib.load(file)["title"] == title
    shown = run("check", tmp_path / "a\nb3").stdout
    assert shown.splitlines()[1].startswith("[/x] [bold]   ")
    assert run("new", tmp_path / "c\nd").returncode == 0


def test_what_a_job_holds_reaches_no_terminal_raw(van: Path, tmp_path: Path) -> None:
    nasty = r"x\u001b]0;retitled\u0007\u009b2J\u202e\u2028 [red]"
    folder = tmp_path / "a\x1b]0;y\x07\x9b"
    shutil.copytree(van, folder)
    text = (folder / "job.toml").read_text(encoding="utf-8")
    title = next(line for line in text.splitlines() if line.startswith("title"))
    for old, new in ((title, f'title = "{nasty}"'), ('"front-door"', f'"{nasty}"')):
        (folder / "job.toml").write_text(text.replace(old, new), encoding="utf-8")
        for args in (("check", folder, "--all"), ("check", folder, "--json"), ("plan", folder)):
            done = run(*args)
            assert done.returncode in (0, 1, 2, 3), done.stderr
            found = set(done.stdout + done.stderr) & {
                chr(c) for c in (*range(10), *range(11, 32), *range(127, 160), 0x202E, 0x2028)
            }
            assert not found, (args, done.stdout[:300], done.stderr[:300])
