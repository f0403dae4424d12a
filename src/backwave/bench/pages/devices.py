"""Devices: which browsers have access to this job; one more let in, access taken back."""

from __future__ import annotations

from functools import partial

from nicegui import ui

from backwave.bench.keys import AccessDevice
from backwave.bench.page_frame import Tab, button, text


def devices(here: Tab) -> None:
    """The page."""
    addresses, own = here.addresses, here.device
    if addresses is None or own is None:
        return
    text("h1", "Devices that have access")
    text("p", "Each of them can see and change this job until the workbench is stopped.", "note")
    body = ui.element("div").classes("block devices")
    shown: list[object] = [None]

    def back(device: AccessDevice) -> None:
        addresses.access.take_back(device.id)
        here.board.again()

    def tell() -> None:
        now = addresses.access.devices
        if now == shown[0]:
            return
        shown[0] = now
        body.clear()
        with body, ui.element("table"):
            with ui.element("thead"), ui.element("tr"):
                for words in ("AccessDevice", "Where", "Let in", ""):
                    text("th", words)
            with ui.element("tbody"):
                for device in now:
                    with ui.element("tr"):
                        text("th", device.kind + (" (this one)" if device is own else "")).props('scope="row"')
                        text("td", "this machine" if device.here else device.address, "figure")
                        text("td", f"{device.since:%H:%M}", "figure")
                        with ui.element("td"):
                            if own.here and device is not own:
                                words = f"Take back access from {device.kind}, {device.since:%H:%M}"
                                button("Take back", partial(back, device), "plain", aria_label=words)

    here.live(tell)
    if not own.here:
        text("p", "Access is given and taken back on the machine where the workbench runs.", "note")
        return
    told = ui.element("div").classes("block")

    def let_in(here_too: bool) -> None:
        told.clear()
        with told:
            text("p", addresses.address(here=here_too), "figure key")
            text("p", "Open this address in the other browser. It works once.", "note")
            if not here_too:
                text("p", "Who has it can see and change this job; what is sent is not encrypted.", "note")

    with ui.element("div").classes("row"):
        button("Let in one more browser on this machine", partial(let_in, True), "plain")
        if addresses.lan:
            button("Let in one more phone or computer", partial(let_in, False), "plain")
        else:
            text("p", "For a phone, start the workbench with: backwave open --lan", "note")
    told.move(target_index=-1)
