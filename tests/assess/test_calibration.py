"""What a reading teaches: unknowns with their bounds from a job's tables, and a leak found again from its own reading."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from assess.tables import table_job

from backwave.assess import Memo, SoundEngine, engine_of
from backwave.assess.proof.calibration import LEARN_HZ, Lesson, Taught, _Model, _unknowns, learned_of
from backwave.errors import InputError

MOTOR = {"Re": "3.6 ohm", "Le": "0.4 mH", "fs": "60 Hz", "Qms": 4.0, "Qes": 0.7, "Vas": "12 L", "Sd": "130 cm2"}
PATH = {"source": "amp", "channel": "1", "opening": "door", "speaker": "it"}
CABIN = {"length": "2.1 m", "width": "1.4 m", "height": "1.1 m", "leak": "25 cm2", "loss": 0.2}


@cache
def engine(leak: str = "20 cm2", volume: str = "35 L") -> SoundEngine:
    job = table_job(
        vehicle={"cabin": CABIN},
        seat=[{"id": "driver", "ear": ["1.0 m", "0.4 m", "0.9 m"]}],
        opening=[
            {"id": "door", "at": ["0.5 m", "0.05 m", "0.3 m"], "cavity": {"volume": volume, "leak": leak}, "gap": {"leak": "30 cm2"}}
        ],
        speaker=[{"id": "it", "rated": "4 ohm", "motor": MOTOR}],
        source=[{"id": "amp", "kind": "bridge"}],
        stage=[{"id": "first", "path": [PATH]}],
    )  # fmt: skip
    return engine_of(job, Memo(4096))


def reading(values: dict[str, float], offset_db: float = 0.0) -> Any:
    """A pair whose reading before is what the model plays with these values, at a level of its own."""
    model = _Model(engine(), "first", 0)
    mean = SimpleNamespace(f_hz=model.f_hz, level_db=model(values) + offset_db, u_db={"bass": 0.3})
    before = SimpleNamespace(stage="first", seat="driver", title="First", mean=mean, from_hz=0.0)
    return SimpleNamespace(seat="driver", before=before, after=None, expected_before=object(), expected_after=None)


@cache
def lesson(key: str, true: float) -> Lesson:
    return learned_of(engine(), reading({key: true}, 7.0))


@pytest.mark.parametrize(
    ("key", "true", "shown"),
    [
        ("opening.door.cavity.volume", 24e-3, 24.0),  # in the units of its key: liters, square centimeters
        ("opening.door.gap.leak", 90e-4, 90.0),
        ("vehicle.cabin.loss", 0.1, 0.1),
    ],
)
def test_what_was_otherwise_is_found_again_in_its_own_reading(key: str, true: float, shown: float) -> None:
    found = lesson(key, true)
    assert (found.stage, found.seat, found.unseen) == ("first", "driver", None)
    assert found.learned.after_db < 0.6 * found.learned.before_db  # a level of its own, 7 dB here, is no difference
    taught = {one.key: one for one in found.taught}
    mine = taught[key]
    assert mine.moved
    assert mine.low < shown < mine.high
    assert abs(np.log(mine.value / shown)) < 0.5 * abs(np.log(mine.was / shown))
    # the others were right, and their intervals still say so
    starts = {"opening.door.cavity.volume": 35.0, "opening.door.gap.leak": 30.0, "vehicle.cabin.loss": 0.2}
    assert all(taught[other].low < start < taught[other].high for other, start in starts.items() if other != key)
    assert set(found.changes) == {one.key for one in found.taught if one.moved}
    assert found.expected is not None  # the stage again, as it will be when that is kept


def test_what_a_reading_does_not_tell_stays_as_it_was_and_is_said() -> None:
    found = lesson("opening.door.cavity.volume", 24e-3)
    still = [one for one in found.taught if not one.moved]
    assert {one.key for one in still} == {"opening.door.cavity.leak", "vehicle.cabin.leak"}
    assert all(one.value == pytest.approx(one.was) for one in still)
    assert len(found.findings) >= len(still)


def test_the_reading_of_the_job_as_it_is_teaches_nothing_new() -> None:
    found = learned_of(engine(), reading({}))
    assert found.learned.before_db < 0.6  # what a sixth of an octave rounds off
    for one in found.taught:
        assert one.value == pytest.approx(one.was, rel=0.1), one.key


def test_unknowns_are_the_doors_and_the_cabins_with_their_bounds() -> None:
    model = _Model(engine(), "first", 0)
    unknowns, keys = _unknowns(engine(), model.doors)
    assert keys == [
        "opening.door.cavity.leak", "opening.door.gap.leak", "opening.door.cavity.volume",
        "vehicle.cabin.loss", "vehicle.cabin.leak",
    ]  # fmt: skip
    starts = dict(zip(keys, (u.start for u in unknowns), strict=True))
    assert starts == pytest.approx(
        {
            "opening.door.cavity.leak": 20e-4, "opening.door.gap.leak": 30e-4, "opening.door.cavity.volume": 35e-3,
            "vehicle.cabin.loss": 0.2, "vehicle.cabin.leak": 25e-4,
        }
    )  # fmt: skip
    assert all(u.low < u.start < u.high for u in unknowns)
    assert LEARN_HZ[0] <= model.f_hz[0] < model.f_hz[-1] <= LEARN_HZ[1] * 1.05


@pytest.mark.parametrize(("said", "wide"), [("35 L ± 3.5 L", 1 + 2 * 0.1), ("35 L u 7 L", 1 + 4 * 0.2)])
def test_how_sure_somebody_was_bounds_the_search(said: str, wide: float) -> None:
    sure = engine(volume=said)
    unknowns, keys = _unknowns(sure, _Model(sure, "first", 0).doors)
    volume = unknowns[keys.index("opening.door.cavity.volume")]
    assert (volume.low, volume.high) == (pytest.approx(35e-3 / wide), pytest.approx(35e-3 * wide))


def test_a_model_of_values_is_the_door_with_them() -> None:
    """Learning moves fields of the door; the same door written into the job is played alike."""
    tried = _Model(engine(), "first", 0)({"opening.door.cavity.leak": 60e-4})
    written = _Model(engine(leak="60 cm2"), "first", 0)({})
    np.testing.assert_allclose(tried, written, atol=1e-9)


def test_as_it_goes_into_the_job() -> None:
    leak = Taught("opening.door.cavity.leak", "", "cm2", 20.0, 61.234, 50.0, 72.0, 5.0, 80.0, True, False)
    assert leak.written == "61.2 cm2 u 5.6 cm2"  # a quarter of the 95 % interval, less a little: 22 by 3.92
    loss = replace(leak, key="vehicle.cabin.loss", unit="", value=0.1874)
    assert loss.written == 0.19


def test_what_cannot_be_learned_from_is_refused() -> None:
    pair = reading({})
    pair.expected_before = None
    with pytest.raises(InputError, match="a stage of the job"):
        learned_of(engine(), pair)
    short = reading({})
    short.before.mean.f_hz, short.before.mean.level_db = short.before.mean.f_hz[:5], short.before.mean.level_db[:5]
    with pytest.raises(InputError, match="30 to 400 Hz"):
        learned_of(engine(), short)
