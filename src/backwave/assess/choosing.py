"""Which turn, thread and gasket to take together where the usual ones leave a stop, and which single changes lift one.

Every candidate is sized and judged as a whole, by all the checks there are.  The order between two: fewer stops, less
room lacking in all (in quarters of a margin), fewer cautions, the better chance to keep the margins (to a hundredth), the
more usual kinds, terminals nearer to where they were asked for, less material.

A single change is written into a copy of its part's table and judged before it is said; what does not help is not offered.
It counts where it leaves fewer stops (or no closed window) and makes no new one; what it leaves is said with it.  On a slow
machine fewer are tried, so that nobody waits for them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import product
from math import ceil
from time import thread_time
from tomllib import loads

from backwave.assess.place_result import ALLOWED, PlaceResult, Remedy
from backwave.errors import InputError
from backwave.finding import ROOM, VERDICTS, Check, Message, Verdict
from backwave.fit.clocking import Clocking
from backwave.fit.types import GasketKind, PlaceChoice
from backwave.fit.window import asked_instead
from backwave.job.speaker import AdapterTable, CollarTable
from backwave.units import Quantity, parse

TRIED = "fit.stand-in"  # a dummy that touched is no reason to turn the speaker until another dummy is wanted
# What no turn, thread, gasket or thickness changes.
_GIVEN = (
    TRIED, "fit.seat", "fit.mirrored", "fit.reach", "fit.coverage", "fit.fixing", "fit.play", "job.missing",
    "mount.flange", "mount.frame", "mount.held", "mount.lip", "mount.collar", "mount.spigot",
    "part.heat", "part.laser", "part.water", "part.bed", "part.print", "part.sheet",
)  # fmt: skip
# Stops that a thinner part may lift and no turn does.
_HEIGHT = (
    "fit.glass", "fit.behind", "fit.grille", "fit.flat", "fit.window", "fit.foam-ring", "fit.screw", "part.engagement",
    "part.head",
)  # fmt: skip
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
    if check.verdict == "ok" or check.waits or check.part == "inner" or check.key.endswith(".Sd"):
        return False  # a question first
    short = check.low is not None and check.limit is not None and check.low < check.limit
    return bool(check.tries) or (short and check.code in SHORT)


def _eased(check: Check) -> bool:
    """Whether another gasket or thread may make an ok of a caution."""
    return check.verdict == "caution" and check.code in EASED and check.part != "inner" and not check.waits


def score(result: PlaceResult) -> tuple[int, int, int, int]:
    """Stops, quarters of a margin that are lacking, cautions, chance to miss a margin: the less the better."""
    checks = [check for check in result.checks if check.code != TRIED]
    verdicts, lacks = [check.verdict for check in checks], sum(map(_lack, checks))
    misses = round(100.0 * (1.0 - (result.fit.chance_margin or 0.0)))
    return verdicts.count("stop"), round(4.0 * lacks), verdicts.count("caution"), misses


def _lack(check: Check) -> float:
    """What is lacking of a room at the best estimate, in margins: a hit that may be none is still worse than a scrape."""
    if check.value is None or check.limit is None or check.unit != "mm" or check.code == "fit.assumed":
        return 0.0
    counts = check.verdict != "ok" and check.part != "inner" and check.code.startswith(ROOM)  # inner: a question
    return max(check.limit - check.value, 0.0) / max(check.limit, 1.0) if counts else 0.0


def searched(first: PlaceResult, free: Free, choose: Choose, tried: Try) -> tuple[PlaceChoice, Message | None]:
    """The best choice of all that were tried; the first where none is better. First every kind of thread and gasket at
    the turn that suits it; while a stop is left, other turns too."""
    whole = [kind for kind in free.gaskets if kind.width_mm is None and kind.grade is None]
    narrow = [kind for kind in free.gaskets if kind.width_mm is not None]
    firmer = [kind for kind in free.gaskets if kind.grade is not None]
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
    if found[0][0][0]:  # while a stop is left
        take(((kind, found[0][1].taken.threads) for kind in firmer), len(found))
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
    if taken.gasket.grade is not None:
        said.append("a back gasket of grade {grade}")
    if taken.turn_deg is not None and usual.turn_deg is not None and abs(taken.turn_deg - usual.turn_deg) > 0.01:
        said.append("turned {turn}")
    lifted = [check for check in first.checks if lifted_by_choice(check) or _eased(check)]
    worst = max(lifted, key=lambda check: VERDICTS.index(check.verdict))
    left = re.sub(r"\{(\w+)", r"{\1_usual", worst.title.template)
    rest = best.choice or Message("")
    quantities: tuple[tuple[str, float | str, str], ...] = (
        ("threads", taken.threads, ""), ("usual", usual.threads, ""), ("turn", taken.turn_deg or 0.0, "deg"),
        ("strip", taken.gasket.width_mm or 0.0, "mm"), ("grade", taken.gasket.grade or "", ""),
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


STEP_MM = 0.5  # of a recess that is proposed
MOST_RECESS_MM = 8.0  # deeper than a usual frame is high nothing is gained; common trade practice
MOST_PROVEN = 4
MOST_S = 1.0  # of work: no further change is tried then, and twice as much later none is proven
THIN_STRIPS = ("2 mm", "1 mm")

_WORDS = {  # what a change is in words, by the key of the part's table
    "bore": "make the bore {value} wide (bore)",
    "relief": "make the chamfer behind the cone {value} (relief)",
    "thickness": "make the part {value} thick (thickness)",
    "turn": "turn the driver to {value} (turn)",
    "collar": "stand the ring on a collar of the part, collar = {value}",
    "notch": "cut a notch where the terminals end up (notch)",
    "foam.grade": "take foam {value} for the ring (foam.grade)",
    "foam.ring": "take the ring's height {value} (foam.ring)",
    "foam.width": "take the ring's width {value} (foam.width)",
    "foam.back_width": "take a back gasket {value} wide (foam.back_width)",
    "foam.back_grade": "take back gasket of grade {value} (foam.back_grade)",
    "foam.grooved": "lay the back gasket in a groove (foam.grooved)",
}
_NO_RING = Message(
    "No change of ring, grade, collar or height that was tried is right for all else: leave the ring out (ring = none) and "
    "close the gap with soft foam on the trim itself"
)
_SAID = {"": "as it follows from the rest", "auto": "that suits it (auto)"}
Change = tuple[str, str, Message]  # key of the part's table, what to write there, what that is in words
Judge = Callable[[AdapterTable], PlaceResult]


def lifting(
    result: PlaceResult, adapter: AdapterTable, threads: Iterable[str], wanted: Iterable[Check], tried: Judge,
    proven: Judge,
) -> PlaceResult:  # fmt: skip
    """The same place with the single changes that lift one of the findings that are wanted lifted. `tried` judges a
    changed part quickly, with all else as it was taken; what passes is written into the table as a person would and
    judged again from the beginning by `proven`."""
    wanted = tuple(wanted)
    if not wanted:
        return result
    before = {check.name for check in result.checks if check.verdict == "stop"}

    def helps(key: str, value: str, what: Message, after: PlaceResult) -> Remedy | None:
        now = {check.name: check for check in after.checks}
        stops = {name for name, check in now.items() if check.verdict == "stop"}
        lifts = tuple(check.name for check in wanted if _better(check, now.get(check.name)))
        if not lifts or not stops <= before:
            return None
        left = tuple(
            (one.limit if one.unit in ALLOWED else one.value, one.unit, one.verdict != "ok")
            if (one := now.get(name))
            else None
            for name in lifts
        )
        return Remedy(key, value, what, lifts, left, len(stops))

    passed, began, cut = [], thread_time(), False
    for key, value, what in changes(result, adapter, threads, wanted):
        if cut := thread_time() - began > MOST_S:
            break
        try:
            after = tried(written(adapter, key, value))
        except InputError:
            continue  # a part that cannot be, such as one thicker than any
        if value == "auto":  # said as the number that it comes to
            unit, number = ("mm", after.spec.thickness_mm) if key == "thickness" else ("deg", round(after.turn_deg, 1))
            value, what = f"{number:g} {unit}", replace(what, quantities=((key, number, unit),))
        if (one := helps(key, value, what, after)) is not None:
            passed.append(one)
    passed.sort(key=lambda one: (one.stops_left, -len(one.lifts)))
    found = []
    for one in passed[:MOST_PROVEN]:
        if thread_time() - began > 2.0 * MOST_S:
            break
        sure = helps(one.key, one.value, one.what, proven(written(adapter, one.key, one.value)))
        found += [] if sure is None else [sure]
    found.sort(key=lambda one: (one.stops_left, -len(one.lifts)))
    lifted = {name for one in found for name in one.lifts}
    if not cut:
        left = [check for check in wanted if check.name not in lifted]
        found += [none for check in left if (none := _none_helps(check, len(before))) is not None]
    return replace(result, remedies=tuple(found))


def _none_helps(check: Check, stops: int) -> Remedy | None:
    """What is left to do where no change of the part lowers or raises the driver far enough."""
    if check.code == "fit.foam-ring":
        return Remedy("", "", _NO_RING, (check.name,), (), stops) if check.tries else None
    if check.code in SHORT and check.low is not None and check.limit is not None:
        need = check.limit - check.low
    elif check.code == "fit.window" and check.value is not None and check.high is not None and check.value > check.high:
        need = check.value - check.high
    else:
        return None
    do = "space the trim out by {need}, or take a speaker that stands {need} lower in front"
    if check.code in ("fit.glass", "fit.behind"):
        do = "take a speaker that is {need} shallower"
    elif check.code == "fit.hole":
        do = "take a speaker that is narrower by {need} where it passes the metal"
    do = asked_instead(check.code, need) or do
    tried = "No single change of the part is enough (turn, thickness, thread, gasket and recess were tried): "
    return Remedy("", "", Message(tried + do, (("need", need, "mm"),)), (check.name,), (), stops)


def changes(
    result: PlaceResult, adapter: AdapterTable, threads: Iterable[str], wanted: Iterable[Check] = ()
) -> Iterator[Change]:
    """Single changes of the part's table that may help, the least first; what was left open was tried already."""
    for key, value in dict.fromkeys(one for check in wanted for one in check.tries):
        if key == "rise":
            height = result.spec.thickness_mm + float(value)
            if height <= 0.0:
                continue
            key, value = "thickness", f"{height:g} mm"
        if value != _told(adapter, key):
            unit = "mm" if value.endswith(" mm") else ""
            number = float(value[:-3]) if unit else _SAID.get(value, value)
            word = _WORDS[key] if value or key != "notch" else "leave the notch out (notch)"
            yield key, value, Message(word, (("value", number, unit),))
    if adapter.turn != "auto":
        yield "turn", "auto", Message("turn the driver to {turn}")
    if adapter.thickness != "auto":
        yield "thickness", "auto", Message("make the part {thickness} thick")
    foam = adapter.foam
    if adapter.threads != "auto":
        for kind in threads:
            if kind != adapter.threads:
                yield "threads", kind, Message('use "{threads}" (threads)', (("threads", kind, ""),))
    if not result.taken.grooved and foam.back.value > 0.0 and adapter.process == "print":
        yield "foam.grooved", "true", Message("lay the back gasket in a groove (foam.grooved)")
    for strip in THIN_STRIPS:
        thin = parse(strip, "length")
        if not result.taken.grooved and thin.to("mm") < foam.back.to("mm"):
            said = Message("take a back gasket {back} thick (foam.back)", (("back", thin.to("mm"), "mm"),))
            yield "foam.back", strip, said
    high, deep = result.fit.window.high_mm if result.fit.window is not None else None, adapter.recess.to("mm")
    if high is not None and result.fit.seat_height_mm > high:
        recess = deep + ceil((result.fit.seat_height_mm - high) / STEP_MM) * STEP_MM
        if recess <= MOST_RECESS_MM:
            said = Message("sink the driver's seat {recess} deep (recess)", (("recess", recess, "mm"),))
            yield "recess", f"{recess:g} mm", said
    if deep > 0.0:
        yield "recess", "0 mm", Message("leave the driver's seat flat (recess)")
    if adapter.bore is not None:
        yield "bore", "", Message("leave the bore at the cutout and 1 mm (bore)")
    if adapter.notch is not None and isinstance(adapter.notch, Quantity):
        yield "notch", "terminals", Message("put the notch where the terminals end up (notch)")


