"""The modal cabin: published eigenfrequencies and limits, two exact solutions by other roads, and invariants."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.acoustics import Air
from backwave.errors import InputError
from backwave.network.element import slit
from backwave.sound.cabin import AirSpace, BoxCabin, Leak, Piston, modal_transfer, mode_count, zeroth_transfer

AIR = Air()
BOX = BoxCabin(2.4, 1.4, 1.1)
DOOR, EAR = (0.5, 0.0, 0.3), (1.3, 0.4, 0.9)
WALL = (0.0, 1.0, 0.0)

# f = (c/2) sqrt(sum (n/L)^2), c 343.2 m/s (Rayleigh, Theory of Sound, art. 267), worked by hand for 2.4 x 1.4 x 1.1 m.
TABLE = {
    (0, 0, 0): 0.0, (1, 0, 0): 71.5, (0, 1, 0): 122.5714, (1, 1, 0): 141.9014, (2, 0, 0): 143.0, (0, 0, 1): 156.0,
    (1, 0, 1): 171.6049, (2, 1, 0): 188.3421, (0, 1, 1): 198.3929, (1, 1, 1): 210.8839, (2, 0, 1): 211.6247,
    (3, 0, 0): 214.5, (2, 1, 1): 244.5583, (0, 2, 0): 245.1429,
}  # fmt: skip


def point(at: tuple[float, float, float]) -> Piston:
    return Piston(at, WALL)


def test_eigenfrequencies_of_the_table() -> None:
    f, n = BOX.eigenfrequencies(245.2, 343.2), BOX.orders(245.2, 343.2)
    assert [tuple(row) for row in n.tolist()] == list(TABLE)
    assert f == pytest.approx(list(TABLE.values()), abs=1e-3)
    assert f[0] == 0
    assert ((f > 0) & (f < 200)).sum() == 8
    assert pytest.approx(3.696) == BOX.volume


def test_shapes_are_orthogonal_with_mean_square_one() -> None:
    """By the midpoint rule, which is exact for cosines of fewer half waves than it has points."""
    grid = np.stack(np.meshgrid(*((np.arange(9) + 0.5) / 9 * side for side in BOX.sides)), axis=-1).reshape(-1, 3)
    shape = BOX.shapes(grid, 245.2, 343.2)
    assert shape.T @ shape / len(grid) == pytest.approx(np.eye(14), abs=1e-12)
    assert (shape[:, 0] == 1).all()


@pytest.mark.parametrize("box", [BOX, BoxCabin(1.45, 1.70, 1.25), BoxCabin(0.8, 1.3, 1.0)])
def test_number_of_modes_follows_weyl(box: BoxCabin) -> None:
    """Counted against volume and surface terms; the edges left out are L/(8 c) f + 1/8 (Kuttruff, Room Acoustics)."""
    for f in (600.0, 900.0, 1300.0):
        edges = 4 * sum(box.sides) * f / (8 * 343.2) + 1 / 8
        assert len(box.eigenfrequencies(f, 343.2)) - edges == pytest.approx(mode_count(box, f, 343.2), rel=0.05)


def test_low_limit_is_adiabatic_compression_of_the_volume() -> None:
    """p = rho c^2 dV/V (Beranek and Mellow, Acoustics, 2012): 133 cm2 moving 5 mm peak in 3 m3, 100.918 dB."""
    box, f = BoxCabin(2.0, 1.5, 1.0), np.array([0.02, 0.2, 5.0])
    flow = 2j * np.pi * f * 133e-4 * 5e-3
    peak = modal_transfer(f, box, [Piston((0.5, 0.0, 0.3), WALL, 0.065)], [EAR], loss=0.3)[:, 0, 0] * flow
    assert np.abs(peak[:2]) == pytest.approx(3.143819, rel=1e-5)
    assert np.angle(peak[0]) == pytest.approx(0, abs=1e-6)
    assert 20 * np.log10(np.abs(peak[0]) / np.sqrt(2) / 20e-6) == pytest.approx(100.91825, abs=1e-4)
    # Viscous damping written into the zeroth mode would be 4 dB down here.
    assert 20 * np.log10(np.abs(peak[2]) / 3.143819) == pytest.approx(0, abs=0.1)


def test_leak_at_its_two_limits() -> None:
    """Viscous: 12 mu l/(w h^3) = 135975 Pa s/m3 (Beranek and Mellow ch. 4); a wide one: Helmholtz, 81.18179 Hz.

    The second is V 20 L, 75 mm across, 100 mm long, (c/2 pi) sqrt(S/(V l)), no end correction.
    """
    leak = Leak(area=0.6 * 0.2e-3, gap=0.2e-3, length=3e-3)
    assert zeroth_transfer([1e-3], 10e-3, [leak])[0].real == pytest.approx(135975, rel=1e-3)  # mu 1.813e-5 here
    vent = Leak(area=np.pi * 0.0375**2, gap=0.07, length=0.1)
    f = np.arange(75.0, 85.0, 0.01)
    # The viscous layer, 0.24 mm thick, adds about 2 x 0.24/2/70 = 0.34 % of mass.
    peak = f[np.argmax(np.abs(zeroth_transfer(f, 20e-3, [vent])))]
    assert peak == pytest.approx(81.18179, rel=3e-3)
    assert peak < 81.18179


def test_leak_is_the_slit_of_the_network() -> None:
    f = np.geomspace(1, 200, 7)
    leak = Leak(area=30e-4, gap=2e-3, length=20e-3)
    assert leak.admittance(f, AIR) * slit(f, 20e-3, 1.5, 2e-3, AIR.density, AIR.viscosity) == pytest.approx(1)


def test_loss_factor_is_the_half_power_bandwidth() -> None:
    """eta = df/f0 at -3.0103 dB (ASTM E756), read off the first mode between two opposite corners."""
    eta, f = 0.01, np.arange(68.0, 75.0, 0.002)
    level = np.abs(modal_transfer(f, BOX, [point((0.0, 0.0, 0.0))], [BOX.sides], loss=eta)[:, 0, 0])
    above = f[level > level.max() / np.sqrt(2)]
    assert f[np.argmax(level)] == pytest.approx(71.5, abs=0.05)
    assert (above[-1] - above[0]) / 71.5 == pytest.approx(eta, rel=0.02)


def test_closed_tube_against_its_exact_solution() -> None:
    """Plane waves: p/Q = -j (rho'c'/S) cos(k'x) cos(k'(L - x'))/sin(k'L), x before x'.

    Structural damping is air of density rho/(1 + j eta) and unaltered stiffness, so c' = c sqrt(1 + j eta) and
    rho'c' = rho c/sqrt(1 + j eta) (closed form of the tube: Kinsler, Frey, Coppens, Sanders, ch. 10).
    """
    length, side, eta = 2.4, 1e-3, 0.12
    tube = BoxCabin(length, side, side)
    f = np.linspace(2, 400, 300)
    x, ear, q = 0.31, 1.7, np.sqrt(1 + 1j * eta)
    k = 2 * np.pi * f / (343.2 * q)
    exact = -1j * AIR.density * 343.2 / q / side**2 * np.cos(k * x) * np.cos(k * (length - ear)) / np.sin(k * length)
    errors = []
    for reach in (2.5, 10.0, 40.0):
        modal = modal_transfer(f, tube, [point((x, 0, 0))], [(ear, 0, 0)], eta, reach=reach)[:, 0, 0]
        errors.append(np.abs(modal / exact - 1).max())
    assert errors[0] < 0.1
    assert errors[2] < 2e-3
    assert errors[0] > 2 * errors[1] > 4 * errors[2]


def images(f: float, eta: float, at: tuple[float, ...], ear: tuple[float, ...], far: float) -> complex:
    """The same box as the sum of its mirror images in all six walls, out to where none is heard any more."""
    axes = []
    for x, side in zip(at, BOX.sides, strict=True):
        m = 2 * side * np.arange(-int(far / side), int(far / side) + 1)
        axes.append(np.concatenate([m + x, m - x]))
    grid = [a - e for a, e in zip(axes, ear, strict=True)]
    r = np.sqrt(grid[0][:, None, None] ** 2 + grid[1][:, None] ** 2 + grid[2] ** 2)
    jw, q = 2j * np.pi * f, np.sqrt(1 + 1j * eta)
    return complex((jw * AIR.density / q**2 * np.exp(-jw / (343.2 * q) * r) / (4 * np.pi * r)).sum())


@pytest.mark.parametrize("f", [71.5, 110.0, 200.0])
def test_box_against_its_mirror_images(f: float) -> None:
    """Allen and Berkley 1979 (JASA 65:943): exact for a box; it knows no modes, no residual, no zeroth mode.

    Air as in the tube above; at eta 0.5 a wave has lost 60 dB or more after 28 m at the lowest frequency.
    """
    exact = images(f, 0.5, (0.5, 0.3, 0.4), EAR, far=22.0)
    found = modal_transfer([f], BOX, [point((0.5, 0.3, 0.4))], [EAR], 0.5, reach=1700 / f)[0, 0, 0]
    assert abs(found / exact - 1) < 0.02
    assert abs(20 * np.log10(abs(found / exact))) < 0.15


def test_error_of_the_reach_used_is_known() -> None:
    """2.5 times, then springs: within 3 % of the typical pressure, in a demo-sized cabin up to its changeover."""
    box, f = BoxCabin(1.45, 1.70, 1.25), np.linspace(20, 320, 100)
    doors = [Piston((0.5, 0.06, 0.3), WALL, 0.065), Piston((0.5, 1.64, 0.3), (0, -1, 0), 0.065)]
    ears = [(0.95, 0.42, 0.95), (0.95, 1.28, 0.95)]
    exact = modal_transfer(f, box, doors, ears, reach=4.5)
    typical = np.sqrt((np.abs(exact) ** 2).mean(axis=0))
    errors = [(np.abs(modal_transfer(f, box, doors, ears, reach=r) - exact) / typical).max() for r in (1.2, 2.5, 5)]
    assert errors[1] < 0.03
    assert errors[0] > 2 * errors[1]


def test_mean_over_a_piston_against_the_bessel_form() -> None:
    """A plane wave's mean over a disc is 2 J1(u)/u, u = k a sin(angle); a mode is eight plane waves.

    Four of the eight are the other four backward.
    """
    from scipy.special import j1

    from backwave.sound.cabin import _over_pistons

    radius, at, axis, below = 0.16, (0.5, 0.4, 0.3), np.array([2.0, -1.0, 0.5]), 800.0
    mean = _over_pistons(BOX, [Piston(at, (2.0, -1.0, 0.5), radius)], below, 343.2)[0]
    k = np.pi * BOX.orders(below, 343.2) / np.array(BOX.sides)
    exact = np.zeros(len(k))
    for sign in np.array(np.meshgrid([1], [1, -1], [1, -1])).reshape(3, -1).T:
        wave = k * sign
        u = radius * np.linalg.norm(np.cross(wave, axis / np.linalg.norm(axis)), axis=1)
        exact += np.cos(wave @ at) * np.where(u > 0, 2 * j1(u) / np.where(u > 0, u, 1), 1) / 4
    exact *= np.sqrt(2.0 ** np.count_nonzero(k, axis=1))
    assert mean == pytest.approx(exact, abs=1e-5)


inside = st.tuples(*(st.floats(0, side) for side in BOX.sides))


@settings(max_examples=40, deadline=None)
@given(inside, inside, st.floats(0.02, 0.5))
def test_seat_and_opening_may_change_places(
    a: tuple[float, float, float], b: tuple[float, float, float], eta: float
) -> None:
    f = [3.0, 71.5, 160.0]
    there = modal_transfer(f, BOX, [point(a)], [b], eta, [Leak(3e-3, 2e-3, 20e-3)])
    back = modal_transfer(f, BOX, [point(b)], [a], eta, [Leak(3e-3, 2e-3, 20e-3)])
    assert there == pytest.approx(back, rel=1e-9, abs=1e-9 * float(np.abs(there).max()))


@settings(max_examples=40, deadline=None)
@given(inside, st.floats(0.02, 0.9), st.floats(5e-4, 1e-2), st.floats(1e-4, 1e-2))
def test_cabin_never_delivers_power(a: tuple[float, float, float], eta: float, gap: float, area: float) -> None:
    branches = [Leak(area, gap, 20e-3)]
    own = modal_transfer(np.geomspace(0.5, 200, 30), BOX, [point(a)], [a], eta, branches)
    assert (own.real > 0).all()


class Tube:
    """Another shape, told to `modal_transfer` by the interface alone: plane waves in a closed tube along x."""

    length, area = 2.4, 1e-4
    volume, surface = length * area, 4 * length * 1e-2 + 2 * area

    def contains(self, points: object) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        x = np.asarray(points, dtype=float)[:, 0]
        return np.asarray((x >= 0) & (x <= self.length))

    def _n(self, below_hz: float, speed: float) -> np.ndarray[tuple[int], np.dtype[np.int_]]:
        return np.arange(int(2 * below_hz * self.length / speed) + 1)

    def eigenfrequencies(self, below_hz: float, speed: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return speed * self._n(below_hz, speed) / 2 / self.length

    def shapes(
        self, points: object, below_hz: float, speed: float
    ) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
        n = self._n(below_hz, speed)
        x = np.asarray(points, dtype=float)[:, :1]
        return np.asarray(np.where(n, np.sqrt(2), 1) * np.cos(np.pi * n * x / self.length))


def test_another_shape_needs_no_more_than_the_interface() -> None:
    tube: AirSpace = Tube()
    f = np.linspace(5, 300, 40)
    one = modal_transfer(f, tube, [point((0.3, 0, 0))], [(1.7, 0, 0)], 0.1)
    other = modal_transfer(f, BoxCabin(2.4, 1e-2, 1e-2), [point((0.3, 0, 0))], [(1.7, 0, 0)], 0.1)
    assert one == pytest.approx(other, rel=1e-9)


def test_shape_of_the_answer_and_the_way_a_wall_faces() -> None:
    pistons = [point(DOOR), Piston((0.0, 0.3, 0.6), (1, 0, 0), 0.02), point((1.0, 1.4, 0.3))]
    assert modal_transfer([30.0, 60.0], BOX, pistons, [EAR, DOOR]).shape == (2, 2, 3)
    assert modal_transfer([], BOX, pistons, [EAR]).shape == (0, 1, 3)
    assert modal_transfer([30.0], BOX, [], [EAR]).shape == (1, 1, 0)
    assert BOX.inward((0.5, 0.06, 0.3)) == (0, 1, 0)
    assert BOX.inward((0.5, 1.35, 0.3)) == (0, -1, 0)
    assert BOX.inward((1.2, 0.7, 1.05)) == (0, 0, -1)


def test_what_cannot_be_answered_is_refused() -> None:
    with pytest.raises(InputError, match="position of the seat"):
        modal_transfer([50.0], BOX, [point(DOOR)], [(1.0, 1.5, 0.5)])
    with pytest.raises(InputError, match="position of the loudspeaker"):
        modal_transfer([50.0], BOX, [point((-0.1, 0, 0))], [EAR])
    with pytest.raises(InputError, match="loss factor"):
        modal_transfer([50.0], BOX, [point(DOOR)], [EAR], loss=0.0)
    for f in ([0.0], [-1.0], [np.nan]):
        with pytest.raises(InputError, match="frequencies"):
            modal_transfer(f, BOX, [point(DOOR)], [EAR])
    with pytest.raises(InputError, match="modes of the cabin"):
        modal_transfer([20e3], BOX, [point(DOOR)], [EAR])
    with pytest.raises(InputError, match="width"):
        BoxCabin(2.4, -1.4, 1.1)
    with pytest.raises(InputError, match="axis"):
        Piston(DOOR, (0.0, 0.0, 0.0))
    with pytest.raises(InputError, match="radius"):
        Piston(DOOR, WALL, -0.1)
    with pytest.raises(InputError, match="seats"):
        modal_transfer([50.0], BOX, [point(DOOR)], EAR)
