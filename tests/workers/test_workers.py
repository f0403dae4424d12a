"""The pool of workers: answers, errors, progress, what is dropped and what is ended."""

from __future__ import annotations

import errno
import os
import signal
import sys
import time
from collections.abc import Iterator
from concurrent.futures import CancelledError

import pytest

from backwave.errors import BuildError, InputError, TooMuchError, WorkerError
from backwave.workers import Ticket, Workers, _Worker
from tests.workers import jobs

LONG_S = 60.0


@pytest.fixture(scope="module")
def workers() -> Iterator[Workers]:
    with Workers(1, load=("json",), grace_s=0.3) as pool:
        yield pool


def test_an_answer_comes_from_another_process(workers: Workers) -> None:
    assert workers.submit("a", jobs.whose, 7).result(LONG_S)[0] == 7
    assert workers.submit("b", jobs.whose, 7).result(LONG_S)[1] != os.getpid()


def test_an_error_comes_back_whole_and_the_worker_lives(workers: Workers) -> None:
    before = workers.submit("c", jobs.whose, 1).result(LONG_S)[1]
    with pytest.raises(BuildError) as caught:
        workers.submit("d", jobs.fail, "relief", "radius 80 mm at 12 mm").result(LONG_S)
    assert (caught.value.feature, caught.value.reason) == ("relief", "radius 80 mm at 12 mm")
    assert workers.submit("e", jobs.whose, 1).result(LONG_S)[1] == before


def test_what_cannot_be_sent_is_an_error_not_a_hang(workers: Workers) -> None:
    with pytest.raises(Exception, match=r"pickle|local object"):
        workers.submit("f", jobs.whose, lambda: None).result(LONG_S)
    with pytest.raises(Exception, match="cannot pickle"):
        workers.submit("g", jobs.unsendable).result(LONG_S)


def test_progress_is_heard(workers: Workers) -> None:
    heard: list[tuple[float, str]] = []
    ticket = workers.submit("h", jobs.count, 4)
    ticket.on_progress(lambda share, words: heard.append((share, words)))
    assert ticket.result(LONG_S) == 4
    assert ticket.progress == (1.0, "step 4")
    assert heard == sorted(heard)


def test_one_key_is_computed_once(workers: Workers) -> None:
    first, second = (workers.submit("same", jobs.sleep, 0.3) for _ in range(2))
    assert first is second
    assert first.result(LONG_S) == 0.3
    assert workers.submit("same", jobs.sleep, 0.0) is not first  # done: the memo's business, not ours


def test_the_newest_in_a_lane_overtakes(workers: Workers) -> None:
    workers.submit("warm", jobs.whose, 0).result(LONG_S)
    running = workers.submit("v1", jobs.sleep, 30.0, lane="preview")
    time.sleep(0.2)
    waiting = workers.submit("v2", jobs.sleep, 30.0, lane="preview")
    other = workers.submit("x", jobs.sleep, 0.0, lane="other")
    newest = workers.submit("v3", jobs.whose, 3, lane="preview")
    started = time.monotonic()
    for old in (running, waiting):
        assert old.dropped
        with pytest.raises(CancelledError):
            old.result(0.0)
    assert newest.result(LONG_S)[0] == 3
    assert other.result(LONG_S) == 0.0
    assert time.monotonic() - started < 20.0  # its process was ended: nobody waited 30 s


def test_a_worker_that_dies_is_an_error_and_is_replaced(workers: Workers) -> None:
    with pytest.raises(WorkerError, match="exit code 3"):
        workers.submit("die", jobs.die, 3).result(LONG_S)
    assert workers.submit("after", jobs.whose, 5).result(LONG_S)[0] == 5


def test_a_ticket_tells_when_it_is_done(workers: Workers) -> None:
    done: list[Ticket] = []
    ticket = workers.submit("t", jobs.whose, 2)
    ticket.when_done(done.append)
    ticket.result(LONG_S)
    time.sleep(0.05)
    assert done == [ticket]


def test_closing_drops_what_is_left() -> None:
    pool = Workers(1)
    ticket = pool.submit("z", jobs.sleep, 30.0)
    started = time.monotonic()
    pool.close()
    assert time.monotonic() - started < 12.0
    with pytest.raises(CancelledError):
        ticket.result(0.0)
    with pytest.raises(RuntimeError, match="closed"):
        pool.submit("z", jobs.sleep, 0.0)


def test_a_worker_that_nobody_hears_ends_by_itself() -> None:
    worker = _Worker(())
    worker.pipe.send((jobs.sleep, (0.5,)))
    time.sleep(0.2)
    worker.pipe.close()  # as when the program that started it was ended
    worker.process.join(LONG_S)
    assert worker.process.exitcode == 0


def test_no_worker_is_an_error() -> None:
    with pytest.raises(InputError, match="workers"):
        Workers(0)


def test_an_error_that_cannot_be_rebuilt_is_an_error_and_not_a_wait(workers: Workers) -> None:
    with pytest.raises(RuntimeError, match="Picky"):
        workers.submit("picky", jobs.picky).result(LONG_S)
    with pytest.raises(OSError, match="full") as caught:
        workers.submit("full", jobs.full).result(LONG_S)
    assert caught.value.filename == "made/x.step"
    assert any(frame[2] == "full" for frame in caught.value.worker_frames)  # type: ignore[attr-defined]


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="signals as on Unix")
def test_ctrl_c_is_not_for_the_workers(workers: Workers) -> None:
    assert workers.submit("mask", jobs.hears_ctrl_c).result(LONG_S) is False
    assert signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, ())


def test_where_no_process_can_be_had_who_asks_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object) -> None:
        raise OSError(errno.EMFILE, "too many")

    with monkeypatch.context() as there:
        there.setattr("backwave.workers._Worker.__init__", none)
        with Workers(1) as pool, pytest.raises(OSError, match="too many"):
            pool.submit("a", jobs.whose, 1).result(LONG_S)


def test_a_job_that_takes_too_long_or_too_much_says_so_and_the_next_is_done() -> None:
    with Workers(1, most_s=1.0, most_bytes=300_000_000, what="the solid") as pool:
        assert pool.submit("warm", jobs.whose, 1).result(LONG_S)[0] == 1
        start = time.monotonic()
        with pytest.raises(TooMuchError, match="the solid took more than 1 seconds"):
            pool.submit("slow", jobs.sleep, 60.0).result(LONG_S)
        assert time.monotonic() - start < 20.0
        assert pool.submit("next", jobs.whose, 2).result(LONG_S)[0] == 2
        if sys.platform == "linux":
            with pytest.raises(TooMuchError, match="the solid took more than 300 MB of memory"):
                pool.submit("large", jobs.grow, 2_000).result(LONG_S)
            assert pool.submit("after", jobs.grow, 10).result(LONG_S) == 10_000_000
