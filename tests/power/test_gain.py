"""Gain, channel loads, ground and cautions."""

from __future__ import annotations

import re
from math import pi, sqrt

import numpy as np
import pytest

from backwave.errors import InputError
from backwave.finding import words
from backwave.network import Network
from backwave.power import Supply, arrangements, cautions, channel_load, gain, gain_target, ground_check, noise_check
from backwave.power.gain import DriverOnChannel, program_share


def test_target_is_the_root_of_power_times_load() -> None:
    # ANSI/CTA-2006: power is the square of the rms output by the load: 75 W into 4 ohm is 17.32 V.
    found = gain_target(75, 4, "bass")
    assert found.test_tone_v == pytest.approx(17.3205, abs=1e-4)
    assert found.ceiling_v**2 / 4 == pytest.approx(75)
    # A tone 5 dB down where -5 dB shall reach rated power; 5 dB down where full scale shall.
    assert gain_target(75, 4, tone_db=-5, reach_db=-5).test_tone_v == pytest.approx(17.3205, abs=1e-4)
    assert gain_target(75, 4, tone_db=-5).test_tone_v == pytest.approx(17.3205 * 10 ** (-5 / 20), abs=1e-4)


def test_no_full_power_tone_on_a_tweeter() -> None:
    found = gain_target(50, 4, "tweeter")
    assert (found.test_tone_v, found.tone_hz) == (None, None)


def test_the_gate_stands_before_the_number() -> None:
    found = gain_target(75, 4)
    assert "disconnected" in found.gate[0].template
    assert found.checks[1].code == "safe.hearing"
    assert "17" not in " ".join(check.title.template for check in found.checks)


def test_tones_stay_in_the_meters_band() -> None:
    assert gain_target(75, 4, "bass").checks[0].verdict == "ok"
    assert gain_target(75, 4, "bass", tone_hz=200).checks[0].verdict == "caution"
    assert gain_target(75, 4, "full", tone_hz=1000).checks[0].verdict == "caution"


def test_a_mean_reading_meter_reads_noise_low() -> None:
    said = re.search(r"noise ([\d.]+) dB low \(([\d.]+) of its rms\)", " ".join((gain.__doc__ or "").split()))
    assert said is not None, "the room no longer says what such a meter does"
    low_db, factor = float(said[1]), float(said[2])
    # The mean of a Gaussian by that of a sine of the same rms: sqrt(2/pi) by 2 sqrt(2)/pi, which is sqrt(pi)/2.
    assert factor == pytest.approx(sqrt(pi) / 2, abs=5e-4)
    noise = np.random.default_rng(2).standard_normal(400_000)
    sine = np.sqrt(2) * np.sin(2 * np.pi * np.arange(10_000) / 10_000)
    share = np.mean(np.abs(noise)) / np.sqrt(np.mean(noise**2)) / np.mean(np.abs(sine))
    assert share == pytest.approx(factor, abs=2e-3)
    assert 20 * np.log10(share) == pytest.approx(-low_db, abs=0.02)


def test_the_source_has_to_suit_the_input() -> None:
    found = gain_target(75, 4, source_v=2.0, input_v=(0.2, 5))
    assert found.gain_db == pytest.approx(20 * np.log10(sqrt(300) / 2))
    assert found.checks[-1].verdict == "ok"
    assert gain_target(75, 4, source_v=0.1, input_v=(0.2, 5)).checks[-1].verdict == "caution"
    assert gain_target(75, 4, source_v=9.0, input_v=(0.2, 5)).checks[-1].verdict == "caution"


