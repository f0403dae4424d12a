"""What a page says when the program failed: a sentence and what to send, never a bare number."""

from __future__ import annotations

import traceback

from fastapi import FastAPI, Request, Response
from fastapi.responses import HTMLResponse, PlainTextResponse
from nicegui import ui

from backwave.bench import refusal
from backwave.bench.page_frame import text
from backwave.bench.refusal import RefusalWords
from backwave.crash import ending
from backwave.errors import BackwaveError

TITLE = "This page could not be made"
KEPT = "What was entered is kept. Go back, or open another page."


def words_of(error: BaseException, doing: str) -> str:
    """What went wrong, and for a fault of backwave what to send."""
    return ending(error, doing).words


def failures(app: FastAPI) -> None:
    """Answer with it wherever a request fails."""

    async def failed(request: Request, error: Exception) -> Response:
        what = words_of(error, f"answering {_place(request.url.path)}")
        if request.headers.get("accept", "").startswith("text/html"):
            page = refusal.page(RefusalWords(TITLE, (KEPT,)), to="/", detail=what)
            return HTMLResponse(page, status_code=500)
        return PlainTextResponse(f"{TITLE}. {what}", status_code=500)

    app.add_exception_handler(Exception, failed)


def show_failure(error: Exception, path: str) -> None:
    """Say it in a page of the workbench, in place of what should stand there."""
    if not isinstance(error, BackwaveError):
        traceback.print_exception(error)
    with ui.element("section").classes("alarm").props('role="alert"'):
        text("strong", f"{TITLE}.")
        text("span", KEPT)
        text("pre", words_of(error, f"showing {_place(path)}"), "report")


def _place(path: str) -> str:
    """The first part of an address: the rest may hold names of the job."""
    return "/" + path.strip("/").partition("/")[0]
