"""Which turn, thread and gasket to take together, where the usual ones leave a stop.

Every candidate is sized and judged as a whole, by all the checks there are.  The order between two: fewer stops, fewer
cautions, the better chance to keep the margins (to a hundredth), the more usual kinds, terminals nearer to where they
were asked for, less material.  Where stops are left, the better chance not to touch comes before the cautions.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import product

from backwave.assess.place_result import PlaceResult
from backwave.errors import InputError
from backwave.finding import VERDICTS, Check, Message
from backwave.fit.clocking import Clocking
from backwave.fit.types import GasketKind, PlaceChoice

TRIED = "fit.stand-in"  # a dummy that touched is no reason to turn the speaker until another dummy is wanted
# What no turn, thread, gasket or thickness changes.
_GIVEN = (
    TRIED, "fit.seat", "fit.mirrored", "fit.reach", "fit.coverage", "fit.fixing", "fit.play", "job.missing",
    "mount.flange", "mount.frame", "mount.held", "mount.lip", "mount.collar", "mount.spigot",
    "part.heat", "part.laser", "part.water", "part.bed", "part.print", "part.sheet",
)  # fmt: skip
# Stops that a thinner part may lift and no turn does.
_HEIGHT = (
    "fit.glass",
    "fit.behind",
    "fit.grille",
    "fit.flat",
    "fit.window",
    "fit.foam-ring",
    "fit.screw",
    "part.engagement",
    "part.head",
)
WINDOW = "fit.window"
SHORT = ("fit.glass", "fit.behind", "fit.grille", "fit.flat", "fit.hole")  # cautions that lack room
EASED = ("fit.flange", "fit.flat", "fit.foam-ring")  # cautions that are worth a few trials
MOST_TURNS = 8  # tried with each kind of thread and gasket
MOST_TRIALS = 24

Choose = Callable[[str, GasketKind, float | None], tuple[PlaceChoice, Message | None]]
Try = Callable[[PlaceChoice, Message | None], PlaceResult]


@dataclass(frozen=True)
class Free:
    """What the person left open; of each kind the usual first."""

    threads: tuple[str, ...]
    gaskets: tuple[GasketKind, ...]
    turn: bool


def stuck(result: PlaceResult) -> bool:
    """Whether something was found that another choice may lift."""
    return any(lifted_by_choice(check) or _eased(check) for check in result.checks)


def worth_changing(check: Check) -> bool:
    """Whether single changes of the part are tried for it, so that only those that help are offered."""
    if lifted_by_choice(check):
        return True
    if check.verdict == "ok" or check.waits or check.part == "inner":
        return False
    short = check.low is not None and check.limit is not None and check.low < check.limit
    return bool(check.tries) or (short and check.code in SHORT)


def _eased(check: Check) -> bool:
    """Whether another gasket or thread may make an ok of a caution."""
    return check.verdict == "caution" and check.code in EASED and check.part != "inner" and not check.waits


def score(result: PlaceResult) -> tuple[int, int, int, int]:
    """Stops, chance to touch where there are any, cautions, chance to miss a margin: the less the better."""
    verdicts, fit = [check.verdict for check in result.checks if check.code != TRIED], result.fit
    stops = verdicts.count("stop")
    touches, misses = (round(100.0 * (1.0 - (chance or 0.0))) for chance in (fit.chance_clear, fit.chance_margin))
    return stops, touches if stops else 0, verdicts.count("caution"), misses


def searched(first: PlaceResult, free: Free, choose: Choose, tried: Try) -> tuple[PlaceChoice, Message | None]:
    """The best choice of all that were tried; the first where none is better.

    First every kind of thread and gasket at the turn that suits it; while a stop is left, other turns too.
    """
    whole = [kind for kind in free.gaskets if kind.width_mm is None]
    narrow = [kind for kind in free.gaskets if kind.width_mm is not None]
    kinds = list(product(whole, free.threads))  # a groove is the greater change
    found: list[tuple[tuple[float, ...], PlaceResult]] = [(_rank(first, 0), first)]
    if score(first)[0] == 0:  # cautions alone are worth a few trials
        kinds = [pair for pair in kinds if pair[1] in free.threads[:2]]

    def take(pairs: Iterable[tuple[GasketKind, str]], number: int) -> None:
        for gasket, threads in pairs:
            try:
                result = tried(*choose(threads, gasket, None))
            except InputError:
                continue  # a part that cannot be, such as one thicker than any
            number += 1
            found.append((_rank(result, number), result))
        found.sort(key=lambda one: one[0])

    take(kinds[1:], 0)
    best = found[0][1]
    if any(check.code == "fit.flange" and check.verdict != "ok" for check in best.checks) or best.taken.grooved:
        take(((kind, best.taken.threads) for kind in narrow), 0)  # before a groove, a narrower strip
    if free.turn and any(
        check.verdict == "stop" and lifted_by_choice(check) and check.code not in _HEIGHT
        for check in found[0][1].checks
    ):
        trials = len(found)
        for rank, start in found[:]:
            for turn in _turns(start):
                if trials >= MOST_TRIALS or found[0][0][0] == 0:
                    break
                trials += 1
                result = tried(*choose(start.taken.threads, start.taken.gasket, turn))
                found.append((_rank(result, int(rank[4])), result))
                found.sort(key=lambda one: one[0])
    best = found[0][1]
    return best.taken, best.choice if best is first else _why(best, first)


def _why(best: PlaceResult, first: PlaceResult) -> Message:
    """What was taken instead of the usual, and what that would have left; then how the thickness was found."""
    taken, usual = best.taken, first.taken
    said = []
    if taken.threads != usual.threads:
        said.append("{threads} instead of {usual}")
    if taken.grooved != usual.grooved:
        said.append("the back gasket in a groove" if taken.grooved else "the back gasket flat")
    if taken.gasket.width_mm is not None:
        said.append("a back gasket {strip} wide")
    if taken.turn_deg is not None and usual.turn_deg is not None and abs(taken.turn_deg - usual.turn_deg) > 0.01:
        said.append("turned {turn}")
    lifted = [check for check in first.checks if lifted_by_choice(check) or _eased(check)]
    worst = max(lifted, key=lambda check: VERDICTS.index(check.verdict))
    left = re.sub(r"\{(\w+)", r"{\1_usual", worst.title.template)
    rest = best.choice or Message("")
    quantities: tuple[tuple[str, float | str, str], ...] = (
        ("threads", taken.threads, ""), ("usual", usual.threads, ""), ("turn", taken.turn_deg or 0.0, "deg"),
        ("strip", taken.gasket.width_mm or 0.0, "mm"),
        *((f"{name}_usual", value, unit) for name, value, unit in worst.title.quantities), *rest.quantities,
    )  # fmt: skip
    text = f"Taken: {', '.join(said)}. The usual would leave: {left}. {rest.template}"
    return Message(text.rstrip(), quantities)


def lifted_by_choice(check: Check) -> bool:
    """Whether another turn, thread, gasket or thickness may lift what was found."""
    if check.code in _GIVEN:
        return False
    if check.code == WINDOW:  # one that is closed stays closed, whatever is made; one that is missed may be met
        return check.verdict != "ok" and check.low is not None
    return check.verdict == "stop"


def _rank(result: PlaceResult, kind: int) -> tuple[float, ...]:
    clocking = result.clocking
    return (
        *score(result),
        kind,
        0.0 if clocking is None else _off_deg(clocking, clocking.angle_deg),
        result.spec.thickness_mm,
    )


def _turns(result: PlaceResult) -> Iterator[float]:
    """Other turns that keep the holes clear: ends and middles of the ranges, nearest to where the terminals belong."""
    clocking = result.clocking
    if clocking is None:
        return
    tops = [clocking.best_deg] if clocking.best_deg is not None else []
    for low, high in clocking.allowed_deg:
        inset = min(0.5, (high - low) / 4.0)
        tops += [low + inset, (low + high) / 2.0, high - inset, *(t for t in range(0, 360, 15) if low < t < high)]
    copies = {
        round((t + k * clocking.period_deg) % 360.0, 3) for t in tops for k in range(round(360.0 / clocking.period_deg))
    }
    ranked = sorted(copies, key=lambda turn: (_off_deg(clocking, turn), turn))
    yield from [turn for turn in ranked if abs(turn - result.turn_deg) > 0.01][:MOST_TURNS]


def _off_deg(clocking: Clocking, turn: float) -> float:
    """How far from where they were asked for the terminals are at a turn; without any, how far it is turned."""
    at = turn if clocking.terminals_deg is None else clocking.terminals_deg - clocking.angle_deg + turn
    toward = 0.0 if clocking.terminals_deg is None else clocking.toward_deg
    return abs((at - toward + 180.0) % 360.0 - 180.0)