def test_no_more_is_asked_than_what_is_connected_stands() -> None:
    # 1000 W into 4 ohm on a 250 W driver of 4 ohm: sqrt(250 * 4) = 31.62 V, not 63.25 V
    found = gain_target(1000, 4, "bass", drivers=(DriverOnChannel("sub", 4, 250),))
    assert found.test_tone_v == pytest.approx(31.6228, abs=1e-4)
    assert found.limited_by == "sub"
    (check,) = [c for c in found.checks if c.part == "sub"]
    assert (check.verdict, check.limit) == ("caution", 250)
    assert check.value == pytest.approx(1000)
    assert "test_tone" not in words(check.title)
    assert "31.6" not in words(check.title)
    # its twin: an amplifier within what the driver stands is left at its own rating
    sound = gain_target(250, 4, "bass", drivers=(DriverOnChannel("sub", 4, 250),))
    assert (sound.test_tone_v, sound.limited_by) == (pytest.approx(sqrt(1000)), "")
    assert {c.verdict for c in sound.checks if c.part == "sub"} == {"ok"}


def test_each_driver_counts_after_its_network_and_by_its_travel() -> None:
    # half the volts reach a driver of 20 W into 8 ohm: sqrt(160) / 0.5 at the output
    padded = DriverOnChannel("mid", 8, 20, share=0.5)
    assert gain_target(500, 4, drivers=(padded,)).ceiling_v == pytest.approx(2 * sqrt(160))
    stiff = DriverOnChannel("woofer", 4, 500, x_max_mm=5.0, mm_per_v=0.5)  # 10 V
    found = gain_target(300, 4, drivers=(padded, stiff))
    assert (found.ceiling_v, found.limited_by) == (pytest.approx(10.0), "woofer")
    (check,) = [c for c in found.checks if c.part == "woofer"]
    assert (check.unit, check.value, check.limit) == ("mm", pytest.approx(0.5 * sqrt(1200)), 5.0)
    unknown = [c for c in gain_target(75, 4, drivers=(DriverOnChannel("old", 4),)).checks if c.part == "old"]
    assert [c.verdict for c in unknown] == ["caution"]


def test_a_program_is_that_of_the_standard() -> None:
    f = np.geomspace(20, 20_000, 3001)
    # a full sine of 1 V rms has a peak of sqrt(2); a program of that peak and crest 2 has half of it as its rms
    assert program_share(f, np.ones_like(f)) == pytest.approx(sqrt(2) / 2)
    bands = 1000 * 10 ** (np.arange(-17, 14) / 10)  # thirds of an octave, 20 Hz to 20 kHz
    hz, db = np.array(gain.PROGRAM).T
    level = np.interp(np.log(bands), np.log(hz), db)
    # IEC 60268-1, clause 7, note: the whole is about 12.5 dB above the zero level of a third of an octave
    assert 10 * np.log10(np.sum(10 ** (level / 10))) == pytest.approx(12.5, abs=0.3)
    # the filter of its figure 2, which makes the signal from pink noise, by nodal analysis: table II
    n = Network()
    n.voltage("source", "a", "0", 1.0)
    n.resistor("r1", "a", "b", 430)
    n.capacitor("c1", "b", "c", 2.2e-6)
    n.resistor("r2", "c", "0", 3300)
    n.capacitor("c2", "c", "0", 91e-9)
    n.resistor("r3", "c", "d", 330)
    n.capacitor("c3", "d", "e", 2.2e-6)
    n.resistor("r4", "e", "0", 3300)
    n.capacitor("c4", "e", "0", 68e-9)
    n.capacitor("c5", "e", "f", 0.47e-6)
    n.resistor("r5", "f", "0", 10e3)
    made = 20 * np.log10(np.abs(n.solve(bands).v("f")))
    out_db = np.abs(made - level - np.median(made - level))
    assert max(out_db[1:-1]) < 1  # the table's own tolerances, 3 dB at both ends
    assert max(out_db) < 3
    # what a tweeter gets of it above 4 kHz
    treble = (f > 4000).astype(float)
    fine = 10 ** (np.interp(np.log(f), np.log(bands), made) / 10)
    assert program_share(f, treble) ** 2 == pytest.approx(0.5 * fine[f > 4000].sum() / fine.sum(), rel=0.15)


