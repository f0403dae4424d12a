"""What a visitor reads who was not let in, or whose page failed: a sentence and what to do or send, never a bare number.

A refusal is a plain page without a script and without the job; a page of the workbench that failed says it in its frame.
"""

from __future__ import annotations

import traceback
from dataclasses import dataclass
from html import escape

from fastapi import FastAPI, Request, Response
from fastapi.responses import HTMLResponse, PlainTextResponse
from nicegui import ui

from backwave.bench.widgets import text
from backwave.crash import ending
from backwave.errors import BackwaveError

PLAIN_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_STYLE = (
    "html{color-scheme:light dark;background:#f7f5ef;color:#1b2830;font:18px/1.5 system-ui,sans-serif}"
    "body{max-width:34rem;margin:0 auto;padding:12vh 1.25rem 2rem}"
    "h1{font-size:1.5rem;line-height:1.25;margin:0 0 1rem;padding:0 0 .75rem;border-bottom:2px solid #1b2830}"
    "p{margin:0 0 1rem}a{color:#0b6a63}a.go{display:inline-block;padding:.6rem 1.1rem;border:2px solid;"
    "font-weight:600;text-decoration:none}pre{white-space:pre-wrap;overflow-wrap:anywhere;font-size:.9rem}"
    "@media(prefers-color-scheme:dark){html{background:#11181d;color:#dfe6e8}h1{border-color:#dfe6e8}a{color:#5cc4ba}}"
)


@dataclass(frozen=True)
class RefusalWords:
    title: str
    sentences: tuple[str, ...] = ()  # what it means and what to do, a paragraph each

    @property
    def plain(self) -> str:
        return " ".join((f"{self.title}.", *self.sentences))


NO_ACCESS = RefusalWords(
    "This browser has no access to the workbench",
    (
        "On the computer where the workbench runs: open the newest address in the terminal, the one that ends in "
        "?key= and letters.",
        "On a phone or another computer: ask at that computer for a new address. It is under Devices in the workbench.",
        "A key works once, for one browser. Access ends when the workbench is stopped, and it can be taken back.",
    ),
)
FOREIGN = RefusalWords(
    "Another page led here",
    (
        "A link or a page outside the workbench opened this address. Pages outside cannot open the workbench by "
        "themselves. If you want to go there, go on.",
    ),
)


def page(words: RefusalWords, *, to: str = "", at_once: bool = False, detail: str = "") -> bytes:
    head = f'<meta http-equiv="refresh" content="0; url={escape(to)}">' if to and at_once else ""
    body = "".join(f"<p>{escape(one)}</p>" for one in words.sentences)
    body += f"<pre>{escape(detail)}</pre>" if detail else ""
    body += f'<p><a class="go" href="{escape(to)}">Open the workbench</a></p>' if to else ""
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">{head}<title>{escape(words.title)}</title>'
        f"<style>{_STYLE}</style></head><body><main><h1>{escape(words.title)}</h1>{body}</main></body></html>"
    ).encode()


TITLE = "This page could not be made"
KEPT = "What was entered is kept. Go back, or open another page."


def failures(app: FastAPI) -> None:
    """Answer with it wherever a request fails."""

    async def failed(request: Request, error: Exception) -> Response:
        what = ending(error, f"answering {_place(request.url.path)}").words
        if request.headers.get("accept", "").startswith("text/html"):
            return HTMLResponse(page(RefusalWords(TITLE, (KEPT,)), to="/", detail=what), status_code=500)
        return PlainTextResponse(f"{TITLE}. {what}", status_code=500)

    app.add_exception_handler(Exception, failed)


def show_failure(error: Exception, path: str) -> None:
    """Say it in a page of the workbench, in place of what should stand there."""
    if not isinstance(error, BackwaveError):
        traceback.print_exception(error)
    with ui.element("section").classes("alarm").props('role="alert"'):
        text("strong", f"{TITLE}.")
        text("span", KEPT)
        text("pre", ending(error, f"showing {_place(path)}").words, "report")


def _place(path: str) -> str:
    """The first part of an address: the rest may hold names of the job."""
    return "/" + path.strip("/").partition("/")[0]
