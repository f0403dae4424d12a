"""What phones say, taken into the log: late, twice, in any order, at once, and where the log cannot be written."""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import threading
import tomllib
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.assess import assess
from backwave.assess.work.log_codec import done_of
from backwave.bench.board import Board
from backwave.bench.work_sync import WorkSync
from backwave.errors import BackwaveError, InputError
from backwave.job import load, log

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job"


@pytest.fixture(scope="module")
def told() -> dict[str, Any]:
    job = load(DEMO)
    return {"session": SimpleNamespace(job=job, saved=True, said=""), "result": assess(job, draws=500)}


def ledger(folder: Path, told: dict[str, Any]) -> WorkSync:
    return WorkSync(cast(Board, SimpleNamespace(folder=folder, **told)))


def word(device: str, n: int, kind: str, id_: str, **fields: Any) -> dict[str, Any]:
    when = f"2026-03-14T10:{n % 60:02d}:00Z"
    return {"kind": kind, "id": id_, "key": f"{device}-{n:06d}", "when": when, "by": device, **fields}


WORDS = st.lists(
    st.one_of(
        st.builds(lambda d, n, v: word(d, n, "tick", "consent", done=v), st.sampled_from(["carcar", "bench1"]), st.integers(0, 40), st.booleans()),
        st.builds(lambda d, n, v: word(d, 100 + n, "item", "foam", have=v), st.sampled_from(["carcar", "bench1"]), st.integers(0, 40), st.booleans()),
        st.builds(lambda d, n: word(d, 200 + n, "note", f"{d}-{n}", text="off", count=n), st.sampled_from(["carcar", "bench1"]), st.integers(0, 40)),
    ),
    max_size=12, unique_by=lambda row: row["key"],
)  # fmt: skip


@given(WORDS, st.randoms(use_true_random=False))
@settings(max_examples=25, deadline=None)
def test_in_any_order_in_any_pieces_and_twice_it_is_one_log(
    told: dict[str, Any], rows: list[dict[str, Any]], chance: random.Random
) -> None:
    with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as other:
        ledger(Path(one), told).take(rows)
        mixed = [*rows, *chance.sample(rows, len(rows) // 2)]
        chance.shuffle(mixed)
        second = ledger(Path(other), told)
        while mixed:
            piece = [mixed.pop() for _ in range(min(len(mixed), chance.randint(1, 4)))]
            answer = second.take(piece)
            assert sorted(answer["taken"]) == sorted(row["key"] for row in piece)
        assert done_of(log.read(Path(one))) == done_of(log.read(Path(other)))
        kept = [row["key"] for kind in ("tick", "item", "note") for row in log.read(Path(other)).get(kind, [])]
        assert sorted(kept) == sorted(row["key"] for row in rows)  # each once


def test_two_phones_at_once_and_another_program_lose_nothing(tmp_path: Path, told: dict[str, Any]) -> None:
    held = ledger(tmp_path, told)

    def speak(device: str) -> None:
        for n in range(15):
            held.take([word(device, n, "note", f"{device}-{n}", text="off")])

    threads = [threading.Thread(target=speak, args=(name,)) for name in ("carcar", "bench1")]
    for one in threads:
        one.start()
    for n in range(10):
        log.write(tmp_path, {"elsewhere": n})
    for one in threads:
        one.join()
    assert len(log.read(tmp_path)["note"]) == 30
    assert log.read(tmp_path)["elsewhere"] == 9


def test_two_programs_on_one_log_lose_nothing(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from backwave.job import log\n"
        "for n in range(40): log.add(Path(sys.argv[1]), lambda held: [(sys.argv[2], {'n': n})])"
    )
    running = [subprocess.Popen([sys.executable, "-c", code, tmp_path, name]) for name in ("left", "right")]
    assert [one.wait(60) for one in running] == [0, 0]
    held = log.read(tmp_path)
    assert [len(held["left"]), len(held["right"])] == [40, 40]


def test_what_two_say_differently_is_seen_until_it_is_settled(tmp_path: Path, told: dict[str, Any]) -> None:
    held = ledger(tmp_path, told)
    held.take([word("carcar", 1, "tick", "consent", done=True), word("bench1", 2, "tick", "consent", done=False)])
    shown = held.shown("carcar")
    (odd,) = [f for f in shown["findings"] if f["title"].startswith("Two say different things of: Agree in writing")]
    assert "bench1" in odd["title"]
    assert "carcar" in odd["title"]
    over = shown["heads"]["tick\nconsent\n"]
    assert sorted(over) == ["bench1-000002", "carcar-000001"]
    held.take([word("carcar", 3, "tick", "consent", done=True, over=over)])
    shown = held.shown("carcar")
    assert not [f for f in shown["findings"] if f["title"].startswith("Two say")]
    assert next(t for t in shown["tasks"] if t["id"] == "consent")["done"]
    same = held.shown("carcar", shown["tag"])  # a page that has seen it gets no work again
    assert (same["same"], set(same)) == (True, {"now", "job", "said", "tag", "same"})


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('format = 99\n[[tick]]\nid = "consent"\n', "newer"), ('format = 1\n[[tick]]\nid = "cons', "cut short"),
        ('format = 1\n[[tick]]\nid = "a"\ndone = "perhaps"\n', "true or false"),
    ],
)  # fmt: skip
def test_a_log_that_cannot_be_read_is_said_and_nothing_is_written(
    tmp_path: Path, told: dict[str, Any], text: str, words: str
) -> None:
    (tmp_path / "log.toml").write_text(text, encoding="utf-8")
    held = ledger(tmp_path, told)
    with pytest.raises(BackwaveError) as caught:
        held.take([word("carcar", 1, "tick", "consent", done=True)])  # so that the phone keeps it
    assert words in str(caught.value)
    assert words in " ".join(held.shown("carcar")["trouble"])
    assert (tmp_path / "log.toml").read_text(encoding="utf-8") == text


def test_a_clock_that_is_ahead_does_not_outlast_what_is_said_later(tmp_path: Path, told: dict[str, Any]) -> None:
    held = ledger(tmp_path, told)
    held.take([{**word("carcar", 1, "tick", "consent", done=True), "when": "2199-01-01T00:00:00Z"}])
    (row,) = tomllib.loads((tmp_path / "log.toml").read_text(encoding="utf-8"))["tick"]
    assert row["when"] < "2199"


def test_too_much_at_once_is_refused_whole(tmp_path: Path, told: dict[str, Any]) -> None:
    held = ledger(tmp_path, told)
    with pytest.raises(InputError, match="at most 500"):
        held.take([word("carcar", n, "note", f"n{n}", text="x") for n in range(501)])
    answer = held.take([word("carcar", 1, "note", "n", text="x" * 4001), word("carcar", 2, "note", "m", text="a\x00b")])
    assert "at most 4000" in answer["refused"]["carcar-000001"]
    assert "control character" in answer["refused"]["carcar-000002"]
    assert not (tmp_path / "log.toml").exists()


def test_a_job_keeps_its_name_on_phones_wherever_it_goes(tmp_path: Path, told: dict[str, Any]) -> None:
    folder = tmp_path / "here"
    folder.mkdir()
    held = ledger(folder, told)
    before = held.job_id()
    held.take([word("carcar", 1, "tick", "consent", done=True)])
    folder.rename(tmp_path / "there")
    assert ledger(tmp_path / "there", told).job_id() == before
