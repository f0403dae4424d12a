"""What holds for every test: its properties' settings, and the marks that `make quick` leaves out."""

from __future__ import annotations

import signal
import sys

import pytest
from hypothesis import settings

# No deadline: a busy machine is no counterexample.  The same examples every time; `--hypothesis-profile=long` tries others.
settings.register_profile("suite", deadline=None, derandomize=True, max_examples=40)
settings.register_profile("long", deadline=None, max_examples=1000)
settings.load_profile("suite")
_WORKBENCH = {
    "bench",
    "lent",
    "shared",
    "again",
    "chromium",
    "working",
    "heard",
}  # the fixtures that start one, or a browser
_SLOW = (  # beside those that say so themselves
    "assess/test_before_after", "assess/test_budgets", "assess/test_choosing", "assess/test_demo",
    "assess/test_dummy", "assess/test_next_steps", "cli/test_check_lines", "assess/test_extra_sources", "assess/test_left_out", "assess/test_mounting",
    "assess/test_place_cache", "assess/test_prediction", "assess/test_signal_way", "assess/test_unmountable",
    "assess/test_values", "assess/test_waiting", "bench/test_board", "bench/test_endings", "bench/test_failures",
    "cli/test_endings", "cli/test_pack", "cli/test_plan", "cli/test_predict", "cli/test_proof", "cli/test_tune",
    "dossier/", "drawing/test_plan_view", "files/test_ways_out", "fit/test_calibration", "fit/test_plausible",
    "fuzz/", "job/test_hands", "job/test_history", "measure/test_arrival", "measure/test_rattle",
    "measure/test_recording", "measure/test_response", "measure/test_synchronize", "network/test_against_ngspice",
    "part/test_engraving", "part/test_wall_thickness", "power/test_cable", "power/test_harness_mutation",
    "power/test_random_supply", "test_docs", "test_person_units", "workers/",
)  # fmt: skip


def pytest_configure(config: pytest.Config) -> None:
    """A test that loads the solid kernel where those are left out fails: it lacks its mark."""
    for name in ("SIGINT", "SIGHUP"):  # begun in the background or by nohup they are ignored, and children inherit that
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.default_int_handler if name == "SIGINT" else signal.SIG_DFL)
    if "not kernel" in config.getoption("markexpr"):
        sys.modules["OCP"] = None  # type: ignore[assignment]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Whatever starts a workbench or a browser is `browser`, whatever lies where much is computed is `slow`."""
    for item in items:
        if _WORKBENCH & set(getattr(item, "fixturenames", ())):
            item.add_marker("browser")
        if item.nodeid.removeprefix("tests/").startswith(_SLOW):
            item.add_marker("slow")
