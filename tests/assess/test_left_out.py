"""Leaving something out never makes a verdict better: what is not entered is asked for, never passed."""

from __future__ import annotations

import copy
import tomllib
from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.assess import assess
from backwave.finding import VERDICTS
from backwave.job.load import loads
from backwave.job.toml_spans import toml_value

# A door with all that the fit asks for; its speaker's data say everything twice, so that either may be left out.
DOOR = """
format = 1
title = "Surveyed door"
instruments = { gauge = "0.3 mm" }
[[opening]]
id = "door"
zone = "door"
hole = { diameter = HOLE, by = "gauge" }
skin = "0.8 mm"
window = "moves"
flange = { diameter = "182 mm" }
fixings = [
  { x = "0 mm", y = "82 mm", hole = "5.5 mm", holds = "rivet nut" },
  { x = "71 mm", y = "-41 mm", hole = "5.5 mm", holds = "rivet nut" },
  { x = "-71 mm", y = "-41 mm", hole = "5.5 mm", holds = "rivet nut" },
]
behind = [
  { radius = "0 mm", clear = DOWN, by = "gauge", what = "glass", window = "down" },
  { radius = "72 mm", clear = DOWN, by = "gauge", what = "glass", window = "down" },
  { radius = "0 mm", clear = HALF, by = "gauge", what = "carriage", window = "half" },
  { radius = "72 mm", clear = HALF, by = "gauge", what = "carriage", window = "half" },
  { radius = "0 mm", clear = ["84 mm", "84.1 mm"], by = "gauge", what = "glass", window = "up" },
  { radius = "72 mm", clear = ["80 mm", "80.1 mm"], by = "gauge", what = "glass", window = "up" },
  { radius = "0 mm", clear = ["75 mm", "75.1 mm"], by = "gauge", what = "beam", angle = "7:30 o'clock" },
  { radius = "72 mm", clear = ["74 mm", "74.1 mm"], by = "gauge", what = "beam", angle = "7:30 o'clock" },
]
trim = { clear = TRIM, by = "gauge", land = "35 mm" }
[[speaker]]
id = "s"
kind = "woofer"
frame = "166 mm"
cutout = "141 mm"
magnet = "92 mm"
depth = "64 mm"
rim = "5.2 mm"
front = FRONT
gasket = PAD
profile = [["70 mm", "0 mm"], ["66 mm", "14 mm"], ["46 mm", "38 mm"], ["46 mm", "64 mm"]]
holes = { count = 4, circle = "156 mm", diameter = "5 mm", first = "45 deg" }
terminals = { angle = "225 deg", width = "34 mm", radius = REACH, depth = "26 mm" }
mass = "1.15 kg"
motor = { Xmax = "5.5 mm", Xmech = XMECH }
[[adapter]]
opening = "door"
speaker = "s"
material = "ASA"
thickness = "15 mm"
threads = "insert M4"
foam = { back = "3 mm", grooved = true, grade = "2A0" }
"""
ROOMY = {
    "HOLE": '["145 mm", "145.1 mm"]', "DOWN": '["60 mm", "60.1 mm"]', "HALF": '["70 mm", "70.1 mm"]',
    "TRIM": '["42 mm", "42.1 mm"]', "FRONT": '"7 mm"', "REACH": '"62 mm"', "XMECH": '"8 mm"', "PAD": '"0.5 mm"',
}  # fmt: skip
CASES: dict[str, dict[str, str]] = {
    "fits": {},
    "glass hits": {"DOWN": '"46 mm"'},
    "the clamp hits": {"HALF": '"46 mm"'},
    "the front is tight": {"FRONT": '"12 mm"', "TRIM": '"37.5 mm"'},
    "it travels far": {"XMECH": '"13 mm"', "TRIM": '"37 mm"'},
    "terminals stand out": {"REACH": '"70 mm"'},
    "its gasket is thick": {"PAD": '"1.4 mm"', "TRIM": '["34 mm", "34.1 mm"]'},
}
ASKS = ("job.missing", "fit.assumed", "fit.coverage", "fit.reach", "fit.read-once", "fit.terminals", "fit.mirrored")
Path = tuple[str | int, ...]


