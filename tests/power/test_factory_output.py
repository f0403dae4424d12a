"""What the factory system does: sums, load resistor, inputs, and what was not recorded."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.finding import Check
from backwave.network.alignments import SERIES
from backwave.power import factory_output
from backwave.power.factory_output import FactoryPair, FactorySystem, bass_cut, check_factory, load_resistor, summed_db


def found(checks: tuple[Check, ...], code: str, part: str = "") -> Check:
    (check,) = [c for c in checks if c.code == code and part in ("", c.part)]
    return check


def of(pair: FactoryPair, **kinds: object) -> tuple[Check, ...]:
    return check_factory(FactorySystem((replace(pair, **kinds),)))  # type: ignore[arg-type]


@given(st.floats(-720, 720))
def test_sum_of_two_bands_against_phasors(phase: float) -> None:
    phasor = abs(1 + np.exp(1j * np.radians(phase))) / 2
    if phasor > 1e-6:
        assert summed_db(phase) == pytest.approx(20 * np.log10(phasor), abs=1e-6)


def test_sums_that_textbooks_give() -> None:
    # Two equal sources: +6 dB in phase, +3 dB at 90, 0 dB at 120, nothing at 180 degrees, against one of them
    # (coherent addition, e.g. Beranek and Mellow 2012, "Acoustics"; from memory).
    assert [summed_db(p) + 6.0206 for p in (0, 90, 120)] == pytest.approx([6.0206, 3.0103, 0], abs=1e-4)
    assert summed_db(180) == -inf


def test_the_preferred_values_are_the_standards() -> None:
    # IEC 60063: the E6 series, as network/ has it too.
    assert factory_output.E6 == (1.0, 1.5, 2.2, 3.3, 4.7, 6.8) == SERIES["E6"]


def test_load_resistor() -> None:
    # 14.4 V bridge, 4 ohm: clips at 10.2 V rms; 10.2^2/4.7 = 22.1 W (Joule), so 50 W.
    made = load_resistor(4.0, 10.2)
    assert (made.ohm, made.rating_w) == (4.7, 50.0)
    assert made.heat_w == pytest.approx(22.14, abs=0.01)
    assert load_resistor(10.0, 1.0).ohm == 10.0
    assert load_resistor(7.0, 1.0).ohm == 10.0
    assert load_resistor(2.0, 30.0).rating_w is None


@given(st.floats(0.5, 100), st.floats(0.1, 40))
def test_a_load_resistor_is_never_below_the_load_nor_its_rating_below_twice_its_heat(ohm: float, volts: float) -> None:
    made = load_resistor(ohm, volts)
    assert made.ohm >= ohm * 0.999
    assert made.ohm <= 1.51 * ohm
    assert made.rating_w is None or made.rating_w >= 2 * made.heat_w


def test_load_detection() -> None:
    check = found(of(FactoryPair("front", rated_ohm=4, loud_v=10.2, detects_load=True)), "wire.load-resistor")
    assert check.verdict == "caution"  # hot
    assert check.value == pytest.approx(22.14, abs=0.01)
    assert (
        found(of(FactoryPair("front", rated_ohm=4, loud_v=3, detects_load=True)), "wire.load-resistor").verdict == "ok"
    )
    asked = found(of(FactoryPair("front", detects_load=True)), "wire.load-resistor")
    assert asked.value is None
    assert not [c for c in of(FactoryPair("front", detects_load=False)) if c.code == "wire.load-resistor"]


def test_a_grounded_input_on_a_bridge_is_a_stop() -> None:
    # Bridge-tied outputs sit at half the supply (common trade practice, and the circuit itself).
    pair = FactoryPair("front", bridge_tied=True, loud_v=8.0)
    assert found(of(pair, differential=False), "wire.input", "front").verdict == "stop"
    assert found(of(pair), "wire.input", "front").verdict == "caution"
    assert not [c for c in of(pair, differential=True) if c.code == "wire.input" and c.part == "front"]


@pytest.mark.parametrize(("loud", "verdict"), [(8.0, "ok"), (16.0, "caution"), (0.5, "caution"), (None, "caution")])
def test_levels_against_the_input(loud: float | None, verdict: str) -> None:
    checks = of(FactoryPair("front", bridge_tied=False, loud_v=loud), input_v=(1.0, 8.0))
    check = found(checks, "wire.input", "front level")
    assert check.verdict == verdict
    if loud == 16.0:
        assert check.remedy is not None
        assert {n: v for n, v, _ in check.remedy.quantities}["db"] == pytest.approx(6.0206)


def test_two_ohm_drivers_replaced_by_four() -> None:
    # PRACTICE: 3 dB less; 10 lg 2 = 3.0103.
    check = found(of(FactoryPair("front", rated_ohm=2, new_ohm=4)), "wire.loud")
    assert check.value == pytest.approx(-3.0103, abs=1e-4)


def test_offset() -> None:
    assert found(of(FactoryPair("front", offset_v=-0.2)), "wire.offset").verdict == "caution"
    assert found(of(FactoryPair("front", offset_v=0.01)), "wire.offset").verdict == "ok"


def test_bass_that_is_taken_away() -> None:
    # Made from its answer: 20 dB more volume, and a shelf that takes 6 dB below 100 Hz.
    f = np.geomspace(40, 4000, 60)
    quiet = tuple((float(x), 0.0) for x in f)
    loud = tuple((float(x), 20.0 - (6.0 if x < 100 else 0.0)) for x in f)
    pair = FactoryPair("front", quiet_db=quiet, loud_db=loud)
    cut = bass_cut(pair)
    assert cut is not None
    assert cut == (pytest.approx(80.0), pytest.approx(6.0))
    assert found(of(pair), "wire.bass-cut").verdict == "caution"
    assert bass_cut(FactoryPair("front", quiet_db=quiet, loud_db=quiet)) == (pytest.approx(80.0), pytest.approx(0))
    assert bass_cut(FactoryPair("front", quiet_db=quiet)) is None


@pytest.mark.parametrize(
    ("low", "high", "verdict", "says"),
    [
        ({"polarity": 1}, {"polarity": 1}, "ok", "in phase"),
        ({"polarity": 1}, {"polarity": -1}, "caution", "lose"),
        ({"phase_deg": 100.0}, {}, "caution", "lose"),
        ({"phase_deg": -20.0, "polarity": 1}, {"polarity": -1}, "ok", "in phase"),
        ({"polarity": 1}, {}, "caution", "no phase entered yet"),
        ({"high_hz": 100.0}, {"polarity": 1}, "caution", "hole"),
        ({"high_hz": None}, {}, "caution", "No bands of"),
    ],
)
def test_bands_to_be_summed(low: dict[str, float], high: dict[str, float], verdict: str, says: str) -> None:
    a = FactoryPair("bass", "left", **{"low_hz": 30, "high_hz": 250} | low)  # type: ignore[arg-type]
    b = FactoryPair("rest", "left", **{"low_hz": 250, "high_hz": 18e3} | high)  # type: ignore[arg-type]
    check = found(check_factory(FactorySystem((a, b, FactoryPair("other", "right")))), "wire.sum")
    assert check.verdict == verdict
    assert says in check.title.template


def test_the_system_as_a_whole() -> None:
    nothing = check_factory(FactorySystem(()))
    assert [(c.code, c.verdict) for c in nothing] == [("wire.turn-on", "caution"), ("wire.microphones", "caution")]
    known = FactorySystem((FactoryPair("d"),), True, False, (("door chime", "d"), ("phone", "")))
    verdicts = {(c.code, c.part): c.verdict for c in check_factory(known)}
    assert verdicts["wire.turn-on", ""] == verdicts["wire.microphones", ""] == "ok"
    assert (verdicts["wire.keep", "door chime"], verdicts["wire.keep", "phone"]) == ("ok", "caution")


@pytest.mark.parametrize(
    "make",
    [
        lambda: FactoryPair("a", loud_v=-1),
        lambda: FactoryPair("a", rated_ohm=float("nan")),
        lambda: FactoryPair("a", polarity=0),
        lambda: FactoryPair("a", low_hz=200, high_hz=100),
        lambda: FactoryPair("a", quiet_db=((100, 0), (50, 0))),
        lambda: FactoryPair("a", quiet_db=((100, float("inf")),)),
        lambda: FactoryPair("a", offset_v=float("inf")),
        lambda: FactorySystem((FactoryPair("a"), FactoryPair("a"))),
        lambda: FactorySystem((), must_sound=(("chime", "b"),)),
        lambda: load_resistor(0, 1),
    ],
)
def test_what_cannot_be_is_refused(make) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InputError):
        make()
