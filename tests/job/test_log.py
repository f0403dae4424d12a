"""The log: rows are added at its end, nobody's section is lost; what cannot be read is said and kept."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.errors import JobError
from backwave.job import log
from backwave.job.session import Session

EXAMPLE = (Path(__file__).resolve().parents[2] / "docs/example-job.toml").read_text(encoding="utf-8")
TEXTS = st.text(st.characters(codec="utf-8"), max_size=12)
CELLS = st.one_of(TEXTS, st.booleans(), st.integers(-(2**53), 2**53), st.lists(TEXTS, max_size=3))
ROWS = st.tuples(st.sampled_from(["tick", "note", "own-1"]), st.dictionaries(TEXTS, CELLS, max_size=4))
ROW = {"id": "a", "text": "two screws", "over": ["k-1", "k-2"]}


def add(folder: Path, *rows: tuple[str, dict[str, Any]]) -> None:
    log.add(folder, lambda _: rows)


def fresh(folder: Path) -> dict[str, Any]:
    """As somebody who has never seen it reads it."""
    log._KNOWN.clear()
    return log.read(folder)


@given(st.lists(ROWS, max_size=8))
@settings(max_examples=40, deadline=None)
def test_rows_come_back_as_they_were_added_and_the_file_only_grows(rows: list[tuple[str, dict[str, Any]]]) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder, was, wanted = Path(name), b"", {"format": 1}
        for section, row in rows:
            add(folder, (section, row))
            wanted.setdefault(section, []).append(row)  # type: ignore[attr-defined]
            now = (folder / "log.toml").read_bytes()
            assert now.startswith(was)
            was = now
            assert log.read(folder) == tomllib.loads(now.decode()) == wanted
        assert fresh(folder) == wanted


def test_only_what_was_added_since_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    add(tmp_path, *(("note", {"id": f"n{n}"}) for n in range(500)))
    held = log.look(tmp_path)
    read: list[int] = []
    monkeypatch.setattr(log.tomllib, "loads", lambda text, real=tomllib.loads: read.append(len(text)) or real(text))
    add(tmp_path, ("note", ROW))
    assert log.look(tmp_path) is held
    assert held.sections["note"][-1] == ROW
    assert max(read) < 200


@pytest.mark.parametrize(
    "edit",
    [
        lambda text: text.replace('id = "n1"', 'id = "m1"'),
        lambda text: text + '[[note]]\nid = "by hand"\n',
        lambda text: text.replace("# }\n", "# }\n# a remark\n") + "\n\n",
        lambda text: text.rstrip("\n"),
        lambda text: text.replace("[[note]] # {\n", "[[note]]\n").replace("# }\n", ""),
        lambda text: 'format = 1\nnote = [{ id = "n0" }]\n',
        lambda text: 'format = 1\n[[note]]\nid = "n0"\n[[undo]]\nlabel = "x"\n[[undo.step]]\nkey = "y"\n',
    ],
)
def test_a_log_that_somebody_edited_is_read_anew_and_goes_on(tmp_path: Path, edit: Any) -> None:
    for n in range(3):
        add(tmp_path, ("note", {"id": f"n{n}"}))
    path = tmp_path / "log.toml"
    text = edit(path.read_text(encoding="utf-8"))
    path.write_text(text, encoding="utf-8")
    wanted = tomllib.loads(text)
    assert log.read(tmp_path) == wanted
    add(tmp_path, ("note", ROW), ("tick", {"id": "a"}))
    wanted["note"].append(ROW)
    assert fresh(tmp_path) == wanted | {"tick": [{"id": "a"}]}
    assert log.torn(tmp_path) == ()


def test_whatever_of_a_row_a_crash_leaves_is_set_aside_and_nothing_before_it_is_lost(tmp_path: Path) -> None:
    add(tmp_path, ("tick", {"id": "first"}))
    add(tmp_path, ("note", ROW))
    path = tmp_path / "log.toml"
    before = path.read_bytes()
    add(tmp_path, ("tick", {"id": "é", "done": False}), ("note", ROW))
    whole = path.read_bytes()
    middle = whole.index(b"# }\n", len(before)) + 4  # of two rows written at once the first one may be whole
    wanted = fresh(tmp_path)
    for cut in {*range(len(before) + 1, len(whole) - 1)} - {middle - 1}:  # but for its last line end a row is whole
        for filled in (b"", bytes(len(whole) - cut)):  # a file system that knew the length and not yet the letters
            path.write_bytes(whole[:cut] + filled)
            left = whole[middle:cut] if cut >= middle else whole[len(before) : cut]
            now = fresh(tmp_path)
            assert now["tick"] == wanted["tick"][: 2 if cut >= middle else 1]
            assert now["note"] == [ROW]
            aside = [tmp_path / name for name in log.torn(tmp_path)]
            assert [one.read_bytes() for one in aside] == ([left + filled] if left + filled else []), cut
            add(tmp_path, ("note", {"id": "next"}))
            assert fresh(tmp_path)["note"] == [ROW, {"id": "next"}]
            for one in aside:
                one.unlink()


def test_a_torn_row_where_nothing_may_be_written_is_told_and_the_rest_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add(tmp_path, ("tick", {"id": "a"}))
    with (tmp_path / "log.toml").open("ab") as file:
        file.write(b'[[tick]] # {\nid = "b"\n')
    monkeypatch.setattr(log.os, "access", lambda *_: False)
    assert fresh(tmp_path)["tick"] == [{"id": "a"}]
    assert log.torn(tmp_path) == ("log.toml",)


def test_a_row_that_no_file_can_hold_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    add(tmp_path, ("note", ROW))
    before = (tmp_path / "log.toml").read_bytes()
    for row in ({"text": "half \ud83d"}, {"inner": {"a": 1}}, {"x": None}, {"n": 10**5000}, {"n": float("nan")}):
        with pytest.raises(JobError):
            add(tmp_path, ("note", {"id": "good"}), ("note", row))
    with pytest.raises(JobError):
        add(tmp_path, ("a b", ROW))
    assert (tmp_path / "log.toml").read_bytes() == before


def test_a_full_disk_leaves_the_log_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    add(tmp_path, ("note", ROW))
    before = (tmp_path / "log.toml").read_bytes()

    def write(handle: int, data: Any, real: Any = os.write) -> int:
        if len(data) < 30:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(handle, data[: len(data) - 20])

    with monkeypatch.context() as full:
        full.setattr(log.os, "write", write)
        with pytest.raises(OSError, match="No space"):
            add(tmp_path, ("note", ROW))
    assert (tmp_path / "log.toml").read_bytes() == before
    add(tmp_path, ("note", ROW))
    assert len(fresh(tmp_path)["note"]) == 2


def test_rows_that_stand_there_twice_go_once_they_are_many_and_no_other(tmp_path: Path) -> None:
    rows = [("note", {"id": f"n{n}", "key": f"k-{n}"}) for n in range(120)]
    add(tmp_path, *rows, ("note", {"id": "by hand"}), ("note", {"id": "by hand"}), ("revision", {"number": 1}))
    path = tmp_path / "log.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text + text[text.index("[[note]]") :], encoding="utf-8")  # another copy, pasted below
    assert len(log.read(tmp_path)["note"]) == 2 * 122
    add(tmp_path, ("note", {"id": "n0", "key": "k-0", "text": "the same key, other words"}))
    held = fresh(tmp_path)
    assert held["note"][:120] == [row for _, row in rows]
    assert len(held["note"]) == 120 + 4 + 1
    assert held["revision"] == [{"number": 1}] * 2


@pytest.mark.parametrize("when", range(1, 6))
def test_a_process_killed_as_it_adds_a_row_leaves_a_log_that_goes_on(tmp_path: Path, when: int) -> None:
    """Killed with a part of the row in the file, which is as far as a system call can be cut off."""
    add(tmp_path, ("note", ROW))
    code = (
        "import os, signal, sys; from pathlib import Path; from backwave.job import log\n"
        "def write(handle, data, real=os.write):\n"
        f"    real(handle, data[:len(data) * {when} // 6]); os.kill(os.getpid(), signal.SIGKILL)\n"
        "log.os.write = write\n"
        "log.add(Path(sys.argv[1]), lambda _: [('tick', {'id': 'shop', 'done': False})])"
    )
    done = subprocess.run([sys.executable, "-c", code, tmp_path], check=False)
    assert done.returncode == -signal.SIGKILL
    assert log.read(tmp_path) == {"format": 1, "note": [ROW]}
    (name,) = log.torn(tmp_path)
    assert b"[[tick]]"[: len((tmp_path / name).read_bytes())] in (tmp_path / name).read_bytes()
    add(tmp_path, ("note", ROW))
    assert fresh(tmp_path)["note"] == [ROW, ROW]


def test_other_sections_stay_when_one_is_written(tmp_path: Path) -> None:
    assert log.read(tmp_path) == {"format": 1}
    log.write(tmp_path, {"tick": [{"task": "trim off", "at": "18:05"}], "kind": {"a": 1}})
    log.write(tmp_path, {"note": [{"text": "clip broken"}], "undo": []})
    held = log.read(tmp_path)
    assert held == {
        "format": 1, "tick": [{"task": "trim off", "at": "18:05"}], "kind": {"a": 1}, "note": [{"text": "clip broken"}],
    }  # fmt: skip
    assert sorted(p.name for p in tmp_path.iterdir()) == [".lock", "log.toml"]


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b'format = 1\n[[tick]]\ntask = "tri', "cut short"),
        (b"format = 1\n\xff", "cut short"),
        (b"", "no edition"),
        (b'format = "one"', "no edition"),
        (b"format = true", "no edition"),
        (b"format = 1\nx = " + b"9" * 5000, "cut short"),
    ],
)
def test_a_log_that_cannot_be_read_is_said_and_kept_aside_and_work_goes_on(
    tmp_path: Path, data: bytes, message: str
) -> None:
    (tmp_path / "job.toml").write_text(EXAMPLE, encoding="utf-8")
    (tmp_path / "log.toml").write_bytes(data)
    session = Session(tmp_path, delay_s=0)
    assert message in session.said
    kept = next(tmp_path.glob("log.toml.unreadable-*"))
    assert kept.name in session.said
    assert kept.read_bytes() == data
    assert session.set(("title",), "New") == ()
    session.flush()
    assert kept.read_bytes() == data
    assert Session(tmp_path).can_undo


def test_a_log_of_a_newer_backwave_is_said_and_never_written(tmp_path: Path) -> None:
    data = b'format = 2\n[[tick]]\ntask = "trim off"\n'
    (tmp_path / "job.toml").write_text(EXAMPLE, encoding="utf-8")
    (tmp_path / "log.toml").write_bytes(data)
    session = Session(tmp_path, delay_s=0)
    assert "newer" in session.said
    assert session.set(("title",), "New") == ()
    session.flush()
    assert session.saved
    assert session.undo()  # in this session it still works
    assert (tmp_path / "log.toml").read_bytes() == data
    with pytest.raises(JobError, match="newer"):
        log.write(tmp_path, {"undo": []})
    with pytest.raises(JobError, match="newer"):
        log.add(tmp_path, lambda _: [("note", {"id": "a"})])
    assert (tmp_path / "log.toml").read_bytes() == data
    assert Session(tmp_path).can_undo  # what can be undone is kept apart from it


def test_a_log_that_may_not_be_read_or_is_too_long_is_told_and_not_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "job.toml").write_text(EXAMPLE, encoding="utf-8")
    add(tmp_path, ("note", ROW))
    before = (tmp_path / "log.toml").read_bytes()
    log._KNOWN.clear()
    with monkeypatch.context() as closed:

        def opened(path: Path, *told: Any, real: Any = Path.open) -> Any:
            if path.name == "log.toml":
                raise PermissionError(errno.EACCES, "Permission denied")
            return real(path, *told)

        closed.setattr(Path, "open", opened)
        with pytest.raises(JobError, match="Permission denied"):
            add(tmp_path, ("note", ROW))
        assert log.rescued(tmp_path) is None
    monkeypatch.setattr(log, "MAX_BYTES", 10)
    with pytest.raises(JobError, match="at most 10 bytes"):
        add(tmp_path, ("note", ROW))
    assert (tmp_path / "log.toml").read_bytes() == before


def test_a_version_kept_aside_never_takes_the_place_of_another(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    names = set()
    for _ in range(3):
        kept = log.aside(path, "theirs")
        kept.write_text("x", encoding="utf-8")
        names.add(kept.name)
    assert len(names) == 3


def test_a_mark_of_the_byte_order_is_read_past_and_kept(tmp_path: Path) -> None:
    add(tmp_path, ("tick", ROW))
    path = tmp_path / log.LOG
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert fresh(tmp_path)["tick"] == [ROW]
    assert log.rescued(tmp_path) is None
    add(tmp_path, ("tick", ROW | {"id": "b"}))  # at the end
    log.write(tmp_path, {"own": {"x": 1}})  # the whole file
    assert path.read_bytes().startswith(b"\xef\xbb\xbf#")
    assert path.read_bytes().count(b"\xef\xbb\xbf") == 1
    assert [row["id"] for row in fresh(tmp_path)["tick"]] == ["a", "b"]
    path.write_bytes(path.read_bytes() + b"[[tick]] # {\nid = ")  # and where a crash cut the last row off
    add(tmp_path, ("tick", ROW | {"id": "c"}))
    assert [row["id"] for row in fresh(tmp_path)["tick"]] == ["a", "b", "c"]
    assert [path.name for path in tmp_path.glob("*.unreadable*")] == []
