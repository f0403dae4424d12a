"""What is shown at once after an edit, and what follows: nothing is lost on the way, and nothing is left behind."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Awaitable, Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from bench.conftest import demo

from backwave.assess import Assessment, Memo, assess, provisional, to_plain
from backwave.assess.budgets import DRAWS
from backwave.assess.memo import digest
from backwave.assess.next_steps import tally
from backwave.assess.part_release import part_digest
from backwave.assess.place import kept_place, place_at_once
from backwave.bench.board import Board, Problems
from backwave.bench.findings import moved
from backwave.bench.page_frame import overall
from backwave.budget import checkpoint, memory_bytes
from backwave.cli.check import _judged
from backwave.files.manifest import write_kept
from backwave.finding import Check, Ledger, Message
from backwave.fit.types import GasketKind
from backwave.job import Session, load, places
from backwave.job.toml_spans import KeyPath
from backwave.job.undo import Put
from backwave.part import checks
from backwave.part.checks import Gap
from backwave.part.types import AdapterSpec
from backwave.stock import with_rows
from backwave.units import parse


def test_what_follows_later_stands_as_it_was_and_is_what_comes(tmp_path: Path) -> None:
    """The fit of the new job, with sound and wires of the old: the same findings, by name, as all of it has."""
    session, memo = Session(demo(tmp_path / "job")), Memo()
    before = assess(session.job, memo)
    assert session.set(("adapter", 0, "thickness"), "12.0 mm") == ()
    at_once, whole = provisional(session.job, before, memo, at_once=False), assess(session.job, memo)
    assert {f.id for f in at_once.findings} == {f.id for f in whole.findings}
    assert {a.key for a in at_once.assumed} == {a.key for a in whole.assumed}
    assert {f.id for f in at_once.cautions} == {f.id for f in whole.cautions}
    assert at_once.verdict == whole.verdict
    now, then = ([replace(place, remedies=()) for place in one.places] for one in (at_once, whole))
    assert digest(now) == digest(then)  # what lifts a finding is tried after the page has answered
    assert at_once.prediction is before.prediction
    assert at_once.places[0].spec.thickness_mm == 12.0


def test_what_the_job_has_no_longer_is_not_kept(tmp_path: Path) -> None:
    session, memo = Session(demo(tmp_path / "job")), Memo()
    before = assess(session.job, memo)
    text = session.text[: session.text.index("[[source]]")]
    (session.folder / "job.toml").write_text(text, encoding="utf-8")
    session.poll()
    at_once, whole = provisional(session.job, before, memo), assess(session.job, memo)
    assert not at_once.preliminary  # no place was touched
    assert at_once.prediction is at_once.wires is at_once.harness is None
    assert {f.id for f in at_once.findings} == {f.id for f in whole.findings}


def test_an_edit_is_shown_by_first_order_and_ends_as_the_file_says(tmp_path: Path) -> None:
    """Nothing by first order alone is told as ok; what stands in the end is what a new process makes of the file."""

    async def story(board: Board) -> None:
        seen: list[Assessment] = []
        board.watch(lambda: seen.extend([board.result] if board.result is not None else []))
        assert await board.put(("adapter", 0, "thickness"), "11.0 mm") == ()
        await came(lambda: board.whole and any(one.preliminary for one in seen))
        assert all(overall(one) in ("checking", "stop") for one in seen if one.preliminary)
        assert board.session is not None
        board.session.flush()
        shown, fresh = board.result, assess(load(board.folder), Memo())
        assert shown is not None
        assert not shown.preliminary
        now, then = ([replace(place, remedies=()) for place in one.places] for one in (shown, fresh))
        assert digest(now) == digest(then)
        late = ("measure.", "part.solid")  # of recordings and of solids
        told, wanted = (
            {f.id: f.check.verdict for f in one.findings if not f.check.code.startswith(late)} for one in (shown, fresh)
        )
        assert told == wanted

    on_board(tmp_path / "job", story)


@pytest.mark.parametrize(
    ("path", "value", "told", "silent"),
    [
        (
            ("opening", 0, "behind", 7, "clear"),
            "50 mm",
            ("what is behind", "grille", "14.2 mm thick", "Caution"),
            "Stop",
        ),
        (("opening", 0, "hole", "diameter"), "5 1/2 in", ("hole edge 6",), "grille"),
    ],
)
def test_what_stands_beside_a_field_is_what_follows_once_it_is_entered(
    tmp_path: Path, path: KeyPath, value: str, told: tuple[str, ...], silent: str
) -> None:
    async def story(board: Board) -> None:
        seen: list[tuple[Assessment, Assessment]] = []

        def call(was: Assessment | None, now: Assessment | Problems) -> None:
            assert isinstance(was, Assessment)
            assert isinstance(now, Assessment)
            seen.append((was, now))

        board.weigh([Put(path, value)], call)
        await came(lambda: seen and not seen[-1][1].preliminary)
        words = [[line for _, _, line in moved(was.places[0], now.places[0], "metric")] for was, now in seen]
        assert all(not set("\u2713!\u2715") & set(line) for lines in words[:-1] for line in lines), "no verdict yet"
        assert all(one in " ".join(words[-1]) for one in told)
        assert silent not in " ".join(words[-1])
        assert await board.put(path, value) == ()
        await came(lambda: board.whole and board.result is not None and board.result.digest == seen[-1][1].digest)
        assert board.result is not None
        now, then = ([replace(p, remedies=()) for p in one.places] for one in (seen[-1][1], board.result))
        assert digest(now) == digest(then)

    on_board(tmp_path / "job", story)


def test_the_page_counts_what_was_found_on_solids_made_beside_it(tmp_path: Path) -> None:
    async def story(board: Board) -> None:
        assert board.result is not None
        part, found = board.result.parts[0], Check("part.solid", "ok", Message("Volume as drawn"), part="volume")
        checks = [to_plain(found), to_plain(replace(found, part="faces"))]
        write_kept(board.folder / "made", {part.id: {"digest": part_digest(part), "checks": checks}})
        await came(
            lambda: (
                board.result is not None and f"part.solid.faces@{part.subject}" in {f.id for f in board.result.findings}
            )
        )
        told = tally(_judged(load(board.folder), board.folder).groups)
        await came(lambda: board.result is not None and tally(board.result.groups) == told)  # the sound follows later

    on_board(tmp_path / "job", story)


def test_a_place_no_edit_touched_keeps_the_gasket_it_shares(tmp_path: Path) -> None:
    job, memo = load(demo(tmp_path / "job")), Memo()
    before = assess(job, memo, whole=False)
    own, place, adapter = before.places[0], places(job)[0], job.file.adapter[0]
    speaker, stock = next(one for one in job.file.speaker if one.id == own.speaker_id), with_rows(job.file.stock)
    like = own.taken.threads, GasketKind(grooved=not own.taken.grooved)
    shared = kept_place(job, stock, place, adapter, speaker, Ledger(), memo, DRAWS, like)
    assert shared.taken.kinds == like != own.taken.kinds
    for was in (own, shared):
        assert place_at_once(job, stock, place, adapter, speaker, Ledger(), memo, was).taken == was.taken


# -- what is overtaken is given up ---------------------------------------------------------------------------------

SLOW_MM = 12.8  # the thickness that the planted room cannot be done with


def thickness(board: Board) -> float | None:
    """Of the first part as the page would draw it."""
    return None if board.result is None else board.result.places[0].spec.thickness_mm


async def came(what: Callable[[], object], seconds: float = 60.0) -> float:
    """How long it took."""
    start = time.monotonic()
    while not what():
        assert time.monotonic() - start < seconds, "it never came"
        await asyncio.sleep(0.01)
    return time.monotonic() - start


def plant(monkeypatch: pytest.MonkeyPatch, wait: Callable[[], object]) -> threading.Event:
    """A room that does not end for one value of the job; the event tells that it was entered."""
    entered, true = threading.Event(), checks.gaps

    def slow(spec: AdapterSpec) -> tuple[Gap, ...]:
        if abs(spec.thickness_mm - SLOW_MM) < 1e-9:
            entered.set()
            wait()
        return true(spec)

    monkeypatch.setattr(checks, "gaps", slow)
    return entered


def apart(story: Coroutine[object, object, None]) -> None:
    """Run it in a thread of its own: the browser's library keeps a loop running in this one."""
    with ThreadPoolExecutor(1) as alone:
        alone.submit(asyncio.run, story).result()


