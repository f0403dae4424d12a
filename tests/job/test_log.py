"""The log: versioned, whole, nobody's section lost; what cannot be read is said and kept."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.errors import JobError
from backwave.job import history, log
from backwave.job.change import Entry, Step
from backwave.job.session import Session

EXAMPLE = (Path(__file__).resolve().parents[2] / "docs/example-job.toml").read_text(encoding="utf-8")
WORDS = st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=20)
STEPS = st.builds(
    Step,
    WORDS,
    st.booleans(),
    st.none() | WORDS,
    st.none() | WORDS,
    WORDS,
    WORDS,
    st.integers(0, 2**31),
    WORDS,
    WORDS,
)
ENTRIES = st.builds(Entry, WORDS, st.lists(STEPS, max_size=3).map(tuple), WORDS, WORDS)


@given(st.lists(ENTRIES, max_size=4))
def test_a_history_comes_back_as_it_went(entries: list[Entry]) -> None:
    import tomli_w

    text = tomli_w.dumps({"undo": history.to_rows(entries)})
    assert history.from_rows(tomllib.loads(text)["undo"]) == tuple(entries)
    assert all(e.mirrored().mirrored() == e for e in entries)


def test_other_sections_stay_when_one_is_written(tmp_path: Path) -> None:
    assert log.read(tmp_path) == {"format": 1}
    log.write(tmp_path, {"tick": [{"task": "trim off", "at": "18:05"}], "kind": {"a": 1}})
    log.write(tmp_path, {"note": [{"text": "clip broken"}], "undo": []})
    held = log.read(tmp_path)
    assert held == {
        "format": 1, "tick": [{"task": "trim off", "at": "18:05"}], "kind": {"a": 1}, "note": [{"text": "clip broken"}],
    }  # fmt: skip
    assert [p.name for p in tmp_path.iterdir()] == ["log.toml"]


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b'format = 1\n[[tick]]\ntask = "tri', "cut short"),
        (b"format = 1\n\xff", "cut short"),
        (b"", "no edition"),
        (b'format = "one"', "no edition"),
        (b"format = true", "no edition"),
        (b'format = 1\n[[undo]]\nlabel = "x"\n', "did not write"),
        (b'format = 1\nundo = "none"\n', "did not write"),
        (b'format = 1\n[[undo]]\nlabel = "x"\nstart = ""\nend = ""\nstep = [{ key = 3 }]\n', "did not write"),
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
    assert "newer" in session.said
    assert session.undo()  # in this session it still works
    assert (tmp_path / "log.toml").read_bytes() == data
    with pytest.raises(JobError, match="newer"):
        log.write(tmp_path, {"undo": []})
    assert sorted(p.name for p in tmp_path.iterdir()) == ["job.toml", "log.toml"]


def test_a_version_kept_aside_never_takes_the_place_of_another(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    names = set()
    for _ in range(3):
        kept = log.aside(path, "theirs")
        kept.write_text("x", encoding="utf-8")
        names.add(kept.name)
    assert len(names) == 3