def written(adapter: AdapterTable, key: str, value: str) -> AdapterTable:
    """The part's table with one change in it."""
    table, _, field = key.partition(".")
    if table == "foam" and field in ("grade", "back_grade"):
        return adapter.model_copy(update={"foam": adapter.foam.model_copy(update={field: value})})
    if table == "foam" and field in ("ring", "width", "back_width"):
        new = parse(value, "length") if value not in ("", "auto") else value or None
        return adapter.model_copy(update={"foam": adapter.foam.model_copy(update={field: new})})
    if key == "collar":
        return adapter.model_copy(update={key: CollarTable.model_validate(loads(f"x = {value}")["x"])})
    if key == "foam.grooved":
        return adapter.model_copy(update={"foam": adapter.foam.model_copy(update={"grooved": True, "closed": None})})
    if key == "foam.back":
        thin = {"back": parse(value, "length"), "closed": None}
        return adapter.model_copy(update={"foam": adapter.foam.model_copy(update=thin)})
    if key in ("recess", "relief", "thickness", "bore") and value not in ("", "auto"):
        return adapter.model_copy(update={key: parse(value, "length")})
    if key == "turn" and value != "auto":
        return adapter.model_copy(update={key: parse(value, "angle")})
    return adapter.model_copy(update={key: value or None})


def _told(adapter: AdapterTable, key: str) -> str:
    """What stands there now, as it would be written."""
    held = adapter.foam if key.startswith("foam.") else adapter
    now = getattr(held, key.removeprefix("foam."))
    return f"{now.to('mm'):g} mm" if isinstance(now, Quantity) and key not in ("turn", "notch") else str(now)


def _better(before: Check, after: Check | None) -> bool:
    ranks: tuple[Verdict, ...] = ("ok", "caution", "stop")
    return after is None or ranks.index(after.verdict) < ranks.index(before.verdict)