def test_a_gain_is_no_limiter_and_a_muted_output_gives_no_tone() -> None:
    said = gain_target(75, 4, mutes=("front-left",))
    assert "no limiter" in " ".join(m.template for m in said.notes)
    assert "load resistors" in said.steps[0].template
    assert "match by level" in said.steps[0].template
    assert "load resistors" not in gain_target(75, 4).steps[0].template
    assert "harsh" not in " ".join(m.template for m in said.steps)  # speakers are off: nothing can be heard


@pytest.mark.parametrize("bad", [{"power_w": 0, "load_ohm": 4}, {"power_w": 1, "load_ohm": -4}])
def test_numbers_that_cannot_be_are_refused(bad: dict[str, float]) -> None:
    with pytest.raises(InputError):
        gain_target(**bad)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="clips"):
        gain_target(75, 4, tone_db=0, reach_db=-5)


def test_strings_of_coils_are_those_of_the_network_room() -> None:
    rng = np.random.default_rng(9)
    for _ in range(40):
        strings = [list(rng.uniform(1, 9, int(rng.integers(1, 4)))) for _ in range(int(rng.integers(1, 4)))]
        n = Network()
        n.voltage("source", "n", "0", 1.0)
        for k, string in enumerate(strings):
            nodes = ["n", *(f"s{k}-{j}" for j in range(1, len(string))), "0"]
            for j, ohm in enumerate(string):
                n.resistor(f"r{k}-{j}", nodes[j], nodes[j + 1], ohm)
        expected = complex(np.squeeze(n.solve(1.0).z("source"))).real
        assert channel_load(strings).load_ohm == pytest.approx(expected, rel=1e-9)


def test_a_bridged_pair_sees_half() -> None:
    # Two channels of opposite voltage on one load: the middle of the load stays at ground, so each drives half of it.
    found = channel_load(((4,),), 2, bridged=True)
    assert (found.load_ohm, found.seen_ohm) == (4, 2)
    assert found.checks[0].verdict == "ok"
    assert channel_load(((2,),), 2, bridged=True).checks[0].verdict == "stop"


def test_too_low_a_load_is_a_stop_that_names_a_better_wiring() -> None:
    check = channel_load(((4,), (4,)), 4).checks[0]
    assert check.verdict == "stop"
    assert check.remedy is not None
    assert ("ohm", 8, "ohm") in check.remedy.quantities
    assert channel_load(((3.9,),), 4).checks[0].verdict == "ok"  # ratings are rounded
    assert arrangements(4, 4) == ((1, 4, 1.0), (2, 2, 4.0), (4, 1, 16.0))
    with pytest.raises(InputError):
        channel_load(())


def test_ground_says_what_it_should_be() -> None:
    assert ground_check(0.4, 16, 16, battery_sensor=False).verdict == "ok"
    for bad in (
        ground_check(1.5, 16, 16),
        ground_check(0.4, 10, 16),
        ground_check(0.4, 16, 16, "plastic", ends_short=True),
    ):
        assert bad.verdict == "caution"
        assert bad.remedy is not None


def test_the_worst_fault_of_a_ground_is_its_value() -> None:
    thin = ground_check(0.4, 10, 16)
    assert (thin.value, thin.limit, thin.unit) == (10, 16, "mm2")
    assert "seat-belt" in thin.title.template
    assert "signal leads last" in thin.title.template


def test_noise_names_what_is_missing() -> None:
    assert noise_check(1, True).verdict == "ok"
    assert "turn-on lead" in noise_check(1, True, "").title.template
    assert noise_check().verdict == "caution"


def test_cautions_defer_to_the_maker() -> None:
    for supply in (Supply(), Supply(battery="lithium", source="converter")):
        found = cautions(supply)
        assert {c.code for c in found} == {"safe.battery", "safe.airbag", "safe.tapping", "safe.high-voltage"}
        assert all(any("maker" in s for s in c.sources) and c.remedy for c in found)
