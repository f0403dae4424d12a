"""Does the stated chance come true?  A thousand simulated shops, printed as docs/calibration.md.

    python -m benchmarks.calibration > docs/calibration.md

Each shop has a true door and a true driver, drawn at random, and readings of them with just the errors that the
readings state: one gauge shared by several, explicit half-widths of their own, lists of three, data sheets.
Somebody makes an adapter from the readings; whether it truly clears is worked out from the true dimensions by
scanning in small steps, and does not use the code under judgment.
"""

from __future__ import annotations

import itertools
import sys
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backwave.fit import DepthReading, DriverShape, FrontHeights, Margins, Obstacle, Opening, Stack, judge
from backwave.uncertainty import Error, Reading, mean_reading

MARGINS = Margins()
EDGES = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0)
CHI_SQUARED_99 = 29.1  # 99 % point with 14 degrees of freedom: seven rows, twice


@dataclass(frozen=True)
class Shop:
    """What was promised and what came of it.

    Parameters
    ----------
    chance_clear, chance_margin : float, no unit
        As stated from the readings.
    clear, margin : bool, no unit
        Whether all truly clears, and truly keeps its margins.
    """

    chance_clear: float
    chance_margin: float
    clear: bool
    margin: bool


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


def truly(
    seat: float, points: NDArray[np.float64], spots: NDArray[np.float64], front: float, trim: float, hole: float
) -> tuple[float, float, float]:
    """True room to the glass, to the grille and in the hole, mm, by scanning every 0.02 mm."""
    line = np.vstack([points, [0.0, points[-1, 1]]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    at = np.union1d(np.arange(0.0, along[-1], 0.02), along)
    r, d = np.interp(at, along, line[:, 0]), np.interp(at, along, line[:, 1])
    glass = float(np.min(seat + np.interp(r, spots[:, 0], spots[:, 1]) - d))
    return glass, trim - seat - front, hole / 2.0 - float(np.max(r[d >= seat], initial=0.0))


def shop(rng: np.random.Generator, draws: int = 20_000) -> Shop:
    """One simulated shop.

    Parameters
    ----------
    rng : numpy Generator, no unit
        Where its luck comes from.
    draws : int, no unit
        How many draws stand behind the stated chances.
    """
    hand = _Hand(rng)
    depth = rng.uniform(60.0, 80.0)
    magnet = rng.uniform(30.0, 60.0)
    points = np.array([[70.0, 0.0], [66.0, 12.0], [magnet, depth - 25.0], [magnet, depth]])
    spots = np.array([[0.0, depth - rng.uniform(5.0, 30.0)], [60.0, 0.0]])
    spots[1, 1] = spots[0, 1] + rng.uniform(-20.0, 10.0)
    front, xmech = rng.uniform(2.0, 22.0), rng.uniform(3.0, 23.0)
    hole = 2.0 * (66.0 + rng.uniform(-1.0, 9.0))
    # A window truly from closed by 10 mm to open by 20.  Here as above the range is wide against every error: the
    # stated chance knows of the readings alone, so nothing else may be known about the truth.
    needed = MARGINS.glass_mm - truly(0.0, points, spots, 0.0, 0.0, hole)[0]
    trim = needed + front + xmech + MARGINS.grille_mm + rng.uniform(-10.0, 20.0)

    ways = [
        hand.by_gauge,
        lambda n, t: hand.by_half_width(n, t, 1.0),
        lambda n, t: hand.by_u(n, t, 0.5),
        lambda n, t: hand.three_times(n, t, 0.4),
    ]
    way = ways[int(rng.integers(len(ways)))]
    read = [
        DepthReading(Reading(f"spot {i}", float(r)), way(f"glass {i}", float(c))) for i, (r, c) in enumerate(spots)
    ]
    profile = tuple(
        (hand.by_half_width(f"radius {i}", float(r), 0.5), hand.by_half_width(f"depth {i}", float(d), 0.5))
        for i, (r, d) in enumerate(points)
    )
    opening = Opening(
        hole=hand.by_half_width("hole", hole, 0.3),
        behind=(Obstacle("glass", tuple(read), "down"),),
        trim_clear=hand.by_gauge("trim", trim),
    )
    driver = DriverShape(
        profile,
        FrontHeights(moving=hand.by_half_width("front", front, 0.5)),
        hand.by_half_width("Xmech", xmech, 0.5),
    )
    gasket = float(rng.uniform(0.0, 8.0))
    first = judge(opening, driver, Stack(Reading("thickness", 10.0)), MARGINS, draws=1000)
    assert first.window is not None
    low, high = first.window.bare_mm
    assert low is not None
    assert high is not None
    # Where the readings say that a margin or a clearance turns: there chances are neither 0 nor 1.
    turn = (low, low - MARGINS.glass_mm, high, high + MARGINS.grille_mm)[int(rng.integers(4))]
    aim = turn + float(rng.normal(0.0, 1.0))
    stack = Stack(Reading("thickness", aim - gasket), gasket=hand.by_half_width("gasket", gasket, 0.3))
    fit = judge(opening, driver, stack, MARGINS, draws=draws)
    assert fit.chance_clear is not None
    assert fit.chance_margin is not None
    rooms = truly(aim, points, spots, front + xmech, trim, hole)
    return Shop(
        fit.chance_clear,
        fit.chance_margin,
        all(room > 0.0 for room in rooms),
        all(r >= m for r, m in zip(rooms, (MARGINS.glass_mm, MARGINS.grille_mm, MARGINS.hole_mm))),
    )


def bins(
    stated: NDArray[np.float64], came: NDArray[np.bool_]
) -> list[tuple[float, float, int, float, int, float]]:
    """Rows of (from, to, shops, expected, came true, how many standard deviations apart), no unit.

    Shops are independent, each with its own chance p: the count has mean sum(p), variance sum(p (1 - p)).

    Parameters
    ----------
    stated : (n,) float, no unit
        Stated chances.
    came : (n,) bool, no unit
        What came true.
    """
    rows = []
    for low, high in itertools.pairwise(EDGES):
        held = (stated >= low) & ((stated < high) | (high == 1.0))
        p, count = stated[held], int(came[held].sum())
        spread = float(np.sqrt(np.sum(p * (1.0 - p))))
        apart = (count - float(p.sum())) / max(spread, 0.5)  # half a shop where nearly all are certain
        rows.append((low, high, int(held.sum()), float(p.sum()), count, apart))
    return rows


def main(count: int = 1000, seed: int = 1) -> None:
    """Print the table.

    Parameters
    ----------
    count : int, no unit
        How many shops.
    seed : int, no unit
        Start of the random numbers.
    """
    rng = np.random.default_rng(seed)
    shops = [shop(rng) for _ in range(count)]
    print("# Does the stated chance come true?\n")
    print(
        f"{count} simulated shops (`benchmarks/calibration.py`, seed {seed}): true doors and drivers, readings\n"
        "with the errors they state (a shared gauge, half-widths, standard uncertainties, lists of three, data\n"
        "sheets), an adapter made from the readings, and the truth scanned from the true dimensions by other\n"
        "code. `apart` is how far the count is from its expectation, in standard deviations of a sum of\n"
        "independent events. Lists of three are drawn as a normal that agrees with Student's distribution at\n"
        "95 %, a little too wide in the middle: chances between are stated slightly too near to one half."
    )
    total = 0.0
    for title, stated, came in (
        ("All clears", [s.chance_clear for s in shops], [s.clear for s in shops]),
        ("All margins kept", [s.chance_margin for s in shops], [s.margin for s in shops]),
    ):
        print(f"\n## {title}\n")
        print("| stated chance | shops | expected | came true | apart |\n| --- | --- | --- | --- | --- |")
        for low, high, n, expected, count_true, apart in bins(np.array(stated), np.array(came)):
            print(f"| {low:.2f} to {high:.2f} | {n} | {expected:.1f} | {count_true} | {apart:+.1f} |")
            total += apart**2
    print(
        f"\nSum of the squares of all 14: {total:.1f}; sound chances pass {CHI_SQUARED_99} once in a hundred runs."
    )


def several(seeds: list[int], count: int = 2000) -> None:
    """Print a row a seed, and all of them together: a lean that every run shares hides in each run's squares.

    Parameters
    ----------
    seeds : list of int, no unit
        Starts of the random numbers.
    count : int, no unit
        How many shops each.
    """
    print("| seed | squares of all 14 | clears: expected | came true | margins kept: expected | came true |")
    print("| --- | --- | --- | --- | --- | --- |")
    pooled = np.zeros((2, 3))  # expected, came true, variance; chances between 0.05 and 0.95
    for seed in seeds:
        rng = np.random.default_rng(seed)
        shops = [shop(rng) for _ in range(count)]
        total, cells = 0.0, []
        for row, which in enumerate(("clear", "margin")):
            stated = np.array([getattr(s, f"chance_{which}") for s in shops])
            came = np.array([getattr(s, which) for s in shops])
            total += sum(apart**2 for *_, apart in bins(stated, came))
            middle = (stated > 0.05) & (stated < 0.95)
            found = (stated[middle].sum(), came[middle].sum(), (stated * (1.0 - stated))[middle].sum())
            pooled[row] += found
            cells += [f"{found[0]:.1f}", f"{found[1]:.0f}"]
        print(f"| {seed} | {total:.1f} | {' | '.join(cells)} |", flush=True)
    apart = (pooled[:, 1] - pooled[:, 0]) / np.sqrt(pooled[:, 2])
    print(f"\nTogether: clears {apart[0]:+.1f}, margins kept {apart[1]:+.1f} standard deviations apart.")


if __name__ == "__main__":
    if sys.argv[1:]:
        several([int(seed) for seed in sys.argv[1:]])
    else:
        main()
