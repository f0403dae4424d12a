"""What can hurt, where the hand is: a caution over the tables that can, and gates to confirm line by line.

The cautions stand over the forms and lists of pairs, plugs, outputs, loads and cables.  Each line of a gate is a tick as
large as a thumb, kept in the job's log with its date as soon as it is set."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import partial
from typing import Any

from nicegui import ui

from backwave.bench.page_frame import Tab
from backwave.bench.widgets import button, listed, text, tick
from backwave.errors import BackwaveError
from backwave.notation.wires import GATES, OUTPUT_GATE, PAIR_GATE

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
        listed(more)
        text("p", "The vehicle maker's service information, local codes and licensed practice come first.", "note")


class GateTicks:
    """The ticks of one gate for one thing (`of`), which is now what `about` says; `read` is a reading that stands already."""

    def __init__(self, here: Tab, gate: str) -> None:
        self._here, self._gate = here, gate
        self._of, self._about, self._read = "", "", ""
        self._boxes = {line: tick(words, partial(self._tick, line)) for line, words in GATES[gate].items()}
        self._since = text("p", "", "note")
        self._vouch = button(
            "What stands here was read with all of this so", lambda: self._say({}, self._read), "plain"
        )
        self._vouch.set_visibility(False)

    def tell(self, of: str, about: str, read: str = "") -> bool:
        """Show what holds now; whether all of it does.  `read`: digest of a reading that is not confirmed, or ""."""
        self._of, self._about, self._read = of, about, read
        session = self._here.board.session
        held = {} if session is None else session.job.gates.held(self._gate, of, about, datetime.now(UTC))
        for line, box in self._boxes.items():
            if bool(box._props.get("checked")) is not (line in held):
                box._props["checked"] = line in held
                box.update()
        whole = len(held) == len(self._boxes)
        first = min(held.values()).astimezone().strftime("%H:%M") if held else ""
        self._since.say(
            f"Confirmed from {first} on; it holds for twelve hours, and until this is edited." if held else ""
        )
        self._vouch.set_visibility(whole and bool(read))
        return whole

    async def _tick(self, line: str, event: Any) -> None:
        await self._say({line: bool(event.args)})

    async def _say(self, said: dict[str, bool], read: str = "") -> None:
        board, of, about = self._here.board, self._of, self._about
        session = board.session
        if session is None:
            return
        try:
            await board.beside(lambda: session.confirm(self._gate, of, about, said, read))
        except (BackwaveError, OSError) as error:
            ui.notify(f"Not confirmed: {error}")
        board.again()
