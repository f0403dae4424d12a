"""What is shown at once after an edit, and what follows: nothing is lost on the way, and nothing is left behind."""

from __future__ import annotations

from pathlib import Path

from bench.conftest import demo

from backwave.assess import Memo, assess
from backwave.bench.board import _fit
from backwave.job import Session


def test_what_follows_later_stands_as_it_was_and_is_what_comes(tmp_path: Path) -> None:
    """The fit of the new job, with sound and wires of the old: the same findings, by name, as all of it has."""
    session, memo = Session(demo(tmp_path / "job")), Memo()
    before = assess(session.job, memo, 8_000)
    assert session.set(("adapter", 0, "thickness"), "12.8 mm") == ()
    at_once, whole = _fit(session.job, before, memo), assess(session.job, memo, 8_000)
    assert {f.id for f in at_once.findings} == {f.id for f in whole.findings}
    assert {a.key for a in at_once.assumed} == {a.key for a in whole.assumed}
    assert {f.id for f in at_once.cautions} == {f.id for f in whole.cautions}
    assert at_once.verdict == whole.verdict
    assert [p.section for p in at_once.places] == [p.section for p in whole.places]
    assert at_once.prediction is before.prediction
    assert at_once.places[0].section.adapter.thickness_mm == 12.8


def test_what_the_job_has_no_longer_is_not_kept(tmp_path: Path) -> None:
    session, memo = Session(demo(tmp_path / "job")), Memo()
    before = assess(session.job, memo, 8_000)
    text = session.text[: session.text.index("[[source]]")]
    (session.folder / "job.toml").write_text(text, encoding="utf-8")
    session.poll()
    at_once, whole = _fit(session.job, before, memo), assess(session.job, memo, 8_000)
    assert at_once.prediction is at_once.wires is at_once.harness is None
    assert {f.id for f in at_once.findings} == {f.id for f in whole.findings}
