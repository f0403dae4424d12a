"""What shows each address: a file under pages/ with a function of its name, loaded when it is first opened."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module

from nicegui import context

from backwave.bench.failures import show_failure
from backwave.bench.page_frame import Tab


def routes(here: Tab) -> dict[str, Callable[..., None]]:
    """The places of a tab."""

    def show(name: str, *said: str) -> None:
        if here.board.repair is not None:
            name, said = "repair", ()
        try:
            getattr(import_module(f"backwave.bench.pages.{name}"), name)(here, *said)
        except Exception as error:  # noqa: BLE001 - whatever it was, the page says it, and the frame stays
            context.slot.parent.clear()
            here.leave()
            show_failure(error, f"/{name}")

    return {
        "/": lambda: show("job"),
        "/survey": lambda: show("survey"),
        "/survey/{top}": lambda top: show("survey", top),
        "/survey/{top}/{row}": lambda top, row: show("survey", top, row),
        "/section": lambda: show("section"),
        "/section/{subject}": lambda subject: show("section", subject),
        "/face": lambda: show("face"),
        "/face/{subject}": lambda subject: show("face", subject),
        "/part": lambda: show("part"),
        "/part/{subject}": lambda subject: show("part", subject),
        "/sound": lambda: show("sound"),
        "/wires": lambda: show("wires"),
        "/wires/{part}": lambda part: show("wires", part),
        "/proof": lambda: show("proof"),
        "/work": lambda: show("work"),
        "/why/{id_}": lambda id_: show("why", id_),
        "/devices": lambda: show("devices"),
    }
