"""A place kept from before an edit is the place that a fresh computation gives, whatever was edited."""

from __future__ import annotations

from pathlib import Path

import pytest

from backwave.assess import Memo, assess, check_json
from backwave.assess.place_cache import _OTHERS
from backwave.job import loads
from backwave.job.model import JobFile

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job/job.toml"
TEXT = DEMO.read_text(encoding="utf-8").split("[[reading]]")[0]
EDITS = {
    "a clearance": ('trim    = { clear = "30 mm"', 'trim    = { clear = "26 mm"'),
    "an instrument": ('caliper = "0.05 mm"', 'caliper = "0.9 mm"'),
    "a driver": ('Xmech = "9 mm"', 'Xmech = "12 mm"'),
    "its name": ("Demo 165 mm woofer", "Another woofer"),
    "a delay": ('delay = "1.7 ms"', 'delay = "2.9 ms"'),
    "a cable": ('length  = "3.4 m"', 'length  = "9.4 m"'),
}


@pytest.fixture(scope="module")
def memo() -> Memo:
    made = Memo(4096)
    assess(loads(TEXT), made, draws=500)
    return made


@pytest.mark.parametrize("edit", EDITS)
def test_an_edit_gives_what_a_fresh_computation_gives(memo: Memo, edit: str) -> None:
    old, new = EDITS[edit]
    assert old in TEXT, old
    job = loads(TEXT.replace(old, new))
    kept, fresh = assess(job, memo, draws=500), assess(job, Memo(), draws=500)
    assert check_json(kept) == check_json(fresh)
    assert kept.assumed == fresh.assumed
    assert [part.spec for part in kept.parts] == [part.spec for part in fresh.parts]


def test_what_no_fit_hears_of_is_a_table_of_the_job() -> None:
    assert set(JobFile.model_fields) > _OTHERS
