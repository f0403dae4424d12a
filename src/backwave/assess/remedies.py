"""Single changes of a part that lift what was found: each is written into a copy of its table and judged before it is said.

What does not help is not offered.  A change counts where it leaves fewer stops (or no closed window) and makes no new
one; what it leaves is said with it.  On a slow machine fewer are tried, so that nobody waits for them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from math import ceil
from time import thread_time

from backwave.assess.place_result import PlaceResult, Remedy
from backwave.errors import InputError
from backwave.finding import Check, Message, Verdict
from backwave.job.speaker import AdapterTable
from backwave.units import Quantity, parse

STEP_MM = 0.5  # of a recess that is proposed
MOST_RECESS_MM = 8.0  # deeper than a usual frame is high nothing is gained; common trade practice
MOST_PROVEN = 4
MOST_S = 1.0  # of work: no further change is tried then, and twice as much later none is proven
THIN_STRIPS = ("2 mm", "1 mm")

Change = tuple[str, str, Message]  # key of the part's table, what to write there, what that is in words
Try = Callable[[AdapterTable], PlaceResult]


def lifting(
    result: PlaceResult, adapter: AdapterTable, threads: Iterable[str], wanted: Iterable[Check], tried: Try, proven: Try
) -> PlaceResult:
    """The same place with the single changes that lift one of the findings that are wanted lifted.

    `tried` judges a changed part quickly, with all else as it was taken; what passes is written into the table as a
    person would and judged again from the beginning by `proven`.
    """
    wanted = tuple(wanted)
    if not wanted:
        return result
    before = {_name(check) for check in result.checks if check.verdict == "stop"}

    def helps(key: str, value: str, what: Message, after: PlaceResult) -> Remedy | None:
        now = {_name(check): check for check in after.checks}
        stops = {name for name, check in now.items() if check.verdict == "stop"}
        lifts = tuple(name for check in wanted if _better(check, now.get(name := _name(check))))
        return Remedy(key, value, what, lifts, _left(after, lifts), len(stops)) if lifts and stops <= before else None

    passed, began, cut = [], thread_time(), False
    for key, value, what in changes(result, adapter, threads):
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
        left = [check for check in wanted if _name(check) not in lifted]
        found += [none for check in left if (none := _none_helps(check, len(before))) is not None]
    return replace(result, remedies=tuple(found))


def _none_helps(check: Check, stops: int) -> Remedy | None:
    """What is left to do where no change of the part lowers or raises the driver far enough."""
    if check.code in ("fit.grille", "fit.glass", "fit.behind") and check.low is not None and check.limit is not None:
        need = check.limit - check.low
    elif check.code == "fit.window" and check.value is not None and check.high is not None and check.value > check.high:
        need = check.value - check.high
    else:
        return None
    do = "space the trim out by {need}, or take a speaker that stands {need} lower in front"
    if check.code in ("fit.glass", "fit.behind"):
        do = "take a speaker that is {need} shallower"
    tried = "No single change of the part is enough (turn, thickness, thread, gasket and recess were tried): "
    return Remedy("", "", Message(tried + do, (("need", need, "mm"),)), (_name(check),), None, stops)


def changes(result: PlaceResult, adapter: AdapterTable, threads: Iterable[str]) -> Iterator[Change]:
    """Single changes of the part's table that may help, the least first; what was left open was tried already."""
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
            yield (
                "foam.back",
                strip,
                Message("take a back gasket {back} thick (foam.back)", (("back", thin.to("mm"), "mm"),)),
            )
    high, deep = result.fit.window.high_mm if result.fit.window is not None else None, adapter.recess.to("mm")
    if high is not None and result.fit.seat_height_mm > high:
        recess = deep + ceil((result.fit.seat_height_mm - high) / STEP_MM) * STEP_MM
        if recess <= MOST_RECESS_MM:
            yield (
                "recess",
                f"{recess:g} mm",
                Message("sink the driver's seat {recess} deep (recess)", (("recess", recess, "mm"),)),
            )
    if deep > 0.0:
        yield "recess", "0 mm", Message("leave the driver's seat flat (recess)")
    if adapter.bore is not None:
        yield "bore", "", Message("leave the bore at the cutout and 1 mm (bore)")
    if adapter.notch is not None and isinstance(adapter.notch, Quantity):
        yield "notch", "terminals", Message("put the notch where the terminals end up (notch)")


def written(adapter: AdapterTable, key: str, value: str) -> AdapterTable:
    """The part's table with one change in it."""
    if key == "foam.grooved":
        return adapter.model_copy(update={"foam": adapter.foam.model_copy(update={"grooved": True, "closed": None})})
    if key == "foam.back":
        thin = {"back": parse(value, "length"), "closed": None}
        return adapter.model_copy(update={"foam": adapter.foam.model_copy(update=thin)})
    if key in ("recess", "thickness") and value != "auto":
        return adapter.model_copy(update={key: parse(value, "length")})
    if key == "turn" and value != "auto":
        return adapter.model_copy(update={key: parse(value, "angle")})
    return adapter.model_copy(update={key: value or None})


def _name(check: Check) -> str:
    return f"{check.code}.{check.part}" if check.part else check.code


def _better(before: Check, after: Check | None) -> bool:
    ranks: tuple[Verdict, ...] = ("ok", "caution", "stop")
    return after is None or ranks.index(after.verdict) < ranks.index(before.verdict)


def _left(after: PlaceResult, lifts: tuple[str, ...]) -> tuple[float, str] | None:
    """What is left of the first that it lifts: its value with the unit."""
    check = next((check for check in after.checks if _name(check) == lifts[0]), None)
    return None if check is None or check.value is None else (check.value, check.unit)
