"""The workbench in the browser: the whole job on a laptop at the bench and a phone at the car, live and offline.

    server   starts it: loopback unless told otherwise; addresses: what is printed, what the browser opens
    access_control   who may ask for what; keys: who has access; connection: what it may take before that
    refusal, failures   what a visitor reads who was not let in, or whose page failed
    board    one board a job folder: the session, the last assessment, what every open tab is told
    repair   a job file that is wrong from the start
    solids   parts in worker processes, by digest: the last good one stays while the next is built
    page_frame   the places along the side, the verdict, undo, saved or not
    schema_form, widgets   every key of the job file as an input, from the file's own schema
    picture_worker   what phones send, unfolded in a process of its own
    sketch   a drawing that can be taken hold of; the dimension being typed, lit up
    pages/   a file a page: what one page shows

Computes nothing: a place reads an Assessment and writes the job.  Lengths are shown in the units the person chose.
A face: stands on `assess`, `drawing`, `job`, `files`, `work` and the ground.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backwave.bench.server import serve

__all__ = ["serve"]


def __getattr__(name: str) -> Any:
    if name == "serve":
        return import_module("backwave.bench.server").serve
    raise AttributeError(f"backwave.bench has no {name!r}")
