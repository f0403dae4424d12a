"""What can hurt, in one line where the hand is: over the forms and lists of pairs, plugs, outputs, loads and cables."""

from __future__ import annotations

from nicegui import ui

from backwave.bench.page_frame import text
from backwave.notation.wires import OUTPUT_GATE, PAIR_GATE

_WIRES = (
    "Every battery off and the vehicle maker's waiting time over before a wire is touched; nothing yellow or orange is ours.",
    (
        "An airbag's igniter reads just like a speaker, and a meter can fire it.",
        *PAIR_GATE.values(),
        "Ground goes to the vehicle's own stud or bolt for it, never to a seat-belt, airbag or brake bolt.",
        "The main fuse goes in last; ground first and signal leads last, the other way round when taken out.",
    ),
)
_LIVE = (
    "Read live: every airbag, belt and seat connector is closed before the battery is on.",
    tuple(OUTPUT_GATE.values()),
)
_AT = {"factory_output": _LIVE} | dict.fromkeys(
    ("pair", "plug", "load", "distribution", "battery", "converter", "supply", "wire", "boot", "speaker_cable"), _WIRES
)


def careful(what: str) -> None:
    """The caution over a table of the job, the rest of it folded; nothing over tables that cannot hurt."""
    if what not in _AT:
        return
    first, more = _AT[what]
    with ui.element("details").classes("alarm mild"):
        with ui.element("summary"):
            text("span", first)
        with ui.element("ul"):
            for line in more:
                text("li", line)
        text("p", "The vehicle maker's service information, local codes and licensed practice come first.", "note")