def on_board(folder: Path, story: Callable[[Board], Awaitable[None]]) -> None:
    """A board that runs, with the demo job worked out."""

    async def run() -> None:
        board = Board(demo(folder))
        loop = asyncio.create_task(board.run())
        try:
            await came(lambda: board.whole)
            await story(board)
        finally:
            loop.cancel()
            board.close()

    apart(run())


def looping() -> None:
    for _ in range(120_000):
        checkpoint()
        time.sleep(0.001)


@pytest.mark.parametrize("kind", ["with checkpoints", "without"])
def test_a_bad_edit_that_is_undone_is_answered_at_once(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    free = threading.Event()
    entered = plant(monkeypatch, looping if kind == "with checkpoints" else lambda: free.wait(120))

    async def story(board: Board) -> None:
        before = thickness(board)
        assert await board.put(("adapter", 0, "thickness"), "12.8 mm") == ()
        await came(entered.is_set)
        await asyncio.sleep(0.3)
        assert thickness(board) == before  # the last good answer stands meanwhile
        start = time.monotonic()
        assert await board.put(("adapter", 0, "thickness"), "13 mm") == ()
        await came(lambda: thickness(board) == 13.0)
        assert time.monotonic() - start < 5.0  # 0.4 s on a machine with nothing else to do
        assert await board.step("undo")
        assert await board.step("undo")
        await came(lambda: thickness(board) == before)
        await came(lambda: board.whole)  # what was left behind holds up neither sound nor wires
        assert board.trouble == ()
        free.set()
        await asyncio.sleep(0.3)
        assert thickness(board) == before  # and its answer goes nowhere

    on_board(tmp_path / "job", story)


def test_what_takes_too_long_says_so_with_the_key_and_the_next_edit_is_answered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plant(monkeypatch, looping)

    async def story(board: Board) -> None:
        before = thickness(board)
        monkeypatch.setattr("backwave.assess.budgets.FIT_S", 1.0)
        assert await board.put(("adapter", 0, "thickness"), "12.8 mm") == ()
        await came(lambda: board.trouble)
        (problem,) = board.trouble
        assert "too much to compute. The fit of Front door, left took more than 1 seconds" in problem.message
        assert problem.key
        assert thickness(board) == before
        assert await board.step("undo")
        await came(lambda: not board.trouble)
        assert thickness(board) == before

    on_board(tmp_path / "job", story)


def test_long_work_is_told_of_and_can_be_stopped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    entered = plant(monkeypatch, looping)

    async def story(board: Board) -> None:
        told = list[str]()
        board.watch(lambda: told.append(board.busy))
        assert await board.put(("adapter", 0, "thickness"), "12.8 mm") == ()
        await came(entered.is_set)
        await came(lambda: any("the fit of Front door, left, " in words for words in told))
        board.stop()
        assert board.busy == ""
        await came(lambda: board.trouble)
        assert "Stopped" in board.trouble[0].message
        assert await board.put(("adapter", 0, "thickness"), "13 mm") == ()
        await came(lambda: thickness(board) == 13.0)
        assert board.trouble == ()

    on_board(tmp_path / "job", story)


def test_a_slipped_unit_beyond_the_models_bounds_is_answered(tmp_path: Path) -> None:
    """As if the key had no bound: the rooms' own fence holds, in the page's thread, and undo is at once."""

    async def story(board: Board) -> None:
        session = board.session
        assert session is not None
        good = session.job
        first, *others = good.file.opening
        assert first.flange is not None
        flange = first.flange.model_copy(update={"diameter": parse("182 m", "length")})
        rows = (first.model_copy(update={"flange": flange}), *others)
        held = memory_bytes()
        session.job = replace(good, file=good.file.model_copy(update={"opening": rows}))
        board._changed()
        await came(lambda: board.result is not None and board.result.places[0].spec.outline.area_mm2 > 1e9, 20.0)
        assert board.result is not None
        assert board.result.verdict == "stop"
        assert memory_bytes() - held < 300e6
        session.job = good
        board._changed()
        await came(lambda: board.result is not None and board.result.places[0].spec.outline.area_mm2 < 1e9, 20.0)

    on_board(tmp_path / "job", story)


def test_what_plays_stages_otherwise_belongs_to_the_prediction_that_is_shown(tmp_path: Path) -> None:
    """Made once for all tabs, and never for a prediction that an edit has left behind."""

    async def story(board: Board) -> None:
        await came(lambda: board.whole and board.result is not None and board.result.prediction is not None)
        assert board.result is not None
        assert board.session is not None
        made = board.result.prediction
        assert made is not None
        first, *others = await asyncio.gather(*(asyncio.to_thread(board.engine, made) for _ in range(3)))
        assert first is not None
        assert first.job is board.session.job
        assert all(other is first for other in others)
        assert await board.put(("adapter", 0, "thickness"), "13 mm") == ()
        await came(lambda: board.whole and board.result is not None and board.result.prediction is not made)
        assert board.engine(made) is None
        assert board.result.prediction is not None
        now = board.engine(board.result.prediction)
        assert now is not None
        assert now.job is board.session.job

    on_board(tmp_path / "job", story)
