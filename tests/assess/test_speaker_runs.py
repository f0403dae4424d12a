"""Runs to the speakers: lengths, loads and ratings in, loss, damping and current out by their closed forms."""

from __future__ import annotations

from math import log10, sqrt
from typing import Any

import pytest
from assess.tables import table_job

from backwave.assess.memo import Memo
from backwave.assess.power.harness import _new_area, _recorded, cable_at, speaker_run
from backwave.assess.power.results import SpeakerRun
from backwave.finding import Ledger
from backwave.job import Job
from backwave.notation.crossover import parse_branch
from backwave.power.harness import PathSpec, Plug, Wire

MOHM_M = {"0.75 mm2": 26.0, "1.5 mm2": 13.3, "2.5 mm2": 7.98}
"""IEC 60228, table 3 (class 5, plain copper), 20 degC."""


def job_of(source: dict[str, Any], speaker: dict[str, Any] | None = None, **tables: Any) -> Job:
    it = {"id": "it", "rated": "4 ohm", "motor": {"Re": "3.2 ohm"}} if speaker is None else speaker
    return table_job(source=[{"id": "amp", **source}], speaker=[it], opening=[{"id": "door"}], **tables)


AMPLIFIER = {"kind": "amplifier", "power": "4 x 50 W into 4 ohm", "resistance": "0.04 ohm"}


def run(
    source: dict[str, Any], length_m: float | None = 4.0, size: str = "1.5 mm2", ledger: Ledger | None = None, *,
    network: tuple[str, ...] = (), speaker: dict[str, Any] | None = None, **tables: Any,
) -> SpeakerRun:  # fmt: skip
    path = PathSpec("amp", "1", "it", "door", "left", network=tuple(map(parse_branch, network)))
    job = job_of(source, speaker, **tables)
    return speaker_run(job, path, length_m, size, False, ledger or Ledger(), Memo())


@pytest.mark.parametrize("size", MOHM_M)
def test_loss_and_damping_follow_from_ohms_law(size: str) -> None:
    one = run(AMPLIFIER, 4.0, size)
    loop = 2 * 4.0 * MOHM_M[size] * 1e-3
    assert one.cable is not None
    assert (one.subject, one.speaker, one.output) == ("door.left", "it", "amp 1")
    assert one.cable.loop_ohm == pytest.approx(loop)
    assert one.cable.loss_db == pytest.approx(20 * log10(4 / (4 + loop)))
    assert one.cable.damping_factor == pytest.approx(4 / (0.04 + loop))
    assert one.cable.qes_factor == pytest.approx((3.2 + 0.04 + loop) / 3.2)
    assert {f.subject for f in one.findings} == {"door.left"}


@pytest.mark.parametrize(
    ("network", "ohm"),
    [
        ((), 0.0),
        (("series L 0.4 mH 0.15 ohm", "shunt R 3.3 ohm + C 26 uF"), 0.15),  # what lies across it is not before it
        (("series R 2 ohm", "series L 0.4 mH 0.15 ohm + R 0.5 ohm"), 2.65),
        (("series C 10 uF",), 0.0),
        (("series R 8 ohm | C 10 uF",), 0.0),  # nobody can say without a frequency
    ],
)
def test_what_is_in_line_counts_as_the_sources(network: tuple[str, ...], ohm: float) -> None:
    one = run(AMPLIFIER, network=network)
    assert one.cable is not None
    assert one.cable.damping_factor == pytest.approx(4 / (0.04 + ohm + one.cable.loop_ohm))


def currents(source: dict[str, Any]) -> float:
    """What the size has to stand: the largest ampacity that still fails for heat bounds it from below."""
    one = run(source, 0.1, "")
    assert one.cable is not None
    steps = [t for t in one.cable.tried if "heat" in t.fails]
    return max((t.ampacity_a for t in steps), default=0.0)


def test_the_current_is_that_of_the_outputs_rating_into_this_load() -> None:
    loud = {"kind": "amplifier", "power": "1 x 1000 W into 1 ohm"}
    amps = sqrt(1000 * 1) / 4  # 31.6 V into the 4 ohm that are there
    one = run(loud, 0.1, "")
    assert one.cable is not None
    assert {t.size for t in one.cable.tried if "heat" in t.fails} == {
        t.size for t in one.cable.tried if t.ampacity_a < amps
    }
    # joined in pairs the same amplifier gives twice the volts, so the pair carries twice the current
    pairs = run({"kind": "amplifier", "power": "2 x 1000 W into 1 ohm", "bridged": True}, 0.1, "")
    assert pairs.cable is not None
    assert {t.size for t in pairs.cable.tried if "heat" in t.fails} == {
        t.size for t in pairs.cable.tried if t.ampacity_a < 2 * amps
    }
    assert currents(loud) < currents({"kind": "amplifier", "power": "2 x 1000 W into 1 ohm", "bridged": True})


