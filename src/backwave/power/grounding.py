"""Ground, noise, and the cautions that go with the supply.  Common trade practice; the vehicle maker comes first."""

from __future__ import annotations

from typing import Literal

from backwave.finding import PRACTICE, CalculationLine, Check, Message
from backwave.power.inputs import Supply

GROUND_M = 0.5  # longest ground lead to the body (common trade practice)
_BOLTS = "Never on a seat-belt, airbag or brake bolt. Ground first and signal leads last; in reverse when taken out."
MAKER = "vehicle maker's service information, local codes and licensed practice come first"


def ground_check(
    ground_m: float,
    ground_mm2: float,
    feed_mm2: float,
    body: Literal["steel", "aluminum", "plastic"] = "steel",
    battery_sensor: bool | None = None,
    ends_short: bool = False,
) -> Check:
    """The ground lead of one device.

    `battery_sensor`: on the battery's negative post, None where nobody looked; `ends_short`: it is shorter than the way
    back, where the body is no ground.
    """
    faults = []
    thin = ground_mm2 < 0.99 * feed_mm2
    if ends_short:
        faults.append("as long as the feed: a plastic body is no ground, it runs back to the maker's ground point")
    if ground_m > GROUND_M and body != "plastic":
        faults.append("shorter")
    if thin:
        faults.append("as thick as the feed")
    if body == "aluminum":
        faults.append("on the maker's own ground studs: steel bolted to aluminum corrodes")
    sensor = "" if battery_sensor is False else " On the body's side of a battery sensor, never on the post."
    where = "; back to the maker's ground point." if body == "plastic" else "; bare metal, toothed washer, sealed over."
    by_size = thin and ground_m <= GROUND_M
    return Check(
        "power.ground",
        "caution" if faults else "ok",
        Message(
            "Ground lead {l}, {g} against {f} of the feed" + where + sensor + " " + _BOLTS,
            (("l", ground_m, "m"), ("g", ground_mm2, "size"), ("f", feed_mm2, "size")),
        ),
        ground_mm2 if by_size else ground_m,
        feed_mm2 if by_size else GROUND_M,
        "mm2" if by_size else "m",
        remedy=Message("It should be: " + "; ".join(faults)) if faults else None,
        working=(CalculationLine("G", "longest ground lead to a body", GROUND_M, "m", PRACTICE),),
        sources=(PRACTICE, MAKER),
        key="ground",
    )


def noise_check(
    grounds: int | None = None, apart: bool | None = None, turn_on: Literal["lead", "signal", ""] = "lead"
) -> Check:
    """What keeps whine and pops out.

    `grounds`: points at which the devices are grounded; `apart`: signal and power on different sides; None where nobody
    said; `turn_on`: a lead from the head unit, sensing of the signal, or nothing.
    """
    faults = []
    if grounds is None or grounds > 1:
        faults.append(
            "one ground point for all devices that share a signal: two make a loop that whines with the engine"
        )
    if not apart:
        faults.append("signal on one side of the vehicle, power on the other; where they must cross, at a right angle")
    if turn_on == "":
        faults.append("a turn-on lead, fused small: without it the amplifier stays on and empties the battery")
    if turn_on == "signal":
        faults.append(
            "a look that sensing the signal turns it off again: chimes and the phone come over the same wires"
        )
    known = not (grounds is None or apart is None)
    return Check(
        "power.noise",
        "caution" if faults else "ok",
        Message(
            ("Against noise it still needs: " if known else "Against noise, see to: ") + "; ".join(faults)
            if faults
            else "One ground point, signal and power apart, a turn-on lead"
        ),
        remedy=Message("As said, before the trim goes back on") if faults else None,
        sources=(PRACTICE,),
    )


def cautions(supply: Supply) -> tuple[Check, ...]:
    """What can hurt when the supply is worked on."""
    lithium = supply.battery == "lithium"
    battery = (
        "A lithium starter battery gives thousands of amperes into a short: fuse at its post that breaks them, its own charger only"
        if lithium
        else "A lead-acid battery gives off hydrogen while charged: no sparks near it, negative off first and on last"
    )
    found = [
        ("safe.battery", battery, "Negative off, wait as long as the maker says, insulate the lead; radio code and window stops noted before"),
        ("safe.airbag", "Yellow connectors are airbags and belt tensioners; a meter on one can fire it", "Ignition off, battery off, waiting time done; never measure there"),
        ("safe.tapping", "A screw into a floor finds tanks, lines and looms", "Look at the other side first; use the vehicle's own ground studs, never a seat-belt, airbag or brake bolt; paint bare edges"),
    ]  # fmt: skip
    if supply.source == "converter":
        found.append(
            (
                "safe.high-voltage",
                "Orange cable is high voltage and not ours to touch; 12 V comes from a converter with a limit of its own",
                "Keep away from orange; ask the maker how much the converter spares",
            )
        )
    else:
        found.append(
            (
                "safe.high-voltage",
                "Orange cable, where the vehicle has any, is high voltage and not ours to touch",
                "Route well clear of it",
            )
        )
    return tuple(
        Check(code, "caution", Message(said), remedy=Message(do), sources=(PRACTICE, MAKER)) for code, said, do in found
    )
