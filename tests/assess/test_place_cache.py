"""A place kept from before an edit is the place that a fresh computation gives, whatever was edited."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from backwave.assess import Memo, assess, check_json, follows
from backwave.job import loads
from backwave.job.model import TABLES, JobFile, tables_of

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


def test_a_table_is_shared_by_every_fit_given_by_its_rows_or_heard_of_by_none() -> None:
    """Changing anything in a table that the list says no fit hears of changes no fit, and the rest does."""
    heard = {key for key, table in TABLES.items() if table.topic.subject in ("fit", "place")}
    for edit, (old, new) in EDITS.items():
        changed, plain = loads(TEXT.replace(old, new)).file, loads(TEXT).file
        tables = {key for key in TABLES if getattr(changed, key) != getattr(plain, key)}
        memo = Memo(4096)
        before, misses = assess(loads(TEXT), memo, draws=500, whole=False), memo.misses
        after = assess(loads(TEXT.replace(old, new)), memo, draws=500, whole=False)
        assert (memo.misses > misses) == bool(tables & heard), edit
        if not tables & heard:
            assert after.places == before.places, edit


def test_a_table_that_does_not_say_what_it_is_about_cannot_be_added() -> None:
    class Longer(JobFile):
        """A job with one more table."""

        lamp: tuple[str, ...] = ()

    with pytest.raises(TypeError, match="lamp: give it one Topic"):
        tables_of(Longer)
    assert set(tables_of(JobFile)) == set(JobFile.model_fields)


def test_what_follows_a_fit_is_what_the_tables_say() -> None:
    job = loads(TEXT)
    assert follows(job) == {"sound", "power", "wire"}
    bare = replace(
        job,
        file=job.file.model_copy(
            update={"stage": (), "load": (), "distribution": (), "pair": (), "factory_system": None}
        ),
    )
    assert follows(bare) == {"wire"}, "its factory outputs alone"
    result = assess(job, Memo(), draws=500)
    started = {f.topic for f in result.findings} - {
        f.topic for f in assess(job, Memo(), draws=500, whole=False).findings
    }
    assert started == {"sound", "power", "wire"}
