"""What the drivers on an output stand, against a closed box worked out by hand, and the gain that follows in a job."""

from __future__ import annotations

import re
from math import hypot, pi, sqrt
from pathlib import Path

import pytest

from backwave.assess import Assessment, Memo, assess
from backwave.assess.pipeline import engine_of
from backwave.assess.sound.engine import solved_channels
from backwave.assess.sound.findings import channel_drivers
from backwave.job import loads

TEXT = (Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job/job.toml").read_text(encoding="utf-8")
MEMO = Memo()


def assessed(text: str) -> Assessment:
    return assess(loads(text), MEMO, draws=500)


def tone(made: Assessment, name: str) -> float:
    assert made.wires is not None
    volts = next(c.target.test_tone_v for c in made.wires.channels if c.id == name)
    assert volts is not None
    return volts


def test_travel_in_a_closed_box_is_smalls() -> None:
    # Small 1972 (JAES 20(10)): x/V = sqrt(2) Bl Cmt / (Re + Rg) / |1 - (f/fc)^2 + j f/(fc Qtc)|, by hand
    fs, qms, qes, vas, sd, re, rg, vb = 31.0, 6.5, 0.52, 0.032, 0.033, 3.5, 0.05, 0.014
    cms = vas / (1.204 * 343.2**2 * sd**2)
    mms = 1 / ((2 * pi * fs) ** 2 * cms)
    bl = sqrt(2 * pi * fs * mms * re / qes)
    rise = sqrt(1 + vas / vb)
    fc, qec, qmc = fs * rise, qes * rise * (re + rg) / re, qms * rise
    qtc = qec * qmc / (qec + qmc)

    def travel_mm(hz: float) -> float:
        filtered = 1 / (1 + (hz / 80) ** 4)  # Linkwitz-Riley of the fourth order, low-pass, size
        return 1e3 * sqrt(2) * bl * cms / rise**2 / (re + rg) / hypot(1 - (hz / fc) ** 2, hz / fc / qtc) * filtered

    text = TEXT.replace('Le = "1.1 mH", fs = "31 Hz"', 'Le = "0 mH", fs = "31 Hz"')
    engine = engine_of(loads(text), MEMO)
    (found,) = channel_drivers(solved_channels(engine, stage) for stage in engine.job.file.stage)["bass-amp.1"]
    assert found.mm_per_v == pytest.approx(max(travel_mm(f) for f in range(50, 101)), rel=0.05)
    assert (found.x_max_mm, found.power_w) == (pytest.approx(9), 250)
    assert found.share == pytest.approx(1, abs=0.02)


def test_a_stronger_amplifier_is_set_to_what_its_speakers_stand() -> None:
    sound = assessed(TEXT)
    assert not [f for f in sound.findings if f.check.code == "power.gain" and f.check.verdict != "ok"]
    strong = assessed(TEXT.replace('"4 x 75 W into 4 ohm"', '"4 x 300 W into 4 ohm"').replace('"250 W into 4 ohm"', '"1000 W into 4 ohm"'))  # fmt: skip
    # the subwoofer's own 250 W into 4 ohm, and the woofer's 75 W behind a coil of 0.2 ohm: not 63.2 and 34.6 V
    assert tone(strong, "bass-amp.1") == pytest.approx(sqrt(250 * 4), rel=0.03)
    assert tone(strong, "amp.1") == pytest.approx(sqrt(75 * 4) * 4.2 / 4, rel=0.06)
    ids = {f.id for f in strong.findings if f.check.verdict == "caution"}
    assert {"power.gain.demo-250@bass-amp.1", "power.gain.demo-165@amp.1"} <= ids
    lifted = assessed(TEXT.replace('"low-pass 80 Hz LR4"]', '"low-pass 80 Hz LR4", "peak 50 Hz +6 dB Q 1"]'))
    assert tone(lifted, "bass-amp.1") < 0.7 * tone(sound, "bass-amp.1")  # a boost is part of what reaches the cone


def test_a_driver_nobody_rated_is_asked_for() -> None:
    made = assessed(TEXT.replace('Xmax = "9 mm", power = "250 W" }', 'Xmax = "9 mm" }'))
    (found,) = [f for f in made.findings if f.id == "power.gain.demo-250@bass-amp.1"]
    assert found.check.verdict == "caution"
    assert found.check.key == "speaker.demo-250.motor.power"


NETWORK = ', network = ["series R 1.5 ohm", "series C 10 uF", "shunt L 0.27 mH 0.15 ohm"]'
HIDDEN = 'hides = "series C 4.7 uF"'


def verdicts(text: str, code: str) -> dict[str, str]:
    return {f.id: f.check.verdict for f in assessed(text).findings if f.check.code == code}


def test_a_bass_high_pass_is_no_protection_for_a_tweeter() -> None:
    # as an active system: 75 W channels, no passive part, the plug's capacitor bridged, high-pass at 80 Hz, fs 1150 Hz
    bare = (
        re.sub(r"\[\[wire\]\]\n(?:\w.*\n)+", "", TEXT).replace(NETWORK, "").replace(HIDDEN, HIDDEN + ", bridged = true")
    )
    found = verdicts(bare, "sound.tweeter") | verdicts(bare, "wire.tweeter")
    assert found["sound.tweeter.dash-demo-25@subwoofer"] == "stop"
    assert found["wire.tweeter.dash-left@harness"] == found["wire.tweeter.dash-right@harness"] == "stop"
    # the twins: its own filter at 3 kHz, or the plug's capacitor left in line
    active = bare.replace('polarity = -1, filters = ["high-pass 80 Hz LR4"', 'polarity = -1, filters = ["high-pass 3000 Hz LR4"')  # fmt: skip
    own = active.replace(
        'channel = "1", side = "left", opening = "dash"', 'channel = "3", side = "left", opening = "dash"'
    )
    own = own.replace(
        'channel = "2", side = "right", opening = "dash"', 'channel = "4", side = "right", opening = "dash"'
    )
    assert verdicts(own, "sound.tweeter")["sound.tweeter.dash-demo-25@subwoofer"] == "caution"
    assert set(verdicts(own, "wire.tweeter").values()) == {"caution"}
    assert verdicts(TEXT.replace(NETWORK, ""), "sound.tweeter")["sound.tweeter.dash-demo-25@subwoofer"] == "ok"


def test_a_capacitor_that_passes_bass_protects_no_tweeter() -> None:
    bridged = TEXT.replace(HIDDEN, HIDDEN + ", bridged = true")
    assert verdicts(bridged, "sound.tweeter")["sound.tweeter.dash-demo-25@subwoofer"] == "ok"
    assert not verdicts(bridged, "wire.tweeter") or set(verdicts(bridged, "wire.tweeter").values()) == {"ok"}
    for large in ("470 uF", "4700 uF"):  # 85 and 8 Hz on 4 ohm, 1/(2 pi R C)
        loose = bridged.replace("series C 10 uF", f"series C {large}")
        assert verdicts(loose, "sound.tweeter")["sound.tweeter.dash-demo-25@subwoofer"] == "stop"
        assert set(verdicts(loose, "wire.tweeter").values()) == {"stop"}


def test_each_sides_tweeter_is_judged_by_its_own_parts() -> None:
    left, right = TEXT.rsplit('side = "right", opening = "dash"', 1)
    lacking = left + 'side = "right", opening = "dash"' + right.replace('"series C 10 uF", ', "", 1)
    lacking = lacking.replace(HIDDEN, HIDDEN + ", bridged = true")
    found = verdicts(lacking, "sound.tweeter")
    assert found["sound.tweeter.dash.left-demo-25@subwoofer"] == "ok"
    assert found["sound.tweeter.dash.right-demo-25@subwoofer"] == "stop"


def test_both_sides_on_one_numbered_channel_are_in_parallel() -> None:
    last = TEXT.rindex("[[stage]]")
    shared = TEXT[:last] + TEXT[last:].replace('channel = "2", side = "right"', 'channel = "1", side = "right"')
    shared = shared.replace('lowest_load  = "2 ohm"', 'lowest_load  = "4 ohm"', 1)
    shared = re.sub(r"\[\[(?:wire|reading)\]\]\n(?:\w.*\n)+", "", shared)

    def loads_of(text: str) -> list[tuple[str, float]]:
        checks = [f.check for f in assessed(text).findings if f.check.code == "sound.load" and f.subject == "subwoofer"]
        return [(c.verdict, c.value or 0.0) for c in checks if "amp" in c.part and "bass" not in c.part]

    own = loads_of(TEXT)
    assert {v for v, _ in own} == {"ok"}
    both = loads_of(shared)
    assert {v for v, _ in both} == {"stop"}
    assert both[0][1] == pytest.approx(own[0][1] / 2, rel=0.1)  # two alike in parallel: half


def test_a_driver_that_two_outputs_reach_is_asked_about() -> None:
    assert not [f for f in assessed(TEXT).findings if f.check.code == "wire.channel" and f.check.verdict != "ok"]
    line = '  { source = "bass-amp", channel = "1", box'
    twice = TEXT.replace(line, '  { source = "bass-amp", channel = "2", side = "left", opening = "front-door", speaker = "demo-165" },\n' + line)  # fmt: skip
    twice = twice.replace('"250 W into 4 ohm"', '"2 x 250 W into 4 ohm"')
    twice = re.sub(r"\[\[(?:wire|reading)\]\]\n(?:\w.*\n)+", "", twice)
    ids = [f.id for f in assessed(twice).findings if f.check.code == "wire.channel" and f.check.verdict == "caution"]
    assert "wire.channel.front-door.left-demo-165@subwoofer" in ids
