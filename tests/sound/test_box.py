"""Boxes against Small's and Thiele's tables, and the same boxes as networks."""

from __future__ import annotations

from math import inf, sqrt

import numpy as np
import pytest
from sound.textbook import efficiency, vented_response

from backwave.acoustics import Air
from backwave.errors import InputError
from backwave.network import Network
from backwave.network.element import END_FLANGED, END_FREE, END_PISTON
from backwave.sound.box import closed_box, place_box, place_port, port_length, second_order
from backwave.sound.driver import Driver, from_parameters, place_driver

AIR = Air()


def worked() -> Driver:
    return from_parameters({"fs": 60.0, "Qes": 0.60, "Qms": 3.5, "Vas": 12e-3, "Re": 3.4, "Sd": 133e-4})


def test_worked_closed_box() -> None:
    # Small 1972, JAES 20(10):798-808: alpha = Vas/Vb, fc = fs sqrt(1 + alpha), Qtc = Qts sqrt(1 + alpha).
    box = closed_box(worked(), 8e-3)
    assert (box.alpha, box.fc, box.Qtc) == pytest.approx((1.5, 94.86833, 0.8098516), rel=1e-6)


@pytest.mark.parametrize(
    ("q", "f3", "peak"),
    [  # Small's closed-box response: -3 dB frequency by fc, and peak in dB
        (0.5, 1.553774, 0), (0.57735, 1.272020, 0), (0.6, 1.209068, 0), (0.70711, 1.0, 0),
        (0.8, 0.897160, 0.21295),
        (0.9, 0.829469, 0.68782), (1.0, 0.786151, 1.24939), (1.1, 0.756747, 1.83300), (1.2, 0.735815, 2.41178),
        (1.5, 0.699345, 4.03335),
    ],
)  # fmt: skip
def test_second_order_high_pass(q: float, f3: float, peak: float) -> None:
    assert second_order(q) == pytest.approx((f3, peak), abs=1e-5)


def corner(fs: float, qts: float, alpha: float, tuning: float, ql: float = inf) -> tuple[float, float]:
    """-3.01 dB frequency by fs and the greatest rise, read off the response."""
    f = np.geomspace(0.2, 20, 200_001) * fs
    level = 20 * np.log10(np.abs(vented_response(f, fs, qts, alpha, tuning, ql)))
    return float(f[np.nonzero(level < 10 * np.log10(0.5))[0][-1]] / fs), float(level.max())


@pytest.mark.parametrize(
    ("qts", "alpha", "tuning", "f3_ratio", "ripple"),
    [  # Thiele 1971, JAES 19:382-392, Table I, rows 1 to 9 (from memory), no losses
        (0.180, 10.48, 2.0000, 2.68, 0), (0.209, 7.48, 1.7273, 2.28, 0), (0.259, 4.46, 1.4160, 1.77, 0),
        (0.303, 2.95, 1.2288, 1.45, 0), (0.383, 1.414, 1.0000, 1.000, 0), (0.415, 1.055, 0.9273, 0.867, 0),
        (0.466, 0.729, 0.8294, 0.729, 0.087), (0.518, 0.559, 0.7568, 0.641, 0.298), (0.557, 0.485, 0.7160, 0.600, 0.499),
    ],
)  # fmt: skip
def test_thiele_table(qts: float, alpha: float, tuning: float, f3_ratio: float, ripple: float) -> None:
    """The response of each row has the f3 printed beside it, to 0.3 %: the closed form judges the networks below."""
    f3, peak = corner(50.0, qts, alpha, tuning)
    assert f3 == pytest.approx(f3_ratio, rel=3e-3)
    assert max(peak, 0) == pytest.approx(ripple, abs=0.006)


def test_the_misprint_of_row_seven() -> None:
    assert corner(50.0, 0.446, 0.729, 0.8294)[0] == pytest.approx(0.7319, abs=1e-4)  # 0.729 is printed


def test_butterworth_alignment_with_and_without_leak() -> None:
    # Small 1973 (coefficients 2.6131259, 3.4142136); 0.4048 and 1.0613 at QL 7 seen in print.
    for qts, alpha, ql in ((1 / sqrt(4 + 2 * sqrt(2)), sqrt(2), inf), (0.4048142, 1.0613180, 7.0)):
        f3, peak = corner(40.0, qts, alpha, 1.0, ql)
        assert f3 == pytest.approx(1, abs=1e-4)
        assert peak < 1e-6


