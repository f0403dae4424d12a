"""Before the vehicle is given back: what it draws asleep, and noise with the engine running.

The commonest comeback is a battery that is flat on Monday: an amplifier that stays on, or a control unit that the work
keeps awake.  Common trade practice; the vehicle maker's own limit comes first.
"""

from __future__ import annotations

from dataclasses import dataclass

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict

MAKER = "the vehicle maker's own limit comes first"
ASLEEP_A = 0.05  # the most that a vehicle draws asleep (common trade practice: 20 to 50 mA)
MORE_A = 0.01  # what the work may add to it (common trade practice)
ASLEEP_MIN = 20.0  # until the last control unit sleeps (common trade practice: 20 to 40 min)
_HOW = (
    "Meter in the negative lead before it is parted (bridge it, so that nothing wakes), doors and hood latched by hand, key away, "
    "wait 20 to 40 min, read; then pull the new main fuse and read again"
)


@dataclass(frozen=True)
class Sleep:
    """What was read; None is "nobody looked"."""

    before_a: float | None = None
    after_a: float | None = None
    waited_min: float | None = None
    latched: bool | None = None
    turn_on_off: bool | None = None  # the turn-on lead was dead with the ignition off


def _check(verdict: Verdict, words: str, remedy: str, part: str, key: str, *numbers: tuple[str, float | str, str], limit_a: float | None = None) -> Check:  # fmt: skip
    named = {name: value for name, value, _ in numbers}
    after = named.get("after")
    working = tuple(
        CalculationLine(symbol, words, value, "A", "reading")
        for symbol, words, value in (
            ("I0", "asleep before the work", named.get("before")),
            ("I1", "asleep after it", after),
        )
        if isinstance(value, float)
    )
    return Check(
        "power.sleep", verdict, Message(words, numbers), after if isinstance(after, float) else None, limit_a, "A" if limit_a is not None else "",
        remedy=Message(remedy, numbers) if remedy else None, working=working, sources=(PRACTICE, MAKER), key=f"hand_over.{key}", part=part,
    )  # fmt: skip


def sleep_checks(read: Sleep) -> tuple[Check, ...]:
    """Whether the vehicle sleeps as it did before, and whether the reading can be believed."""
    found = [_lead(read.turn_on_off)]
    if read.after_a is None:
        return (*found, _check("caution", "Nobody has measured what the vehicle draws asleep after the work", _HOW, "", "asleep_after"))  # fmt: skip
    awake = [
        words
        for wrong, words in (
            (read.waited_min is None or read.waited_min < ASLEEP_MIN, "left alone for 20 to 40 min"),
            (read.latched is not True, "latched, doors and hood, with the key away"),
        )
        if wrong
    ]
    numbers: tuple[tuple[str, float | str, str], ...] = (("after", read.after_a, "A"), ("most", ASLEEP_A, "A"))
    if read.before_a is not None:
        numbers += (("before", read.before_a, "A"), ("more", read.after_a - read.before_a, "A"))
    if awake:
        said = "The vehicle drew {after}, and nobody has said that it was " + " and ".join(awake)
        return (*found, _check("caution", said, _HOW, "", "waited", *numbers))
    pull = "Pull the new main fuse while it sleeps: if the current falls, look for the amplifier that stays on (turn-on lead, signal sensing); if not, for a control unit that is kept awake"
    if read.before_a is not None and read.after_a > read.before_a + MORE_A:
        return (*found, _check("caution", "Asleep the vehicle draws {more} more than before the work: {after}", pull, "", "asleep_after", *numbers, limit_a=read.before_a + MORE_A))  # fmt: skip
    if read.after_a > ASLEEP_A:
        return (*found, _check("caution", "Asleep the vehicle draws {after}; up to {most} is usual", pull, "", "asleep_after", *numbers, limit_a=ASLEEP_A))  # fmt: skip
    if read.before_a is None:
        said = "Asleep the vehicle draws {after}; nobody measured it before the work"
        return (*found, _check("caution", said, "Read it again with the new main fuse pulled, and compare", "", "asleep_before", *numbers))  # fmt: skip
    return (*found, _check("ok", "Asleep the vehicle draws {after}, {before} before the work", "", "", "asleep_after", *numbers, limit_a=ASLEEP_A))  # fmt: skip


def _lead(off: bool | None) -> Check:
    if off:
        return _check("ok", "The turn-on lead is dead with the ignition off", "", "turn-on", "turn_on_off")
    said = "The turn-on lead stays live with the ignition off" if off is False else "Nobody has said that the turn-on lead is dead with the ignition off"  # fmt: skip
    do = "Find a switched output of the maker's, fused; or an amplifier that senses the signal and goes off again"
    return _check("caution", said, do if off is False else "Measure it: ignition off, key away, doors latched", "turn-on", "turn_on_off")  # fmt: skip


def whine_check(heard: bool | None) -> Check:
    """Noise with the engine running."""
    verdict: Verdict = "ok" if heard is False else "caution"
    said, do = "Nobody has listened with the engine running", (
        "Engine at 2000 rpm, volume low, lamps, fan and rear window heating on: listen for a whine that follows the engine"
    )  # fmt: skip
    if heard:
        said = "A whine or hum is heard with the engine running"
        do = (
            "With the signal leads off at the amplifier: still there, its supply or ground is it (one ground point, bare metal); gone, the "
            "signal's way is (both ends grounded: a line transformer or a differential input; signal away from power; gain lower)"
        )
    elif heard is False:
        said, do = "No whine with the engine running", ""
    remedy = Message(do) if do else None
    return Check("power.whine", verdict, Message(said), remedy=remedy, sources=(PRACTICE,), key="hand_over.whine")
