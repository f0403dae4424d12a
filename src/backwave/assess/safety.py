"""Cautions where the work can hurt: said where the person meets them, apart from verdicts.

They are common trade practice and defer to the vehicle maker's service information, to local codes and to licensed
practice.  They stand beside the findings and never change a verdict: an alarm that is always on is not heard.
"""

from __future__ import annotations

from collections.abc import Iterable

from backwave.finding import PRACTICE, Check, Finding, Message

_SOURCE = f"{PRACTICE}; the vehicle maker's service information decides"

_DOOR = Message(
    "Doors fire side airbags, some of them from the pressure in the door: battery off, and the wait that the vehicle "
    "maker's service information gives, before any plug is parted"
)
_DOOR_DO = Message(
    "Add no hole and leave none open that was closed; keep the pressure sensor's port and the inflator's path free; never "
    "put a meter on a yellow lead or an airbag connector; leave orange cable alone"
)
_DRILL = Message("Drilling and trial fitting go on beside glass, looms and inflators")
_DRILL_DO = Message(
    "Glass up and covered while drilling, down while trial fitting; depth stop on the drill; eye protection; swarf out; "
    "bare edges painted; nothing drilled where nobody has looked behind"
)
_WATER = Message("The inner skin of a door is wet")
_WATER_DO = Message(
    "Vapor barrier back on with butyl, drain holes free, a drip loop in the wires, a hood over the magnet where water runs"
)


def cautions(zones: Iterable[str], materials: Iterable[tuple[str, str]]) -> tuple[Finding, ...]:
    """The cautions of a job."""
    found: dict[str, Finding] = {}
    for zone in zones:
        if zone == "door":
            found.setdefault("door", Finding(_caution("safe.door", _DOOR, _DOOR_DO), "vehicle"))
            found.setdefault("water", Finding(_caution("safe.water", _WATER, _WATER_DO), "vehicle"))
        found.setdefault("drilling", Finding(_caution("safe.drilling", _DRILL, _DRILL_DO), "vehicle"))
    for name, words in materials:
        if words:
            text = Message("Working {material}: {words}", (("material", name, ""), ("words", words, "")))
            part = name.lower().replace(" ", "-")
            found.setdefault(f"fumes {name}", Finding(_caution("safe.fumes", text, None, part), "vehicle"))
    return tuple(found.values())


def _caution(code: str, title: Message, remedy: Message | None, part: str = "") -> Check:
    return Check(code, "caution", title, remedy=remedy, sources=(_SOURCE,), part=part)
