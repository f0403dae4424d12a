"""The recording half of Proof: what the vehicle plays, made and played in the page, and the way a recording comes in."""

from __future__ import annotations

import asyncio
from functools import partial
from time import time

from nicegui import background_tasks, ui

from backwave.assess.proof.recordings import FACTORY
from backwave.assess.proof.signals import signal_of
from backwave.bench.page_frame import Tab
from backwave.bench.widgets import Chips, TakeInput, button, link, status, text, tick
from backwave.errors import BackwaveError
from backwave.files.recordings import READINGS, write_signal
from backwave.finding import sentences
from backwave.job.undo import Append

LISTEN = (
    "Begin with the volume low, wear ear protection or stand outside, keep children and animals away. Engine, fan and telephones "
    "off, doors shut. At the seat, where the middle of the head is: start the recorder, play the whole file, stop. Then again with "
    "the recorder taken away and put back, and some a hand's breadth round it."
)
PHONE = (
    "Below 150 Hz a phone's own filters bend what it records: there its readings are compared with each other, before with "
    "after, and not with the prediction. Set its recorder to WAV, automatic level off."
)
_FILES = {"beeps": "beeps.wav", "response": "sweep.wav"}
RECORDERS = {"phone": "A phone", "other": "Another recorder"}


class RecordingSteps:
    """What the vehicle plays, as files to play here or to take along, and the way a recording of it comes in."""

    def __init__(self, here: Tab) -> None:
        self._here, self._chosen = here, {"stage": "", "seat": "", "recorder": "phone"}
        self._heard = {"on": False}
        text("h3", "1. Which speaker is on which output?")
        text("p", "One beep on the first output, two on the second, at \u221240 dB.", "note")
        self._beeps = self._player("beeps", "Make the beeps")
        text("h3", "2. Play the sweep and record it")
        tick("I have heard the right speaker on each output", lambda event: self._heard.update(on=bool(event.args)))
        text("p", LISTEN, "note")
        self._sweep = self._player("response", "Make the sweep")
        text("h3", "3. The recording")
        self._chips = {
            key: Chips(label, partial(self._choose, key))
            for key, label in (("stage", "Recorded of"), ("seat", "Seat"), ("recorder", "Recorded with"))
        }
        TakeInput(self._taken)
        text("p", PHONE, "note")
        self._said = status()
        link("Change or add a reading by hand", "/survey/reading", "plain")

    def tell(self) -> None:
        session = self._here.board.session
        if session is None:
            return
        file = session.job.file
        stages = {FACTORY: "As it was"} | {one.id: one.title or one.id for one in file.stage}
        options = {"stage": stages, "seat": {one.id: f"{one.id} seat" for one in file.seat}, "recorder": RECORDERS}
        for key, held in options.items():
            if self._chosen[key] not in held:
                self._chosen[key] = next(iter(held), "")
            self._chips[key].say(held if len(held) > 1 else {}, {self._chosen[key]})

    def _choose(self, key: str, value: str) -> None:
        self._chosen[key] = value
        self.tell()

    def _player(self, kind: str, words: str) -> ui.element:
        button(words, lambda: background_tasks.create(self._make(kind)), "plain")
        box = ui.element("div").classes("row")
        name = _FILES[kind]
        if (self._here.board.folder / READINGS / name).is_file():
            self._show(box, name)
        return box

    def _show(self, box: ui.element, name: str) -> None:
        box.clear()
        with box:
            address = f"/take/play/{name}"
            ui.element("audio").props(f'controls preload="none" src="{address}?{time():.0f}" aria-label="{name}"')
            link(f"{name}, to take along", address, "go", download=name)

    async def _make(self, kind: str) -> None:
        heard, folder = self._heard["on"], self._here.board.folder

        def write() -> str:
            made = signal_of(kind, 48000, ("left", "right"), -12.0 if heard else -40.0, heard and kind == "response")
            write_signal(folder / READINGS / _FILES[kind], made.samples, 48000, made.description)
            return " ".join(sentences(one, self._here.system) for one in made.checks if one.verdict != "ok")

        try:
            (folder / READINGS).mkdir(exist_ok=True)
            said = await asyncio.to_thread(write)
        except (BackwaveError, OSError) as error:
            self._said.say(str(error))
            return
        if kind == "response" and not heard:
            said += " Quiet, at \u221240 dB: until each speaker was heard on its output (step 1) it is not made louder."
        if not self._said.is_deleted:
            self._show(self._beeps if kind == "beeps" else self._sweep, _FILES[kind])
            self._said.say(said)

    async def _taken(self, file: str) -> None:
        row = {"file": file} | {key: value for key, value in self._chosen.items() if value}
        if (self._here.board.folder / READINGS / "sweep.json").is_file():
            row["sweep"] = f"{READINGS}/sweep.json"
        problems = await self._here.board.change([Append("reading", row)], "add a recording")
        if not self._said.is_deleted:
            self._said.say("; ".join(p.message for p in problems) or "In the job; it is being read.")