def test_vented_design_example() -> None:
    # Small 1973, part III (doubtful memory, 1 %): fs 33 Hz, QMS 2.0, QES 0.45, VAS 57 L; QTS 0.367, eta0 0.44 %.
    d = from_parameters({"Re": 6.0, "fs": 33.0, "Qms": 2.0, "Qes": 0.45, "Vas": 57e-3, "Sd": 0.035})
    assert d.Qts == pytest.approx(0.367347, abs=1e-6)
    assert efficiency(d) == pytest.approx(0.0044, rel=0.015)


def test_port_length_is_helmholtz() -> None:
    # f = (c/2 pi) sqrt(S/(V l')): 20 L, 75 mm port, 100 mm: 81.18179 Hz bare, 65.45801 with a
    # flanged and a free end, 63.45776 with two piston ends.
    area = np.pi * 0.0375**2
    for ends, f in ((0.0, 81.18179), (END_FLANGED + END_FREE, 65.45801), (2 * END_PISTON, 63.45776)):
        assert port_length(20e-3, f, area, ends) == pytest.approx(0.1, rel=1e-5)
    with pytest.raises(InputError, match="larger port"):
        port_length(100e-3, 80.0, 1e-4)


def network(d: Driver, volume: float, fb: float, ql: float, qp: float = inf, port: bool = True) -> Network:
    n = Network()
    n.voltage("amplifier", "plus", "0", 1.0)
    place_driver(n, "woofer", d, "plus", "0", "0", "box")
    place_box(n, "box", "box", volume, fb, ql)
    if port:
        area = 30e-4
        place_port(n, "port", "box", port_length(volume, fb, area), area, fb, qp)
    return n


F = np.geomspace(15, 500, 60)


def test_vented_box_in_the_network_is_the_polynomial() -> None:
    """Two roads: driver, box, leak and port as a network; Small's fourth-order response."""
    d = from_parameters({"Re": 3.4, "fs": 40.0, "Qms": 4.0, "Qes": 0.45, "Vas": 25e-3, "Sd": 133e-4})
    volume, fb, ql = 18e-3, 43.0, 7.0
    s = network(d, volume, fb, ql).solve(F)
    # All that leaves the box: what the cone pushes out, and port and leak let out (they let in: negative).
    out = d.Sd * s.i("woofer.cone") + s.i("port") + s.i("box.leak")
    response = 2j * np.pi * F * out * d.Re * d.Mms / (d.Bl * d.Sd)  # by the passband's volume acceleration
    expected = vented_response(F, d.fs, d.Qts, d.Vas / volume, fb / d.fs, ql)
    assert np.abs(response / expected - 1).max() < 1e-9


def test_closed_box_in_the_network_has_its_resonance_and_quality() -> None:
    d, volume = worked(), 8e-3
    box = closed_box(d, volume)
    s = network(d, volume, box.fc, inf, port=False).solve(F)
    response = 2j * np.pi * F * s.i("woofer.cone") * d.Re * d.Mms / d.Bl
    x = 1j * F / box.fc
    assert np.abs(response / (x**2 / (x**2 + x / box.Qtc + 1)) - 1).max() < 1e-9


def test_losses_only_take() -> None:
    d = worked()
    for kind in ("leak", "absorption"):
        n = Network()
        n.voltage("amplifier", "plus", "0", 1.0)
        place_driver(n, "woofer", d, "plus", "0", "0", "box")
        place_box(n, "box", "box", 8e-3, 95.0, **{"ql" if kind == "leak" else "qa": 5.0})
        s = n.solve(F)
        assert (s.power(f"box.{kind}") > 0).all()
        # At its frequency the loss has the quality it was given.
        resistance = next(e.value for e in n.elements if e.name == f"box.{kind}")
        reactance = AIR.stiffness / (2 * np.pi * 95.0 * 8e-3)
        assert (resistance / reactance if kind == "leak" else reactance / resistance) == pytest.approx(5.0, rel=1e-12)


def test_at_the_tuning_the_port_does_the_work() -> None:
    d = from_parameters({"Re": 3.4, "fs": 40.0, "Qms": 4.0, "Qes": 0.45, "Vas": 25e-3, "Sd": 133e-4})
    s = network(d, 18e-3, 43.0, 7.0, qp=50.0).solve([43.0])
    # At the tuning the cone hardly moves and the port does the work.
    assert abs(s.i("port")[0]) > 3 * abs(d.Sd * s.i("woofer.cone")[0])
