"""The workbench in the browser: the whole job on a laptop at the bench and a phone at the car, live and offline.

    server           starts it: loopback unless told otherwise; which page shows which address
    access           who has access: addresses with keys, and the devices that were let in
    access_control   who may ask for what; connection: what it may take and say before that
    refusal          what a visitor reads who was not let in, or whose page failed
    board            one board a job folder: the session, the last assessment, what every open tab is told
    repair           a job file that is wrong from the start
    background       work beside the page: the latest alone, or one after another; recordings among it
    solids           parts in worker processes, by digest: the last good one stays while the next is built
    page_frame       the places along the side, the verdict, undo, saved or not
    survey_form      the fields, tables and pictures of Measure, each bound to a key
    schema_form      every key of the job file as an input, from the file's own schema
    widgets          texts, tables, inputs, drawings, charts; findings: lists of them; gates: what can hurt
    work_sync        the work as phones see it, and what they say and send of it
    pages/           what one page shows

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
