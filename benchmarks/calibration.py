"""Does the stated chance come true?  Simulated shops, by seeds; what they came to stands in docs/calibration.md.

    OPENBLAS_NUM_THREADS=1 nice -n 10 python -m benchmarks.calibration 301 302 ... [--shops 2000] [--keep FILE]
    python -m benchmarks.calibration --of FILE ...

Each shop has a true door, a true driver and a true part, drawn at random, and readings of them with just the errors
that readings and tables state.  True, and seen by no reading: surfaces that are not straight between two readings, a
second side that was read once or not at all, bolts anywhere in their holes and a pattern that is off, a gasket that
is not closed to where it should be and a flange that it lifts, a print that is out.  Whether the driver truly clears
is worked out in this file by scanning true dimensions in small steps; nothing of backwave judges it.

The stated chance knows of the readings alone, so nothing else may be known about the truth: a shop is met if what it
READ lies in given ranges, and what is true is drawn evenly from ranges wider by more than any reading is out.
"""

from __future__ import annotations

import argparse
import itertools
import json
from collections.abc import Callable
from dataclasses import astuple, dataclass, replace
from functools import cache
from math import pi
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from backwave.fit import DepthReading, DriverShape, FrontHeights, Margins, Obstacle, Opening, Stack, judge
from backwave.fit.bolt_pattern import BoltedJoint, off_axis
from backwave.fit.coverage import between_readings
from backwave.fit.gasket import FlangeRing, back_gasket, flange_lift, gasket_plan
from backwave.stock import FoamRow, shipped
from backwave.uncertainty import Error, Reading, mean_reading
from benchmarks.reference_ring import lifts_mm

MARGINS = Margins()
EDGES = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0)
# What is read from and to, mm, and by how much at most a reading of it is out (five u of a normal error).
RANGES = {
    "depth": (60.0, 80.0, 0.5),
    "magnet": (30.0, 60.0, 0.5),
    "front": (2.0, 22.0, 0.5),
    "Xmech": (3.0, 23.0, 0.5),
    "gap": (-1.0, 9.0, 1.0),  # from the shoulder behind the rim to the edge of the hole
    "glass": (5.0, 30.0, 4.0),  # how far the middle of the back stands behind it, the seat on the metal
    "slope": (-20.0, 10.0, 3.5),  # by how much the glass is deeper 60 mm out
    "window": (-10.0, 20.0, 7.0),  # of seat heights that keep the margins to glass and grille, closed to open
}
Array = NDArray[np.float64]
DRAWS = 5_000  # fresh ones for each shop: half a point of noise in each stated chance, and none that they share


@dataclass(frozen=True)
class Shop:
    """What was promised and what came of it."""

    chance_clear: float  # as stated from the readings
    chance_margin: float
    clear: bool  # all truly clears
    margin: bool  # all truly keeps its margins
    kind: str = ""  # how its depths were read


class _Hand:
    """Somebody who reads true lengths with the errors they admit to."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng, self.gauge = rng, float(rng.uniform(-1.0, 1.0))

    def by_gauge(self, name: str, true: float) -> Reading:
        """The shop's one gauge: out by the same each time, up to 1 mm."""
        return Reading(name, true + self.gauge, (Error("gauge", "rectangular", 1.0),))

    def by_half_width(self, name: str, true: float, half: float) -> Reading:
        return Reading(name, true + float(self.rng.uniform(-half, half)), (Error(name, "rectangular", half),))

    def by_u(self, name: str, true: float, u: float) -> Reading:
        return Reading(name, true + float(self.rng.normal(0.0, u)), (Error(name, "normal", u),))

    def three_times(self, name: str, true: float, scatter: float) -> Reading:
        caliper = float(self.rng.uniform(-0.05, 0.05))
        read = true + caliper + self.rng.normal(0.0, scatter, 3)
        return mean_reading(name, read.tolist(), Error(f"{name} caliper", "rectangular", 0.05))


def _true(rng: np.random.Generator, what: str) -> float:
    low, high, out = RANGES[what]
    return float(rng.uniform(low - out, high + out))


def _kept(**pairs: tuple[float, float]) -> bool:
    """Whether what was read is in its range; each pair is (true, read)."""
    for what, (true, read) in pairs.items():
        assert abs(read - true) <= RANGES[what][2], f"{what} read {read} for {true}"
    return all(RANGES[what][0] <= read <= RANGES[what][1] for what, (_, read) in pairs.items())