def data_of(case: str) -> dict[str, Any]:
    text = DOOR
    for word, value in (ROOMY | CASES[case]).items():
        text = text.replace(word, value)
    return tomllib.loads(text)


OPENING = ("hole", "skin", "trim", "behind", "window", "zone")
SPEAKER = ("rim", "front", "gasket", "profile", "terminals", "motor")
DROPPED: tuple[Path, ...] = (
    *(("opening", 0, key) for key in OPENING),
    *(("opening", 0, "behind", i) for i in range(8)),
    *(("opening", 0, "behind", i, "window") for i in range(6)),
    ("opening", 0, "trim", "clear"),
    *(("speaker", 0, key) for key in SPEAKER),
    ("speaker", 0, "terminals", "angle"),
    ("speaker", 0, "motor", "Xmech"),
    ("speaker", 0, "motor", "Xmax"),
)


def without(data: dict[str, Any], paths: tuple[Path, ...]) -> dict[str, Any]:
    left = copy.deepcopy(data)
    for path in sorted(set(paths), key=lambda p: [str(step) for step in p], reverse=True):
        node: Any = left
        for step in path[:-1]:
            try:
                node = node[step]
            except (KeyError, IndexError):
                break
        else:
            if isinstance(node, dict):
                node.pop(path[-1], None)
            elif len(node) > path[-1]:
                node.pop(path[-1])
    if not left["opening"][0].get("behind", [1]):
        del left["opening"][0]["behind"]
    for table in ("trim", "motor"):
        for row in (left["opening"][0], left["speaker"][0]):
            if row.get(table) == {}:
                del row[table]
    return left


def written(data: dict[str, Any]) -> str:
    lines = [f"{k} = {toml_value(v)}" for k, v in data.items() if k not in ("opening", "speaker", "adapter")]
    for table in ("opening", "speaker", "adapter"):
        lines += [f"[[{table}]]", *(f"{k} = {toml_value(v)}" for k, v in data[table][0].items())]
    return "\n".join(lines)


def verdicts(data: dict[str, Any]) -> tuple[str, dict[str, str]]:
    place = assess(loads(written(data)), draws=4_000, whole=False).places[0]
    return place.fit_verdict, {f"{c.code}.{c.part}": c.verdict for c in place.fit_checks}


@cache
def whole(case: str) -> tuple[str, dict[str, str]]:
    return verdicts(data_of(case))


def test_the_cases_are_what_they_say() -> None:
    assert whole("fits")[0] == "ok", {k: v for k, v in whole("fits")[1].items() if v != "ok"}
    stops = {case for case in CASES if whole(case)[0] == "stop"}
    assert stops == {"glass hits", "the clamp hits", "terminals stand out"}
    assert {whole(case)[0] for case in CASES.keys() - stops - {"fits"}} == {"caution"}


def judge_dropped(case: str, paths: tuple[Path, ...]) -> None:
    before, checks = whole(case)
    after, found = verdicts(without(data_of(case), paths))
    asked = {k for k, v in found.items() if k.startswith(ASKS) and v != "ok" and checks.get(k, "ok") == "ok"}
    better = {k for k, v in checks.items() if v != "ok" and VERDICTS.index(found.get(k, "ok")) < VERDICTS.index(v)}
    assert not better or asked, f"{better} got better with {paths} left out, and nothing asks for it"
    assert after != "ok" or before == "ok", f"ok with {paths} left out"
    if VERDICTS.index(after) < VERDICTS.index(before):
        assert asked


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("first", [0, 2, 4])
def test_a_state_of_the_window_left_out_is_asked_for(case: str, first: int) -> None:
    judge_dropped(case, tuple(("opening", 0, "behind", i) for i in (first, first + 1)))


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("path", DROPPED, ids=lambda p: ".".join(map(str, p)))
def test_one_entry_left_out_never_makes_a_verdict_better(case: str, path: Path) -> None:
    judge_dropped(case, (path,))


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(list(CASES)), st.lists(st.sampled_from(DROPPED), min_size=2, max_size=5, unique=True))
def test_several_left_out_never_make_a_verdict_better(case: str, paths: list[Path]) -> None:
    judge_dropped(case, tuple(paths))
