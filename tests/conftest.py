"""What holds for every test: its properties' settings, and the marks that `make quick` leaves out."""

from __future__ import annotations

import sys

import pytest
from hypothesis import settings

# No deadline: a busy machine is no counterexample.  The same examples every time; `--hypothesis-profile=long` tries others.
settings.register_profile("suite", deadline=None, derandomize=True, max_examples=40)
settings.register_profile("long", deadline=None, max_examples=1000)
settings.load_profile("suite")
_WORKBENCH = {"bench", "lent", "shared", "again", "chromium"}  # the fixtures that start one, or a browser


def pytest_configure(config: pytest.Config) -> None:
    """A test that loads the solid kernel where those are left out fails: it lacks its mark."""
    if "not kernel" in config.getoption("markexpr"):
        sys.modules["OCP"] = None  # type: ignore[assignment]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Whatever starts a workbench or a browser is `browser`."""
    for item in items:
        if _WORKBENCH & set(getattr(item, "fixturenames", ())):
            item.add_marker("browser")
