"""What can be undone: kept apart from the log, added to line by line, bounded; a broken one never bars the job."""

from __future__ import annotations

import tempfile
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.job import history, log
from backwave.job.session import Session
from backwave.job.undo import Entry, Step

EXAMPLE = (Path(__file__).resolve().parents[2] / "docs/example-job.toml").read_text(encoding="utf-8")
WORDS = st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=20)
STEPS = st.builds(
    Step, WORDS, st.booleans(), st.none() | WORDS, st.none() | WORDS, WORDS, WORDS, st.integers(0, 2**31), WORDS, WORDS
)
ENTRIES = st.builds(Entry, WORDS, st.lists(STEPS, max_size=3).map(tuple), WORDS, WORDS)


@given(st.lists(ENTRIES, max_size=4))
def test_a_history_comes_back_as_it_went(entries: list[Entry]) -> None:
    import tomli_w

    text = tomli_w.dumps({"undo": history.to_rows(entries)})
    assert history.from_rows(tomllib.loads(text)["undo"]) == tuple(entries)
    assert all(e.mirrored().mirrored() == e for e in entries)


def entry(label: str, size: int = 1) -> Entry:
    return Entry(label, (Step("title", False, "x" * size, None, "", "", 0, "", ""),), "", "")


def fresh(folder: Path) -> tuple[list[str], list[str]]:
    """As somebody who has never seen it reads it."""
    history._KNOWN.clear()
    held = history.read(folder)
    assert held.whole
    assert held.said == ""
    return [e.label for e in held.undo], [e.label for e in held.redo]


@given(st.lists(st.sampled_from(["do", "undo", "redo", "drop", "swap", "all"]), max_size=25), st.booleans())
@settings(max_examples=60, deadline=None)
def test_both_stacks_are_on_disk_as_they_are_here(steps: list[str], again: bool) -> None:
    with tempfile.TemporaryDirectory() as name:
        undo: list[Entry] = []
        redo: list[Entry] = []
        for n, step in enumerate(steps):
            if step == "do":
                undo, redo = [*undo, entry(f"e{n}")], []
            elif step == "undo" and undo:
                redo.append(undo.pop())
            elif step == "redo" and redo:
                undo.append(redo.pop())
            elif step == "drop":
                undo = undo[1:]
            elif step == "swap" and undo:
                undo[len(undo) // 2] = entry(f"s{n}")
            elif step == "all":
                undo, redo = redo, undo
            history.record(Path(name), undo, redo)
            if again:
                assert fresh(Path(name)) == ([e.label for e in undo], [e.label for e in redo])
        if steps:
            assert fresh(Path(name)) == ([e.label for e in undo], [e.label for e in redo])


def test_an_edit_adds_a_line_and_the_file_stays_bounded(tmp_path: Path) -> None:
    undo: list[Entry] = []
    path = tmp_path / "history.jsonl"
    longest = 0
    for n in range(400):
        undo = [*undo, entry(f"e{n}", 4000)][-200:]
        before = path.read_bytes() if path.is_file() else b""
        history.record(tmp_path, undo, [])
        now = path.read_bytes()
        assert now.startswith(before) or len(now) < 1_100_000
        longest = max(longest, len(now))
    assert longest < 5_000_000
    labels, _ = fresh(tmp_path)
    assert labels == [f"e{n}" for n in range(400 - len(labels), 400)]
    assert len(labels) > 100


def test_a_history_in_the_log_is_taken_over_and_then_leaves_it(tmp_path: Path) -> None:
    log.write(
        tmp_path,
        {"undo": history.to_rows([entry("old")]), "redo": history.to_rows([entry("back")]), "note": [{"id": "a"}]},
    )
    assert fresh(tmp_path) == (["old"], ["back"])
    history.record(tmp_path, [entry("old"), entry("new")], [])
    assert fresh(tmp_path) == (["old", "new"], [])
    assert log.read(tmp_path) == {"format": 1, "note": [{"id": "a"}]}


def test_a_line_that_a_crash_cut_off_does_not_count(tmp_path: Path) -> None:
    history.record(tmp_path, [entry("a")], [])
    whole = (tmp_path / "history.jsonl").read_bytes()
    history.record(tmp_path, [*history.read(tmp_path).undo, entry("b")], [])
    (tmp_path / "history.jsonl").write_bytes((tmp_path / "history.jsonl").read_bytes()[: len(whole) + 30])
    assert fresh(tmp_path) == (["a"], [])
    history.record(tmp_path, [*history.read(tmp_path).undo, entry("c")], [])
    assert fresh(tmp_path) == (["a", "c"], [])


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("history.jsonl", b""), ("history.jsonl", b"\xff\n"), ("history.jsonl", b'{"format": 2}\n'),
        ("history.jsonl", b'{"format": 1}\n[[0, 0, [{"label": "x"}]], [0, 0, []]]\n'),
        ("history.jsonl", b'{"format": 1}\n' + b"[" * 100_000 + b"\n"), ("history.jsonl", b'{"format": 1}\n[[1], 2]\n'),
        ("history.jsonl", b'{"format": 1}\n[' + b"[0,0,[]]," * 4 + b"[0,0,[]]]\n"),
        ("log.toml", b'format = 1\n[[undo]]\nlabel = "x"\n'), ("log.toml", b'format = 1\nundo = "none"\n'),
        ("log.toml", b'format = 1\nundo = 5\n'),
        ("log.toml", b'format = 1\n[[undo]]\nlabel = "x"\nstart = ""\nend = ""\nstep = [{ key = 3 }]\n'),
    ],
)  # fmt: skip
def test_a_history_that_cannot_be_read_is_told_and_kept_and_work_goes_on(
    tmp_path: Path, name: str, data: bytes
) -> None:
    (tmp_path / "job.toml").write_text(EXAMPLE, encoding="utf-8")
    (tmp_path / name).write_bytes(data)
    session = Session(tmp_path, delay_s=0)
    assert name in session.said
    assert "Undo begins anew" in session.said
    assert session.set(("title",), "New") == ()
    session.flush()
    kept = [path.read_bytes() for path in tmp_path.glob("history.jsonl.unreadable-*")]
    assert kept == ([data] if name == "history.jsonl" else [])
    if name == "log.toml":
        assert tomllib.loads(data.decode()).items() <= log.read(tmp_path).items()
    assert Session(tmp_path).can_undo


def test_a_history_that_cannot_be_written_is_told_and_the_job_is_saved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "job.toml").write_text(EXAMPLE, encoding="utf-8")
    session = Session(tmp_path, delay_s=0)

    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(history, "write_whole", full)
    assert session.set(("title",), "New") == ()
    session.flush()
    assert "Undo will not outlive this session" in session.said
    assert 'title  = "New"' in (tmp_path / "job.toml").read_text(encoding="utf-8")