def anywhere(rng: np.random.Generator, radius: float) -> Array:
    """A point in a circle: drawn in its square until it lies in it."""
    while True:
        point: Array = rng.uniform(-radius, radius, 2)
        if np.hypot(*point) <= radius:
            return point


def surface(r: Array, spots: Array, bulge: Array) -> Array:
    """Depth of a surface at radii: straight between its points but for a bow in each span, level beyond them."""
    depth = np.interp(r, spots[:, 0], spots[:, 1])
    for (r0, r1), bow in zip(itertools.pairwise(spots[:, 0]), bulge):
        t = np.clip((r - r0) / (r1 - r0), 0.0, 1.0)
        depth = depth + 4.0 * t * (1.0 - t) * bow
    return depth


def truly(
    seat: float, points: Array, spots: Array, bulge: Array, front: float, trim: float, hole: float, off: Array
) -> tuple[float, float, float]:
    """True room to the glass, to the grille and in the hole, mm, by scanning every 0.05 mm."""
    line = np.vstack([points, [0.0, points[-1, 1]]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    at = np.union1d(np.arange(0.0, along[-1], 0.05), along)
    r, d = np.interp(at, along, line[:, 0]), np.interp(at, along, line[:, 1])
    glass = float(np.min(seat + surface(np.abs(r + off[0]), spots, bulge) - d))
    around = np.linspace(0.0, 2.0 * pi, 721)
    widest = float(np.max(r[d >= seat], initial=0.0))
    rim = np.hypot(off[0] + widest * np.cos(around), off[1] + widest * np.sin(around))
    return glass, trim - seat - front, hole / 2.0 - float(rim.max())


STOCK = shipped()
FOAMS = [row for row in STOCK.rows("foam") if isinstance(row, FoamRow)]


@dataclass(frozen=True)
class _Flange:
    """A flange on its gasket: what it is built as."""

    fixings: int
    thick: float  # mm
    grade: str
    strip: float  # mm

    @property
    def held(self) -> tuple[float, ...]:
        return tuple(i * 360.0 / self.fixings for i in range(self.fixings))


@cache
def stated(flange: _Flange) -> tuple[float, float]:
    """Mean lift as backwave states it: middle and half-width, mm.  ASA in a door."""
    back = back_gasket(STOCK.foam(flange.grade), 3.0, plan=gasket_plan(pi * 91.0**2, 71.75, flange.strip))
    ring = FlangeRing(81.0, 20.0, flange.thick, flange.held)
    lift = flange_lift(ring, back, FOAMS, 1.9e9, 0.6e9, 70.0, "benchmark")
    assert lift is not None
    low, high = lift.mean_mm
    return (low + high) / 2.0, (high - low) / 2.0


def true_lift(rng: np.random.Generator, flange: _Flange) -> float:
    """Mean lift of a ring of straight elements, somewhere between cold and hot, its foam anywhere in its band."""
    band = {"2A0": (0.0, 13.7895), "2A1": (13.7895, 34.4738)}[flange.grade]  # ASTM D1056, kPa at a quarter
    e = 1900.0 * (600.0 / 1900.0) ** rng.random()
    foam = float(rng.uniform(*band)) * 1e-3 / 0.25
    return float(lifts_mm(81.0, 20.0, flange.thick, flange.held, e, foam, flange.strip, 3.0, 1.5, 24).mean())


def shop(rng: np.random.Generator, draws: int = DRAWS) -> Shop:
    """One simulated shop, with its own draws behind the stated chances."""
    while (met := _shop(rng, draws)) is None:
        pass
    return met


def _shop(rng: np.random.Generator, draws: int) -> Shop | None:
    """A shop, or None where what it read is outside the ranges."""
    hand = _Hand(rng)
    depth, magnet = _true(rng, "depth"), _true(rng, "magnet")
    points = np.array([[70.0, 0.0], [66.0, 12.0], [magnet, depth - 25.0], [magnet, depth]])
    ahead, slope = _true(rng, "glass"), _true(rng, "slope")
    spots = np.array([[0.0, depth - ahead], [60.0, depth - ahead + slope]])
    bulge = rng.uniform(-0.6, 0.6, 1)  # one hundredth of the span, either way
    front, xmech, gap, window = (_true(rng, what) for what in ("front", "Xmech", "gap", "window"))
    hole = 2.0 * (points[1, 0] + gap)
    straight = truly(0.0, points, spots, np.zeros(1), 0.0, 0.0, hole, np.zeros(2))
    trim = MARGINS.glass_mm - straight[0] + front + xmech + MARGINS.grille_mm + window

    # On the second side what was read is the first side's; this one differs, its glass by as much everywhere.
    side = rng.choice(["first", "glass read once here", "nothing read here"], p=[0.6, 0.25, 0.15])
    there, differs, clips, press = (
        spots.copy(),
        rng.uniform(-1.0, 1.0),
        rng.uniform(-0.5, 0.5),
        rng.uniform(-0.2, 0.2),
    )
    second = side != "first"
    if side == "nothing read here":
        there[:, 1] += differs
    read_trim, read_hole = trim + clips * second, hole + press * second
    ways: dict[str, Callable[[str, float], Reading]] = {
        "gauge": hand.by_gauge,
        "half-width": lambda n, t: hand.by_half_width(n, t, 1.0),
        "u": lambda n, t: hand.by_u(n, t, 0.5),
        "list of three": lambda n, t: hand.three_times(n, t, 0.4),
    }
    kind = "gauge" if side == "glass read once here" else str(rng.choice(list(ways)))

    def taken_over(reading: Reading, what: str, half: float, when: bool) -> Reading:
        other = Error(f"{what}: the other side", "rectangular", half)
        return replace(reading, errors=(*reading.errors, other)) if when else reading

    read = [
        DepthReading(
            Reading(f"spot {i}", float(r)),
            taken_over(ways[kind](f"glass {i}", float(c)), "behind", 1.0, side == "nothing read here"),
        )
        for i, (r, c) in enumerate(there)
    ]
    profile = tuple(
        (hand.by_half_width(f"radius {i}", float(r), 0.5), hand.by_half_width(f"depth {i}", float(d), 0.5))
        for i, (r, d) in enumerate(points)
    )
    opening = Opening(
        hole=taken_over(hand.by_half_width("hole", read_hole, 0.3), "hole", 0.2, second),
        behind=(Obstacle("glass", tuple(read), "down"),),
        trim_clear=taken_over(hand.by_gauge("trim", read_trim), "trim", 0.5, second),
    )
    driver = DriverShape(
        profile, FrontHeights(moving=hand.by_half_width("front", front, 0.5)), hand.by_half_width("Xmech", xmech, 0.5)
    )
    as_read = (
        np.array([[r.value, d.value] for r, d in profile]),
        np.array([[s.radius.value, s.clear.value] for s in read]),
    )
    assert opening.hole is not None
    assert opening.trim_clear is not None
    assert driver.front.moving is not None
    low = MARGINS.glass_mm - truly(0.0, *as_read, np.zeros(1), 0.0, 0.0, hole, np.zeros(2))[0]
    high = opening.trim_clear.value - driver.front.moving.value - driver.xmech.value - MARGINS.grille_mm
    middle, outer = as_read[1][:, 1]
    if not _kept(
        depth=(depth, as_read[0][3, 1]),
        magnet=(magnet, as_read[0][3, 0]),
        front=(front, driver.front.moving.value),
        Xmech=(xmech, driver.xmech.value),
        gap=(gap, opening.hole.value / 2.0 - as_read[0][1, 0]),
        glass=(ahead, as_read[0][3, 1] - middle),
        slope=(slope, outer - middle),
        window=(window, high - low),
    ):
        return None

    flange = _Flange(
        int(rng.choice([3, 4, 6])), float(rng.choice([9.0, 12.6, 16.0])), str(rng.choice(["2A0", "2A1"])),
        float(rng.choice([6.0, 8.0, 20.0])),
    )  # fmt: skip
    lift, lift_half = stated(flange)
    bolt, own = float(rng.uniform(0.2, 1.0)), float(rng.uniform(0.3, 1.5))  # holes less bolts, mm
    across, up = off_axis("shop", (BoltedJoint("part", bolt, 0.3, flange.fixings), BoltedJoint("driver", own)))
    opening = between_readings(opening)

    # Where the readings say that a margin or a clearance turns: there chances are neither 0 nor 1.
    turn = (low, low - MARGINS.glass_mm, high, high + MARGINS.grille_mm)[int(rng.integers(4))]
    aim = turn + float(rng.normal(0.0, 1.0))
    stack = Stack(
        Reading("thickness", aim - 1.5 - lift, (Error("printed", "rectangular", 0.1),)),
        gasket=Reading("gasket", 1.5, (Error("gasket", "rectangular", 0.3),)),
        lift=Reading("lift", lift, (Error("lift", "rectangular", lift_half),)),
        off_x=across,
        off_y=up,
    )
    fit = judge(opening, driver, stack, MARGINS, draws=draws, seed=int(rng.integers(1 << 40)))
    assert fit.chance_clear is not None
    assert fit.chance_margin is not None

    # What was made: print, gasket and flange are out, and the driver lies where its bolts let it.
    seat = aim + rng.uniform(-0.1, 0.1) + rng.uniform(-0.3, 0.3) + true_lift(rng, flange) - lift
    pattern = rng.uniform(-0.3, 0.3, (flange.fixings, 2)).mean(axis=0)
    off = anywhere(rng, bolt / 2.0) + anywhere(rng, own / 2.0) + pattern
    rooms = truly(float(seat), points, spots, bulge, front + xmech, trim, hole, off)
    return Shop(
        fit.chance_clear,
        fit.chance_margin,
        all(room > 0.0 for room in rooms),
        all(r >= m for r, m in zip(rooms, (MARGINS.glass_mm, MARGINS.grille_mm, MARGINS.hole_mm))),
        kind,
    )


def shops_of(seed: int, count: int, draws: int = DRAWS, first: int = 0) -> list[Shop]:
    """So many shops, each with a seed of its own."""
    return [shop(np.random.default_rng([seed, i]), draws) for i in range(first, first + count)]


def bins(said: Array, came: NDArray[np.bool_]) -> list[tuple[float, float, int, float, int, float]]:
    """Rows of (from, to, shops, expected, came true, how many standard deviations apart).

    Shops are independent, each with its own chance p: the count has mean sum(p), variance sum(p (1 - p)).
    """
    rows = []
    for low, high in itertools.pairwise(EDGES):
        held = (said >= low) & ((said < high) | (high == 1.0))
        p, count = said[held], int(came[held].sum())
        spread = float(np.sqrt(np.sum(p * (1.0 - p))))
        apart = (count - float(p.sum())) / max(spread, 0.5)  # half a shop where nearly all are certain
        rows.append((low, high, int(held.sum()), float(p.sum()), count, apart))
    return rows


def report(shops: list[Shop]) -> None:
    """The tables of docs/calibration.md."""
    for title, which in (("All clears", "clear"), ("All margins kept", "margin")):
        said = np.array([getattr(s, f"chance_{which}") for s in shops])
        came = np.array([getattr(s, which) for s in shops])
        print(f"\n## {title}\n")
        print("| stated chance | shops | expected | came true | apart |\n| --- | --- | --- | --- | --- |")
        for low, high, n, expected, count, apart in bins(said, came):
            print(f"| {low:.2f} to {high:.2f} | {n} | {expected:.1f} | {count} | {apart:+.1f} |")
        print("\n| 0.05 to 0.95 | shops | stated | came true | points apart |\n| --- | --- | --- | --- | --- |")
        for kind in ("", *sorted({s.kind for s in shops})):
            held = (said > 0.05) & (said < 0.95) & np.array([kind in ("", s.kind) for s in shops])
            p, q = said[held], came[held]
            if not len(p):
                continue
            sd = float(np.sqrt(np.sum(p * (1.0 - p)))) / max(len(p), 1)
            lean = f"{100 * float(q.mean() - p.mean()):+.2f} ± {100 * sd:.2f}"
            print(f"| {kind or 'all'} | {len(p)} | {100 * p.mean():.1f} % | {100 * q.mean():.1f} % | {lean} |")


def main() -> None:
    """Shops of the seeds given, and what they came to together."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("seeds", nargs="*", type=int, default=[1])
    parser.add_argument("--shops", type=int, default=2000, help="how many of each seed")
    parser.add_argument("--keep", type=Path, help="keep what they came to, after each hundred")
    parser.add_argument("--of", type=Path, nargs="+", help="report what was kept")
    told = parser.parse_args()
    shops: list[Shop] = []
    for kept in told.of or ():
        shops += [Shop(*row) for row in json.loads(kept.read_text(encoding="utf-8"))]
    for seed in () if told.of else told.seeds:
        for first in range(0, told.shops, 100):
            shops += shops_of(seed, min(100, told.shops - first), first=first)
            if told.keep:
                told.keep.write_text(json.dumps([astuple(s) for s in shops]), encoding="utf-8")
    print(f"{len(shops)} shops")
    report(shops)


if __name__ == "__main__":
    main()
