"""Checks and errors: what may not be built, and what crosses a process whole."""

from __future__ import annotations

import pickle
import random
import re
from pathlib import Path

import pytest

import backwave
from backwave.errors import BackwaveError, BuildError, InputError, JobError, MissingError, Problem, TooMuchError
from backwave.finding import CODES, Check, Finding, Message, figures, verdict_line, worst


def test_a_stop_says_what_to_change() -> None:
    with pytest.raises(InputError, match="a remedy that says what to change"):
        Check("fit.glass", "stop", Message("meets the glass"))


def test_a_code_nobody_listed_is_refused() -> None:
    with pytest.raises(InputError, match=r"fit\.nonsense"):
        Check("fit.nonsense", "ok", Message("fine"))


def test_a_finding_has_a_stable_name() -> None:
    finding = Finding(Check("fit.fixing", "ok", Message("holds"), part="2"), "front-door.left")
    assert (finding.id, finding.topic) == ("fit.fixing.2@front-door.left", "fit")


@pytest.mark.parametrize(
    ("value", "limit", "metric", "us"),
    [
        (6.2, 5.0, "6.0 mm", "0.24 in"),
        (2.9, 3.0, "2.5 mm", "0.10 in"),
        (2.999, 3.0, "2.5 mm", "0.10 in"),
        (3.1, 3.0, "3.0 mm", "0.12 in"),
        (3.0, 3.0, "3.0 mm", "0.118 in"),
        (5.05, 5.0, "5.0 mm", "0.197 in"),  # 0.18 in would stand under the limit
        (0.3, 0.0, "under 0.5 mm", "under 0.02 in"),
        (0.0, 0.0, "0.0 mm", "0.00 in"),
        (-0.1, 0.0, "-0.5 mm", "-0.02 in"),
        (-1.6, 3.0, "-2.0 mm", "-0.08 in"),
        (0.3, 1.0, "under 0.5 mm", "under 0.02 in"),
    ],
)
def test_room_is_shown_in_steps_that_never_cross_its_limit(value: float, limit: float, metric: str, us: str) -> None:
    said = Message("clears by {free}; needs {margin}", (("free", abs(value), "mm"), ("margin", limit, "mm")))
    check = Check("fit.glass", "ok", said, value=value, limit=limit, unit="mm", low=value - 1.0, high=value + 1.0)
    for system, text in (("metric", metric), ("us", us)):
        assert figures(check, system)[:2] == (text, "")
        if value != limit:
            assert f"by {text.lstrip('-')};" in verdict_line(check, system)


def test_room_that_is_told_with_its_sign_keeps_it() -> None:
    said = Message(
        "may be {low} to {high}, {over} too wide", (("low", -8.05, "mm"), ("high", 20.4, "mm"), ("over", 8.05, "mm"))
    )
    check = Check("fit.assumed", "caution", said, value=-8.05, limit=3.0, unit="mm")
    assert verdict_line(check) == "may be -8.5 mm to 20.4 mm, 8.5 mm too wide"
    assert verdict_line(check, "us").startswith("may be -0.32 in to 0.803 in, 0.32 in too")


def test_room_in_steps_is_on_the_side_of_every_limit_that_it_is_on() -> None:
    draw = random.Random(9)
    for _ in range(3000):
        limit = round(draw.uniform(0.0, 8.0), draw.choice((0, 1, 2)))
        value = draw.choice((draw.uniform(-5.0, 12.0), limit + draw.uniform(-0.03, 0.03)))
        check = Check("mount.seat", "ok", Message("lap"), value=value, limit=limit, unit="mm")
        for system, of_mm in (("metric", 1.0), ("us", 25.4)):
            shown, _, bound = figures(check, system)
            number, at = (float(text.removeprefix("under ").split()[0]) for text in (shown, bound))
            assert number * of_mm - value < (0.05 if of_mm == 1.0 else 0.0005 * of_mm) or shown.startswith("under")
            assert (number < at) == (value < limit) or (shown.startswith("under") and number <= at), (value, limit)


def test_what_is_set_or_smaller_is_safer_stays_exact() -> None:
    set_ = Check(
        "fit.window", "ok", Message("now {h}", (("h", 14.3, "mm"),)), value=14.3, unit="mm", low=14.2, high=14.6
    )
    assert (verdict_line(set_), figures(set_)) == ("now 14.3 mm", ("14.3 mm", "14.2 … 14.6", ""))


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
