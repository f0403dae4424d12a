"""Gates: what a person confirms, line by line, before something that can hurt is done, and what is refused whatever was confirmed.

An igniter of an airbag or belt tensioner reads about 2 ohm, exactly like a speaker, and a meter's own current can fire
it.  The record, the rooms and every face hold to these lists.  Common trade practice; the vehicle maker's service
information comes first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from backwave.errors import InputError
from backwave.notation.leave_alone import color_of_theirs, names_theirs
from backwave.notation.wire_color import WireColor

# before a meter or a cell touches a pair of factory wires: key, and what is confirmed
PAIR_GATE: dict[str, str] = {
    "traced": "Traced by eye, all the way, to the speaker's own unplugged plug",
    "not_yellow": "Neither the wires, nor their sleeve, nor the connector are yellow or orange",
    "not_airbag": "It is no connector of an airbag, belt tensioner, seat or side-impact sensor (not every one of them is yellow)",
    "battery_off": "Every battery is disconnected, a capacitor bank is discharged, and the waiting time of the vehicle's maker is over",
    "unplugged": "At the speaker, its plug is off; anywhere along the loom, both ends of the loom are unplugged",
}
# before anything is read on a factory output while it plays
OUTPUT_GATE: dict[str, str] = {
    "closed": "Every airbag, belt and seat connector is closed, and nobody sits before an airbag",
    "live": "The battery is on and the system plays on purpose: this is a reading on live wires",
    "clear": "Trim, tools and hands are clear of the contacts, and the probes cannot touch each other or the body",
    "meter": "The meter is on volts, AC for a level and DC for an offset, and none of its probes is grounded",
}
# before a gain is found with a tone
GAIN_GATE: dict[str, str] = {
    "speakers_off": "Every speaker of this amplifier is disconnected at the amplifier",
    "gain_down": "Gain all the way down, tone controls and boosts flat, filters open at the tone",
    "meter": "The meter is on AC volts, its probes cannot touch each other or the case",
    "ears": "Nobody with ears near a speaker; ear protection on",
}
GATES: dict[str, dict[str, str]] = {"pair": PAIR_GATE, "output": OUTPUT_GATE, "gain": GAIN_GATE}
OF_THE_VEHICLE = frozenset({"battery_off"})  # lines said once for the whole vehicle, not for one pair
HOLDS_S = 12 * 3600.0  # how long a line holds: one visit (common trade practice)
CELL_RATED_V = 1.5  # A single dry cell, where nobody said which
CELL_V, POP_S = 1.6, 0.5  # most of a fresh 1.5 V cell, and how long it may stay on (common trade practice)


def not_confirmed(ticked: Mapping[str, object]) -> tuple[str, ...]:
    """Keys of `PAIR_GATE` that nobody confirmed; only True counts."""
    return tuple(key for key in PAIR_GATE if ticked.get(key) is not True)


def refuse_unsafe(
    pair: str,
    colors: Sequence[WireColor] = (),
    kind: str = "unknown",
    capacitor: bool | None = None,
    cell_v: float | None = None,
    cell_s: float = POP_S,
) -> None:
    """Refuse a reading that must not be taken, whatever was confirmed; call it only where there is a reading.

    `kind` is the speaker at whose plug the pair ends; `cell_v` (V) and `cell_s` (s) are the cell's, None for no cell.

    InputError: A wire is yellow or orange, its name is of a restraint, or the cell is too big, too long on, or not
    on a woofer.
    """
    theirs = color_of_theirs(colors)
    if theirs is not None:
        raise InputError(
            f"reading on pair {pair}", theirs[0], f"none on a {theirs[0]} wire ({theirs[1]}), whatever was confirmed"
        )
    if names_theirs(pair) == "sure":
        raise InputError(f"reading on pair {pair}", pair, "none on what its name calls a restraint or high voltage")
    if cell_v is None:
        return
    if not (0 < cell_v <= CELL_V and 0 < cell_s <= POP_S):
        found = f"{cell_v:g} V for {cell_s:g} s"
        raise InputError(f"cell on pair {pair}", found, "one 1.5 V cell for at most half a second")
    if kind != "woofer" or capacitor:
        found = "a capacitor in line" if capacitor else f'ends_at = "{kind}"'
        raise InputError(f"cell on pair {pair}", found, 'woofers only (ends_at = "woofer"), and no capacitor in line')
