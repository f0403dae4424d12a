"""What a person confirms, for each pair of factory wires, before a meter or a cell touches it.

An igniter of an airbag or belt tensioner reads about 2 ohm, exactly like a speaker, and a meter's own current can fire
it.  The job file, the room and every face hold to this one list.  Common trade practice; the vehicle maker's service
information comes first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from backwave.errors import InputError
from backwave.notation.leave_alone import color_of_theirs, names_theirs
from backwave.notation.wire_color import WireColor

__all__ = ["CELL_RATED_V", "CELL_V", "PAIR_GATE", "POP_S", "not_confirmed", "refuse_unsafe"]

PAIR_GATE: dict[str, str] = {
    "traced": "Traced by eye, all the way, to the speaker's own unplugged plug",
    "not_yellow": "Neither the wires, nor their sleeve, nor the connector are yellow",
    "not_airbag": "It is no connector of an airbag, belt tensioner, seat or side-impact sensor",
    "battery_off": "The battery is disconnected and the waiting time of the vehicle's maker is over",
    "unplugged": "Head unit and amplifier are unplugged from this pair",
}
"""Key in the job file, and what is confirmed."""
CELL_RATED_V = 1.5
"""A single dry cell, where nobody said which."""
CELL_V, POP_S = 1.6, 0.5
"""Most of a fresh 1.5 V cell, and how long it may stay on (common trade practice)."""


def not_confirmed(ticked: Mapping[str, object]) -> tuple[str, ...]:
    """Keys of `PAIR_GATE` that nobody confirmed.

    Parameters
    ----------
    ticked : mapping of str to object, no unit
        What was confirmed; only True counts.
    """
    return tuple(key for key in PAIR_GATE if ticked.get(key) is not True)


def refuse_unsafe(
    pair: str,
    ticked: Mapping[str, object],
    colors: Sequence[WireColor] = (),
    kind: str = "unknown",
    capacitor: bool | None = None,
    cell_v: float | None = None,
    cell_s: float = POP_S,
) -> None:
    """Refuse a reading that must not have been taken; call it only where there is a reading.

    Parameters
    ----------
    pair : str, no unit
        Its name.
    ticked : mapping of str to object, no unit
        What was confirmed for this very pair.
    colors : sequence of WireColor, no unit
        Of its wires.
    kind : str, no unit
        "woofer", "tweeter" or "unknown": the speaker at whose plug it ends.
    capacitor : bool or None, no unit
        A capacitor in line was seen.
    cell_v, cell_s : float or None and float, V and s
        The cell, and how long it was on; None for no cell.

    Raises
    ------
    InputError
        The gate is not confirmed, a wire is yellow or orange, or the cell is too big, too long on, or on a tweeter.
    """
    missing = not_confirmed(ticked)
    if missing:
        said = "; ".join(PAIR_GATE[key] for key in missing)
        raise InputError(f"reading on pair {pair}", "not confirmed", f"a reading after: {said}")
    theirs = color_of_theirs(colors)
    if theirs is not None:
        raise InputError(
            f"reading on pair {pair}",
            theirs[0],
            f"none on a {theirs[0]} wire ({theirs[1]}), whatever was confirmed",
        )
    if names_theirs(pair) == "sure":
        raise InputError(
            f"reading on pair {pair}", pair, "none on what its name calls a restraint or high voltage"
        )
    if cell_v is None:
        return
    if not (0 < cell_v <= CELL_V and 0 < cell_s <= POP_S):
        found = f"{cell_v:g} V for {cell_s:g} s"
        raise InputError(f"cell on pair {pair}", found, "one 1.5 V cell for at most half a second")
    if kind == "tweeter" or capacitor:
        raise InputError(f"cell on pair {pair}", kind, "woofers only, and no capacitor in line")
