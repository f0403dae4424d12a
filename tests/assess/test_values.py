"""An assessment is a value: it crosses processes whole, the same job gives the same twice, and what-ifs leave it alone."""

from __future__ import annotations

import json
import pickle
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from backwave.assess import (
    Assessment,
    Memo,
    SoundEngine,
    WhatIf,
    assess,
    check_json,
    compared,
    engine_of,
    play,
    predict,
    prediction_json,
    wires_json,
    with_comparisons,
)
from backwave.assess.inputs.factory import factory_json
from backwave.assess.power.results import harness_json
from backwave.job import Job, load

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job"


@cache
def job() -> Job:
    return load(DEMO)


@cache
def demo() -> Assessment:
    return with_comparisons(job(), assess(job(), Memo(4096), draws=500))


def document(result: Assessment) -> str:
    """All that programs are told, as one text."""
    assert result.prediction is not None
    assert result.harness is not None
    assert result.factory is not None
    wires = wires_json(result.wires, harness_json(result.harness), factory_json(result.factory))
    return json.dumps([check_json(result), prediction_json(result.prediction), wires], sort_keys=True)


def test_an_assessment_crosses_a_process_whole() -> None:
    twin = pickle.loads(pickle.dumps(demo()))
    assert twin is not demo()
    assert document(twin) == document(demo())
    assert twin.prediction is not None
    assert demo().prediction is not None
    assert twin.prediction.stages[1].plan == demo().prediction.stages[1].plan  # job tables, loads, chains


def test_the_same_job_gives_the_same_with_nothing_kept() -> None:
    again = with_comparisons(load(DEMO), assess(load(DEMO), Memo(), draws=500), Memo())
    assert document(again) == document(demo())


def inside(value: Any, path: str = "result") -> Iterator[tuple[str, Any]]:
    """Everything that a value holds, with the way there."""
    yield path, value
    if is_dataclass(value) and not isinstance(value, type):
        for one in fields(value):
            yield from inside(getattr(value, one.name), f"{path}.{one.name}")
    elif isinstance(value, dict):
        for key, one in value.items():
            yield from inside(one, f"{path}[{key!r}]")
    elif isinstance(value, (tuple, list, set, frozenset)):
        for n, one in enumerate(value):
            yield from inside(one, f"{path}[{n}]")


def test_it_holds_neither_engine_nor_callable_nor_what_can_change() -> None:
    seen = 0
    for path, value in inside(demo()):
        seen += 1
        assert not callable(value), path
        assert not isinstance(value, (Memo, SoundEngine, Job, list, set)), path
        if is_dataclass(value) and not isinstance(value, type):
            assert type(value).__dataclass_params__.frozen, path  # type: ignore[attr-defined]  # dataclasses has it
    assert seen > 5_000


def test_what_was_not_compared_says_so() -> None:
    made = predict(job())
    assert made is not None
    assert made.comparisons is None
    with pytest.raises(ValueError, match="compared"):
        _ = made.worth
    full = compared(engine_of(job()), made)
    assert [one.id for one in full.worth] == [one.id for one in demo().prediction.worth]  # type: ignore[union-attr]


WHAT_IFS = (
    None,
    WhatIf(ring=False),
    WhatIf(high_pass=False),
    WhatIf(holes_covered=True),
    WhatIf(flipped=frozenset({"dash/demo-25"})),
    WhatIf(ring=False, high_pass=False),
)


def test_what_ifs_of_two_threads_do_not_disturb_each_other() -> None:
    """Each what-if alone, on an engine of its own, then all at once and several times over on one that is shared."""

    def levels(engine: SoundEngine, what_if: WhatIf | None) -> np.ndarray:
        played = play(engine, engine.job.file.stage[2], what_if)
        assert played is not None
        return played.levels.level

    alone = [levels(engine_of(job(), Memo(4096)), one) for one in WHAT_IFS]
    shared = engine_of(job(), Memo(4096))
    before = (shared.columns, shared.findings)
    with ThreadPoolExecutor(2) as threads:
        turns = [*range(len(WHAT_IFS)), *reversed(range(len(WHAT_IFS)))]
        found = list(threads.map(lambda n: (n, levels(shared, WHAT_IFS[n])), turns))
    for n, level in found:
        np.testing.assert_array_equal(level, alone[n])
    assert (shared.columns, shared.findings) == before
