"""Elements of ours on the page: an input bound to a key path, a drawing to take hold of, a slider, a file as a text."""

from __future__ import annotations

import asyncio
import inspect
from collections.abc import Awaitable, Callable
from typing import Any

from nicegui.element import Element

from backwave.bench.board import GLANCE_S
from backwave.crash import ending

ANSWER_S = GLANCE_S + 0.03  # later than the page is told of an edit: "saved" from before it is gone by then


class UpdatableElement(Element):
    """An element of ours whose props are its whole state."""

    def say(self, **props: Any) -> None:
        """Change what it shows, if anything differs."""
        changed = {k: v for k, v in props.items() if self._props.get(k) != v}
        if changed:
            self._props.update(changed)
            self.update()


class InputField(UpdatableElement, component="field.js"):
    """One input bound to a key: keeps what was typed, shows what was understood, what is assumed, what is wrong."""

    def __init__(
        self,
        fid: str,
        label: str,
        hint: str = "",
        kind: str = "text",
        options: tuple[str, ...] = (),
        *,
        on_commit: Callable[[str, str], Awaitable[None] | None],
        on_lit: Callable[[], None] | None = None,
        **props: Any,
    ) -> None:
        super().__init__()
        self._props.update(
            {"fid": fid, "label": label, "hint": hint, "kind": kind, "options": list(options), "value": "",
             "understood": "", "assumed": "", "why": "", "error": "", "required": False, "removable": True,
             "blank": "not said", "unused": False} | props
        )  # fmt: skip
        self._on_commit = on_commit
        self.on("commit", lambda event: self._committed(event.args))
        if on_lit is not None:
            self.on("lit", lambda _: on_lit())

    async def _committed(self, told: dict[str, Any]) -> None:
        """Take it in and answer, whatever came of it: until then the page does not call it saved."""
        client = self.client  # the field may go with its form
        try:
            done = self._on_commit(told["value"], told["seen"])
            if inspect.isawaitable(done):
                await done
        except Exception as error:
            self.say(error=ending(error, "taking in what was typed").words)
            raise
        finally:
            await asyncio.sleep(ANSWER_S)
            client.run_javascript(f"backwaveTyped.answered({int(told['number'])})")


class StateLine(UpdatableElement, component="state.js"):
    """Whether all is saved: what the workbench says, unless something typed in this tab has not reached it.

    `job`: of which job folder; what was typed for another one is not sent here.
    """

    def __init__(self, job: str) -> None:
        super().__init__()
        self._props.update({"words": "", "job": job})


class Picture(UpdatableElement, component="picture.js"):
    """A drawing."""

    def __init__(self, svg: str = "", hold: str = "", on_drag: Callable[[dict[str, Any]], Any] | None = None) -> None:
        super().__init__()
        self._props.update({"svg": svg, "hold": hold, "low": 0.0, "high": 1.0, "lit": ""})
        if on_drag is not None:
            self.on("drag", lambda event: on_drag(event.args))


class Paper(UpdatableElement, component="repair.js"):
    """A file as a text, with what is wrong beside its lines."""

    def __init__(self, on_save: Callable[[str], Awaitable[None]]) -> None:
        super().__init__()
        self._props.update({"text": "", "problems": [], "note": ""})
        self.on("save", lambda event: on_save(str(event.args)))


class Slider(UpdatableElement, component="slider.js"):
    """A slider with a shaded window."""

    def __init__(self, sid: str, label: str, on_slide: Callable[[dict[str, Any]], Any], **props: Any) -> None:
        super().__init__()
        self._props.update({"sid": sid, "label": label, "low": None, "high": None} | props)
        self.on("slide", lambda event: on_slide(event.args))