def test_what_nobody_said_of_a_run_is_noted() -> None:
    ledger = Ledger()
    one = run({"kind": "bridge"}, None, "", ledger)
    assert one.cable is not None
    assert (one.cable.length_m, one.cable.guessed) == (5.0, True)
    assert {key: (a.value, a.unit) for key, a in ledger.assumed.items()} == {
        "speaker_cable door.left: length": (5.0, "m"),
        "speaker_cable door.left: size": ("chosen", ""),
        "source.amp.resistance": (0.3, "ohm"),
        "source.amp.supply": (14.4, "V"),
        "source.amp.loss": (1.0, "V"),
    }
    assert {f.check.code for f in one.findings} == {"power.speaker-cable", "power.length"}


def test_an_unrated_driver_is_asked_for_its_rating() -> None:
    one = run(AMPLIFIER, speaker={"id": "it"})
    assert one.cable is None
    (finding,) = one.findings
    assert (finding.check.key, finding.check.verdict) == ("speaker.it.rated", "caution")


def test_a_reader_in_inches_gets_gauges() -> None:
    metric, us = run(AMPLIFIER, size=""), run(AMPLIFIER, size="", show="us")
    assert metric.cable is not None
    assert us.cable is not None
    assert metric.cable.size.endswith("mm2")
    assert us.cable.size.startswith("AWG")


def test_the_cable_that_names_its_side_goes_before_the_one_for_each() -> None:
    rows = [{"opening": "door", "length": "3 m"}, {"opening": "door", "side": "right", "length": "4 m"}, {"box": "sub", "length": "1 m"}]  # fmt: skip
    job = job_of(AMPLIFIER, speaker_cable=rows)
    found = {at: cable_at(job, *at) for at in (("door", "left"), ("door", "right"), ("sub", ""), ("dash", "left"))}
    lengths = {at: None if row is None or row.length is None else row.length.to("m") for at, row in found.items()}
    assert lengths == {("door", "left"): 3.0, ("door", "right"): 4.0, ("sub", ""): 1.0, ("dash", "left"): None}


PATH = PathSpec("amp", "1", "it", "door", "left", length_m=3.0)
PLUGGED = PathSpec("amp", "1", "it", "door", "left", plug=Plug("p", "3", "5", area_mm2=0.75, there=True), length_m=3.0)


@pytest.mark.parametrize(
    ("path", "wires", "length", "area"),
    [
        (PATH, (), 3.0, None),
        (PATH, (Wire("w", "amp.1+", "door-left.+", None, 3.6, 1.5),), 3.6, 1.5),  # measured on the wire itself
        (PATH, (Wire("w", "door-left.-", "amp.1-"),), 3.0, None),
        (PATH, (Wire("w", "amp.1+", "door-left.+", None, 3.6, 1.5), Wire("v", "amp.1-", "door-left.-", None, 3.9, 1.0)), 3.9, 1.0),
        (PATH, (Wire("w", "amp.1+", "dash-left.+", None, 9.0, 4.0),), 3.0, None),  # another's
        (PLUGGED, (), 3.0, 0.75),
        (PLUGGED, (Wire("w", "p.3 out", "door-left.+", None, 0.2, 4.0),), 3.0, 0.75),  # behind the plug: its adapter
        (PLUGGED, (Wire("w", "amp.1+", "p.3 in", None, 2.0, 0.5),), 2.0, 0.5),
    ],
)  # fmt: skip
def test_what_was_recorded_at_the_end_of_a_run_is_its_length_and_size(
    path: PathSpec, wires: tuple[Wire, ...], length: float, area: float | None
) -> None:
    assert _recorded(path, "door-left", wires) == (length, area)


def test_new_wires_take_the_size_bought_or_beside_the_vehicles_own_the_least_that_will_do() -> None:
    bought = run(AMPLIFIER, 4.0, "2.5 mm2")
    assert _new_area(bought) == 2.5
    assert bought.cable is not None
    beside = SpeakerRun(bought.subject, bought.speaker, bought.output, bought.cable, True, ())
    least = next(t.area_mm2 for t in bought.cable.tried if t.size == bought.cable.least)
    assert _new_area(beside) == least
    assert _new_area(SpeakerRun("door", "it", "amp 1", None, False, ())) is None
