"""A gate on a page: each line a tick as large as a thumb, kept in the job's log with its date as soon as it is set."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import partial
from typing import Any

from nicegui import ui

from backwave.bench.page_frame import Tab, button, text
from backwave.bench.pages.wires_harness import tick
from backwave.errors import BackwaveError
from backwave.notation.wires import GATES


class GateTicks:
    """The ticks of one gate for one thing (`of`), which is now what `about` says; `read` is a reading that stands already."""

    def __init__(self, here: Tab, gate: str) -> None:
        self._here, self._gate = here, gate
        self._of, self._about, self._read = "", "", ""
        self._boxes = {line: tick(words, partial(self._tick, line)) for line, words in GATES[gate].items()}
        self._since = text("p", "", "note")
        self._vouch = button("What stands here was read with all of this so", self._vouched, "plain")
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

    async def _vouched(self) -> None:
        await self._say({}, self._read)

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
