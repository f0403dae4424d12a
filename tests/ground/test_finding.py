"""Checks and errors: what may not be built, and what crosses a process whole."""

from __future__ import annotations

import pickle
import re
from pathlib import Path

import pytest

import backwave
from backwave.errors import BackwaveError, BuildError, InputError, JobError, MissingError, Problem, TooMuchError
from backwave.finding import CODES, Check, Finding, Message, worst


def test_a_stop_says_what_to_change() -> None:
    with pytest.raises(InputError, match="a remedy that says what to change"):
        Check("fit.glass", "stop", Message("meets the glass"))


def test_a_code_nobody_listed_is_refused() -> None:
    with pytest.raises(InputError, match=r"fit\.nonsense"):
        Check("fit.nonsense", "ok", Message("fine"))


def test_a_finding_has_a_stable_name() -> None:
    finding = Finding(Check("fit.fixing", "ok", Message("holds"), part="2"), "front-door.left")
    assert (finding.id, finding.topic) == ("fit.fixing.2@front-door.left", "fit")


def test_the_worst_verdict_wins() -> None:
    assert worst([]) == "ok"
    assert worst(["ok", "stop", "caution"]) == "stop"


def test_every_code_is_used_and_every_code_used_is_listed() -> None:
    root = Path(backwave.__file__).parent
    topics = "|".join(sorted({code.partition(".")[0] for code in CODES}))
    used: set[str] = set()
    for path in root.rglob("*.py"):
        if path.name not in ("finding.py", "__init__.py"):
            used |= set(re.findall(rf'"((?:{topics})\.[a-z-]+)"', path.read_text(encoding="utf-8")))
    assert used - set(CODES) - {"job.toml"} == set()
    assert set(CODES) - used == set()


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (InputError("a hole", "-1 mm", "a length above 0"), 2),
        (JobError((Problem("job.toml", 4, "opening.hole", "5 kg", "a length", "a mass where a length is meant"),)), 2),
        (MissingError("no job here", "make one: backwave new DIR"), 3),
        (TooMuchError("the fit of Rear shelf", "more than 10 seconds", "speaker.x.cutout", "141 m"), 2),
        (BuildError("relief chamfer", "3 mm on an edge of 2.4 mm"), 70),
    ],
)
def test_errors_cross_a_process_whole(error: BackwaveError, code: int) -> None:
    twin = pickle.loads(pickle.dumps(error))
    assert (type(twin), str(twin), twin.exit_code, vars(twin)) == (type(error), str(error), code, vars(error))
