"""The example job in a folder, and its session."""

from __future__ import annotations

from pathlib import Path

import pytest

from backwave.job.session import Session
from tests.job.sessions import job_in


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return job_in(tmp_path)


@pytest.fixture
def session(folder: Path) -> Session:
    return Session(folder, delay_s=0)
