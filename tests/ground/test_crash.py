"""How everything ends that goes wrong: a sentence for what can be expected, a report without the job for what cannot."""

from __future__ import annotations

import errno
import os
import tempfile
from pathlib import Path

import pytest

from backwave.crash import command_words, ending, report
from backwave.errors import BuildError, InputError, MissingError

SECRET = "Mara Quill's van"


def caught(error: BaseException) -> BaseException:
    try:
        raise error
    except BaseException as held:  # noqa: BLE001 - whatever is given
        return held


@pytest.mark.parametrize(
    ("number", "words", "code"),
    [
        (errno.ENOSPC, "no room left on the disk for made/x.step", 3),
        (errno.EROFS, "made/x.step is on a disk that can only be read", 3),
        (errno.EACCES, "no permission for made/x.step", 3),
        (errno.EMFILE, "Too many files", 3),
        (errno.EFBIG, "may not get so large", 3),
        (errno.ENAMETOOLONG, "too long", 2),
        (errno.EISDIR, "made/x.step is a folder; a file is wanted", 2),
        (errno.ENOTDIR, "a file where a folder is wanted", 2),
        (errno.EEXIST, "no folder", 2),
        (errno.ENOENT, "made/x.step is not there", 3),
        (errno.ENXIO, "no ordinary file", 2),
        (errno.ESTALE, "made/x.step cannot be used", 3),
    ],
)
def test_what_the_system_refuses_is_a_sentence(number: int, words: str, code: int) -> None:
    end = ending(caught(OSError(number, os.strerror(number), str(Path.cwd() / "made/x.step"))))
    assert words in end.words
    assert end.exit_code == code
    assert "Errno" not in end.words
    assert end.words.count("\n") == 0


@pytest.mark.parametrize(
    ("error", "words", "code"),
    [
        (InputError("paper", "A0", "A4 or Letter"), "A4 or Letter", 2),
        (MissingError("No microphone", "Plug one in"), "Plug one in", 3),
        (KeyboardInterrupt(), "Stopped", 130),
        (MemoryError(), "not enough memory", 3),
        (UnicodeDecodeError("utf-8", b"ab\xff", 2, 3, "bad"), "0xff at 3", 2),
        (UnicodeEncodeError("utf-8", "\ud83d", 0, 1, "bad"), "half a letter", 2),
        (OSError(errno.ENOSPC, "full"), "no room left on the disk for what was to be written", 3),
        (OSError(errno.EACCES, "no", "a\x1b]0;x\x07\nb"), "a\ufffd]0;x\ufffd b", 3),
    ],
)
def test_what_can_be_expected_is_a_sentence(error: BaseException, words: str, code: int) -> None:
    end = ending(caught(error))
    assert words in end.words
    assert end.exit_code == code


@pytest.mark.parametrize(
    "error",
    [ValueError(SECRET), KeyError(SECRET), BuildError(SECRET, SECRET), OSError(SECRET), RuntimeError(SECRET), AssertionError(SECRET)],
)  # fmt: skip
def test_a_fault_of_ours_is_70_with_a_report_that_holds_nothing_of_the_job(
    error: Exception, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    held = caught(error)
    end = ending(held, command_words(["check", SECRET, "--all"]))
    (file,) = tmp_path.iterdir()
    text = file.read_text(encoding="utf-8")
    assert end.exit_code == 70
    assert str(file) in end.words
    assert text == report(held, "backwave check … --all")
    assert type(error).__name__ in text
    assert "test_crash.py" in text
    assert "in caught" not in text
    assert " caught" in text
    for kept_out in (SECRET, "Mara", str(Path.home()), str(Path(__file__).parent)):
        assert kept_out not in text
    ending(held, command_words(["check", SECRET, "--all"]))
    assert [file] == list(tmp_path.iterdir())  # the same fault once


def test_where_no_report_can_lie_it_is_printed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    end = ending(caught(ZeroDivisionError("division by zero")), "backwave check")
    assert "version   " in end.words
    assert "ZeroDivisionError: division by zero" in end.words


def test_a_cause_is_told_and_a_deep_one_is_cut() -> None:
    def deep(n: int) -> None:
        deep(n + 1)

    try:
        deep(0)
    except RecursionError as error:
        text = report(error)
    assert "frames left out" in text
    assert len(text.splitlines()) < 60
    second = TypeError("int is not str")
    second.__cause__ = ValueError(SECRET)
    text = report(second)
    assert text.index("TypeError: int is not str") < text.index("caused by\nValueError\n")


def test_a_command_line_in_a_report_keeps_its_options_and_nothing_else() -> None:
    assert command_words(["plan", "/x/y", "--note=the clip", "--by", "Mara", "--json", "-q", "plan"]) == (
        "backwave plan … --note --by … --json … …"
    )
    assert command_words([]) == "backwave"
    assert command_words(["Mara"]) == "backwave …"
