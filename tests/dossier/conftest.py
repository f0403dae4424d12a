"""The demo job told once for all tests of the dossier."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from backwave.assess import assess
from backwave.assess.working import working
from backwave.dossier.told import Told
from backwave.dossier.whole import dossier_pdf
from backwave.job import Job, load, loads

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job"
TEXT = (DEMO / "job.toml").read_text(encoding="utf-8")


def tell(job: Job, paper: str = "A4", date: str = "2026-03-14") -> Told:
    result = assess(job, draws=2_000)
    return Told(job, result, working(job, result), "1", date, paper)


@pytest.fixture(scope="session")
def told() -> Told:
    return tell(load(DEMO))


@pytest.fixture(scope="session")
def pdfs(told: Told) -> dict[str, bytes]:
    return {paper: dossier_pdf(replace(told, paper=paper)) for paper in ("A4", "Letter")}


HEAD = 'format = 1\ntitle = "A dozen"\ninstruments = { caliper = "0.05 mm", gauge = "1 mm" }\n\n'


def many(count: int) -> Job:
    """The cargo wall's opening and part, so many times."""
    begin, end = TEXT.index('[[opening]]\nid      = "cargo-wall"'), TEXT.index("# ---- drivers")
    opening = TEXT[begin:end]
    speakers = TEXT[end : TEXT.index("# What the van came with")]
    part = (
        '[[adapter]]\nopening = "{id}"\nspeaker = "demo-130"\nmaterial = "PETG"\nthreads = "insert M4 short"\n\n'
    )
    ids = [f"wall-{n}" for n in range(count)]
    rows = [opening.replace("cargo-wall", name) + part.format(id=name) for name in ids]
    return loads(HEAD + "\n".join(rows) + speakers)
