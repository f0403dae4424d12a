"""Work: who does what when; the checklist, the teardown and the shopping list, on a page that needs no network to go on.

The page is plain and has its own small script, because a page of the socket is rebuilt when its socket was gone for
half a minute and forgets what was pressed meanwhile.  It stands behind the same guard as all others."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import Any

from fastapi import FastAPI, Request, Response
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse
from nicegui import ui
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect

from backwave.assess import Assessment
from backwave.assess.work.work_plan import Working, shopping_table
from backwave.bench.board import Board
from backwave.bench.page_frame import ASKS, OPENING, Tab, places
from backwave.bench.work_sync import PictureWorker, WorkSync
from backwave.errors import BackwaveError, InputError, JobError
from backwave.files.photos import keep_picture, picture_in
from backwave.job import Job
from backwave.plain_text import csv_bytes

Lists = Callable[[Job, Assessment, Working, str], bytes]
ASSETS = {
    "keep.js": "text/javascript", "chores.js": "text/javascript", "forms.js": "text/javascript",
    "theme.js": "text/javascript", "page.js": "text/javascript", "typed.js": "text/javascript", "chores.css": "text/css",
}  # fmt: skip
NO_STORE = {"cache-control": "no-store"}
ASKED = {"cache-control": "no-cache"}  # kept by the browser, so that a tab the phone dropped comes back without network


def work(here: Tab) -> None:
    """A tab that comes from another place loads this one whole."""
    ui.run_javascript('location.replace("/work" + location.hash)')


def work_routes(app: FastAPI, board: Board, style: str, pictures: PictureWorker, lists: Lists | None = None) -> None:
    """The page and what its script asks for. `lists`: makes the lists on paper, "A4" or "Letter"; None: there is no
    paper here."""
    ledger, folder = WorkSync(board), Path(__file__).parents[1]
    # a phone that went out of reach while it sent: nobody is there to be answered, and it sends again
    app.add_exception_handler(ClientDisconnect, lambda *_: Response(status_code=400))

    @app.get("/work", include_in_schema=False)
    def page() -> Response:
        return HTMLResponse(_page(ledger.job_id(), lists is not None, board.result), headers=ASKED)

    @app.get("/access", include_in_schema=False)
    def access() -> Response:
        return Response(status_code=204, headers=NO_STORE)  # whoever has none is told before

    @app.get("/chores/look.css", include_in_schema=False)
    def look() -> Response:
        return Response(style, media_type="text/css", headers=ASKED)

    @app.get("/chores/part/{name}", include_in_schema=False)
    def part(name: str) -> Response:
        if name not in ASSETS:
            return _none()
        return FileResponse(folder / name, media_type=ASSETS[name], headers=ASKED)

    @app.get("/chores/list", include_in_schema=False)
    def listed(device: str = "", seen: str = "") -> Response:
        return JSONResponse(ledger.shown(device[:16], seen), headers=NO_STORE)

    @app.post("/chores/words", include_in_schema=False)
    async def said(request: Request) -> Response:
        try:
            body = await request.json()
        except (ValueError, RecursionError):
            return _refused(InputError("words", "no JSON", "a list of words"), 400)
        return await run_in_threadpool(_take, ledger, body)

    @app.post("/chores/photo", include_in_schema=False)
    async def pictured(request: Request, name: str = "") -> Response:
        data = await request.body()

        def keep() -> Response:
            try:
                return JSONResponse({"kept": keep_picture(board.folder, name, data, pictures.clean)})
            except InputError as error:
                return _refused(error)

        return await run_in_threadpool(keep)

    @app.get("/chores/photos/{name}", include_in_schema=False)
    def picture(name: str) -> Response:
        made = ledger.working()
        named = set(made[0].pictures) if made else set()
        path = picture_in(board.folder, f"photos/{name}")
        if f"photos/{name}" not in named or path is None:
            return _none()
        return FileResponse(path, media_type="image/jpeg")

    @app.get("/chores/shopping.csv", include_in_schema=False)
    def table() -> Response:
        made = ledger.working()
        if made is None:
            return _none()
        head = {"content-disposition": 'attachment; filename="shopping.csv"', **NO_STORE}
        return Response(csv_bytes(shopping_table(made[0].items)), media_type="text/csv", headers=head)

    @app.get("/chores/lists.pdf", include_in_schema=False)
    def paper(size: str = "A4") -> Response:
        made = ledger.working()
        if made is None or lists is None or size not in ("A4", "Letter"):
            return _none()
        return Response(lists(made[1], made[2], made[0], size), media_type="application/pdf", headers=NO_STORE)


def _take(ledger: WorkSync, body: Any) -> Response:
    words = body.get("words") if isinstance(body, dict) else None
    if ledger.cannot_judge(words):
        why = "The bench is still working out the job. What you said stays on this phone and is sent again."
        return JSONResponse({"error": why}, status_code=409, headers=NO_STORE)
    try:
        return JSONResponse(ledger.take(words), headers=NO_STORE)
    except JobError as error:
        return _refused(error)  # the log: no word is to blame
    except BackwaveError as error:
        return _refused(error, 400)
    except OSError as error:
        why = f"The bench could not write it: {error.strerror or error}. It stays on this phone and is sent again."
        return Response(why, status_code=503, media_type="text/plain")


def _refused(error: BackwaveError, status: int = 409) -> Response:
    return JSONResponse({"error": str(error)}, status_code=status)


def _none() -> Response:
    return Response("There is no such file.", status_code=404, media_type="text/plain")


def _page(job: str, paper: bool, result: Assessment | None) -> str:
    sheets = "".join(
        f' <a href="/chores/lists.pdf?size={size}" target="_blank">{size}</a>' for size in ("A4", "Letter")
    )
    whole = Path(__file__).parents[1] / "chores.html"
    text = whole.read_text(encoding="utf-8")
    for name, value in {
        "JOB": escape(job), "WAYS": places("/work", OPENING[0], result), "ASKS": escape(ASKS["/work"]),
        "PAPER": f"<span>On paper: {sheets}</span>" if paper else "",
    }.items():  # fmt: skip
        text = text.replace(f"<!--{name}-->", value)
    return text
