"""An assessment with a number that is far off: bounded in time and memory, told with its key, and never ok."""

from __future__ import annotations

import threading
import time
from dataclasses import replace
from importlib.resources import files
from typing import Any

import pytest

from backwave.assess import Memo, assess
from backwave.assess.budgets import fit_budget, odd_number, table_budget
from backwave.assess.inputs.adapter import pile_of
from backwave.assess.memo import digest
from backwave.budget import checkpoint, memory_bytes
from backwave.errors import InputError, TooMuchError
from backwave.fit import sheet_sums
from backwave.job import Job, loads, places
from backwave.part import checks
from backwave.sound.cabin import BoxCabin, Piston, cabin_transfer
from backwave.uncertainty import mean_reading
from backwave.units import parse

DEMO = (files("backwave.cli") / "demo_job" / "job.toml").read_text(encoding="utf-8")


def with_flange(diameter: str) -> Job:
    """The demo job with a flange that the model would not take: the rooms' own fence is what is tried."""
    job = loads(DEMO)
    first, *others = job.file.opening
    flange = first.flange.model_copy(update={"diameter": parse(diameter, "length")})  # type: ignore[union-attr]
    rows = (first.model_copy(update={"flange": flange}), *others)
    return replace(job, file=job.file.model_copy(update={"opening": rows}))


class Peak:
    """The most memory the process holds while something is done, over what it held."""

    def __enter__(self) -> Peak:
        self.start = self.most = memory_bytes()
        self.over = threading.Event()
        self.thread = threading.Thread(target=self.watch)
        self.thread.start()
        return self

    def watch(self) -> None:
        while not self.over.wait(0.005):
            self.most = max(self.most, memory_bytes())

    def __exit__(self, *_: object) -> None:
        self.over.set()
        self.thread.join()

    @property
    def grown_mb(self) -> float:
        return (self.most - self.start) / 1e6


@pytest.mark.parametrize("diameter", ["1820 mm", "18.2 m", "182 m", "900 m"])
def test_a_slipped_unit_is_judged_within_bounds(diameter: str) -> None:
    memo, job = Memo(), with_flange(diameter)
    assess(loads(DEMO), memo)
    start = time.thread_time()
    with Peak() as peak:
        result = assess(job, memo)
    assert result.verdict == "stop"
    assert time.thread_time() - start < 5.0  # 1 s; a core that is shared counts more of it
    assert peak.grown_mb < 300.0


@pytest.mark.parametrize("diameter", ["5 km", "9000 km"])
def test_what_nobody_builds_is_refused_in_words(diameter: str) -> None:
    with pytest.raises(InputError) as caught:
        assess(with_flange(diameter), Memo())
    assert "lengths up to 1 km" in str(caught.value)


def test_the_number_that_is_furthest_off_is_named() -> None:
    job = with_flange("182 m")
    place = places(job)[0]
    adapter = next(a for a in job.file.adapter if a.opening == place.opening.id)
    speaker = next(s for s in job.file.speaker if s.id == adapter.speaker)
    budget = fit_budget(place, adapter, speaker)
    assert budget.what == f"the fit of {place.name}"
    assert budget.blame() == (f"opening.{place.opening.id}.flange.diameter", "182 m")
    assert odd_number({}) == ("", "")
    assert table_budget("the prediction", 60.0, job, "speaker", "box", "supply").blame()[0]


def test_a_fit_that_takes_too_long_says_so_with_its_key(monkeypatch: pytest.MonkeyPatch) -> None:
    def endless(spec: object) -> Any:
        while True:
            checkpoint()

    monkeypatch.setattr(checks, "gaps", endless)
    monkeypatch.setattr("backwave.assess.budgets.FIT_S", 0.2)
    with pytest.raises(TooMuchError, match=r"flange\.diameter \(now 182 m\)"):
        assess(with_flange("182 m"), Memo())


@pytest.mark.parametrize(
    ("room", "table", "code"),
    [("sound.engine.play", "SOUND_S", "sound.data"), ("power.supply.gains", "SUPPLY_S", "power.load")],
)
def test_what_could_not_be_worked_out_in_time_is_a_finding_and_all_else_stands(
    room: str, table: str, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def endless(*_: object, **__: object) -> Any:
        while True:
            checkpoint()

    whole = assess(loads(DEMO), Memo())
    monkeypatch.setattr(f"backwave.assess.{room}", endless)
    monkeypatch.setattr(f"backwave.assess.pipeline.{table}", 0.2)
    if room.endswith("play"):
        monkeypatch.setattr("backwave.assess.sound.prediction.play", endless)
    result = assess(loads(DEMO), Memo())
    (finding,) = (f for f in result.findings if f.id == f"{code}.whole@job")
    assert finding.check.verdict == "caution"
    said = {name: value for name, value, _ in finding.check.title.quantities}["why"]
    assert "Too much to compute" in str(said)
    assert [p.subject for p in result.places] == [p.subject for p in whole.places]
    assert (result.prediction is None) == room.endswith("play")
    assert (result.wires is None) == room.endswith("gains")


def test_a_step_that_is_taken_in_pieces_gives_the_same_to_the_last_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = assess(loads(DEMO), Memo())
    monkeypatch.setattr("backwave.sound.stage.AT_ONCE", 1)
    pieces = assess(loads(DEMO), Memo())
    assert whole.prediction is not None
    assert pieces.prediction is not None
    for a, b in zip(whole.prediction.stages, pieces.prediction.stages, strict=True):
        assert digest(a.levels) == digest(b.levels)


def test_a_stock_of_sheets_that_no_shop_has_is_refused_before_it_is_summed() -> None:
    stock = [0.5 + 0.1 * k for k in range(40)]
    with pytest.raises(InputError, match="too many different sheets"):
        sheet_sums(stock, 3.0)
    with pytest.raises(InputError, match="too many different sheets"):
        pile_of(stock, 59.999)
    assert pile_of(stock[:20], 1.1) == pytest.approx((1.1,))


def test_more_seats_and_loudspeakers_than_a_bus_has_are_refused() -> None:
    pistons = [Piston((0.1 + 0.001 * k, 0.1, 0.1), (1.0, 0.0, 0.0), 0.05) for k in range(200)]
    ears = [(2.0, 0.5 + 0.001 * k, 0.7) for k in range(200)]
    with pytest.raises(InputError, match="too many ways from a loudspeaker to a seat"):
        cabin_transfer([100.0], BoxCabin(3.0, 1.5, 1.2), pistons, ears)


def test_readings_of_any_size_have_a_scatter() -> None:
    assert mean_reading("clear", [5.5e301, 55.0, 56.0], None).u > 1e300
