"""Starting the workbench: where it listens, what it prints, the pages and the files it serves."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import os
import signal
import socket
import ssl
import sys
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any, NoReturn

from fastapi import Request, Response
from fastapi.responses import FileResponse, JSONResponse
from nicegui import Client, app, context, ui
from starlette.concurrency import run_in_threadpool

import backwave.drawing
from backwave.bench import page_frame
from backwave.bench.access import Addresses
from backwave.bench.access_control import MAX_BYTES, Guard, name_scripts
from backwave.bench.board import Board
from backwave.bench.connection import HEADER_BYTES, MAX_STRANGERS, Connection, listen
from backwave.bench.page_frame import Tab
from backwave.bench.pages.work import Lists, work_routes
from backwave.bench.refusal import failures, show_failure
from backwave.bench.work_sync import PictureWorker
from backwave.crash import Ending, ending
from backwave.drawing.styles import THEMES
from backwave.errors import InputError
from backwave.files.recordings import PLAYED, READINGS, Inbox
from backwave.job.disk import Presence

NARROW = 760  # px: below it drawings are laid out for a phone
MAX_UNOPENED = 24  # pages without a browser: a dozen phones that lost their network, and as many being opened
NOT_SAVED = 3  # the exit code of a workbench that ended while the disk took nothing
_ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 20 20"><rect width="20" height="20" fill="#f7f5ef"/>'
    '<circle cx="10" cy="10" r="7" fill="none" stroke="#1b2830" stroke-width="2"/>'
    '<circle cx="10" cy="10" r="2.5" fill="#0b6a63"/></svg>'
)


def serve(
    folder: Path, *, port: int = 8137, lan: bool = False, show: bool = True, lists: Lists | None = None,
    tls: tuple[Path, Path] | None = None,
) -> NoReturn:  # fmt: skip
    """Run the workbench of a job folder until it is stopped; the process ends with it. `lan`: also to other machines of
    the local network, with a one-time key; `lists`: makes the lists of the place Work on paper; None: only the page
    itself can be printed; `tls`: certificate and key, both PEM, by which what is sent is encrypted; InputError: the port
    is taken, or those two are no pair."""
    packed: dict[str, Any] = {} if tls is None else dict(zip(("ssl_certfile", "ssl_keyfile"), map(str, tls)))
    if tls is not None:
        _refuse_pair(*tls)
    board = Board(folder)
    host = "0.0.0.0" if lan else "127.0.0.1"
    addresses = Addresses(_free(host, port), lan, board.folder / "made" / ".cache" / "bench", encrypted=tls is not None)
    port = addresses.port
    stop = _setup(board, addresses, lists)
    print(f"The workbench of {folder}: {addresses.printed(here=True)}", flush=True)
    print("The address works once, for one browser; then the next one is printed.", flush=True)
    board.presence = Presence(board.folder, port)
    if board.session is not None:
        print("".join(f"{other}\n" for other in board.presence.look()), end="", flush=True)
    _saves_when_its_terminal_goes()
    _tells_what_is_lost(board)
    if board.repair is not None:
        print("The job file is not right yet; put it right in the page, or in a text editor:", flush=True)
        print(*board.repair.problems, sep="\n", flush=True)
    if lan:
        print(
            "Open to the local network: anybody there who has an address with its key can see and change this job,\n"
            f"and what is sent is {'' if tls else 'not '}encrypted. Use it on a network you trust. A key works once; access can be taken\n"
            f"back under Devices. For one device: {addresses.printed(here=False)}",
            flush=True,
        )
    print("Stop it with Ctrl+C; what was changed is saved.", flush=True)
    sys.setswitchinterval(0.001)  # the page's loop waits for a computation beside it no longer than this
    gc.enable()  # the command line goes without; each page that goes leaves a megabyte of cycles
    gc.freeze()  # what is loaded by now stays: nobody need look through it again
    if show:
        addresses.open_browser()
    # Nothing is packed on its way through this machine: it costs more than it saves.
    packed |= {} if lan else {"gzip_middleware_factory": None, "ws_per_message_deflate": False}
    try:
        ui.run(
            host=host, port=port, reload=False, show=False, title="backwave", favicon=_ICON, language="en-US",
            tailwind=False, show_welcome_message=False, reconnect_timeout=30, uvicorn_logging_level="error",
            binding_refresh_interval=None, http=Connection, h11_max_incomplete_event_size=HEADER_BYTES,
            backlog=MAX_STRANGERS, ws_max_size=2 * MAX_BYTES, proxy_headers=False, server_header=False, **packed,
        )  # fmt: skip
    except KeyboardInterrupt as stopped:
        stop()  # told to stop twice, the server leaves out its own end
        _leave(board, ending(stopped))
    stop()
    _leave(board)


def _refuse_pair(cert: Path, key: Path) -> None:
    """InputError: a certificate and a key that encrypt nothing here."""
    pair = "two PEM files that go together, the certificate first: --tls CERT KEY"
    for path, what, mark in ((cert, "certificate", b"-----BEGIN CERTIFICATE"), (key, "key", b"PRIVATE KEY-----")):
        there = "a folder" if path.is_dir() else "no ordinary file" if path.exists() else "no such file"
        try:
            if path.is_file():  # a pipe gives what it holds once, and it is read twice
                with path.open("rb") as opened:
                    there = "" if mark in opened.read(1_000_000) else f"no {what} in it"
        except OSError as error:
            there = error.strerror or "it cannot be read"
        if there:
            raise InputError(f"--tls: the {what} {path}", there, pair)

    def locked() -> str:
        raise InputError(
            f"--tls: the key {key}", "locked with a passphrase", "a key without one, in a file that only you may read"
        )

    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(cert, key, locked)
    except OSError as error:  # SSLError is one
        mismatch = getattr(error, "reason", "") == "KEY_VALUES_MISMATCH"
        why = "the key belongs to another certificate" if mismatch else "one of them is damaged, or too weak to be used"
        raise InputError(f"--tls: {cert} and {key}", why, pair) from None


def _leave(board: Board, end: Ending | None = None) -> NoReturn:
    """End the process once all is saved and said, without taking the interpreter down. Threads may still be inside a
    native library, for which there is no other way to be ended: the interpreter would be gone below them, and now and
    then they broke off with a segmentation fault in place of the exit code."""
    if end is not None and not board.lost:
        with contextlib.suppress(OSError):
            print(end.words, file=sys.stderr, flush=True)
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):  # its terminal is closed
            stream.flush()
    os._exit(NOT_SAVED if board.lost else 0 if end is None else end.exit_code)


def _saves_when_its_terminal_goes() -> None:
    """A closed terminal ends it as Ctrl+C does, unless whoever started it wants it to go on (nohup)."""
    hangup = getattr(signal, "SIGHUP", None)
    if hangup is not None and signal.getsignal(hangup) == signal.SIG_DFL:
        signal.signal(hangup, lambda *_: signal.raise_signal(signal.SIGTERM))


def _tells_what_is_lost(board: Board) -> None:
    """Where it is told to end and could not save, its exit code says so; else the signal does what it always does."""

    def ended(number: int, _: object) -> None:
        if board.lost:
            _leave(board)
        signal.signal(number, signal.SIG_DFL)
        signal.raise_signal(number)

    if signal.getsignal(signal.SIGTERM) == signal.SIG_DFL:
        signal.signal(signal.SIGTERM, ended)


def _setup(board: Board, addresses: Addresses, lists: Lists | None) -> Callable[[], None]:
    """Everything that is served; what ends it, once."""
    build = app.build_middleware_stack
    # Before everything else, the library's own layers too.
    setattr(app, "build_middleware_stack", lambda: Guard(build(), addresses.access, addresses.lan))  # noqa: B010
    name_scripts()
    listen()
    pictures = PictureWorker()
    assets, fonts = Path(__file__).parent, Path(backwave.drawing.__file__).parent / "fonts"
    app.add_static_files("/fonts", fonts)
    style = "".join((assets / name).read_text(encoding="utf-8") for name in ("look.css", "survey.css")) + _colors()
    work_routes(app, board, style, pictures, lists)  # before the pages, which take every other address
    scripts = "".join(f'<script src="/chores/part/{name}"></script>' for name in ("theme.js", "page.js", "typed.js"))
    ui.add_head_html(f'<link rel="stylesheet" href="/chores/look.css">{scripts}', shared=True)
    running: list[asyncio.Task[None]] = []
    app.on_startup(lambda: running.append(asyncio.create_task(board.run())))

    ended: list[bool] = []

    def stop() -> None:
        if ended:
            return
        ended.append(True)
        for task in running:
            task.cancel()
        addresses.close()
        pictures.close()
        board.close()

    app.on_shutdown(stop)
    failures(app)

    @app.get("/made/{digest}/{kind}")
    def made(digest: str, kind: str) -> Response:
        path = board.solids.file(digest, kind)
        if path is None:
            return Response("There is no such file.", status_code=404, media_type="text/plain")
        return FileResponse(path, filename=path.name)

    @app.get("/take/play/{name}")
    def played(name: str) -> Response:
        path = board.folder / READINGS / name
        if name not in PLAYED or not path.is_file():
            return Response("There is no such file.", status_code=404, media_type="text/plain")
        return FileResponse(path, media_type="audio/wav", headers={"cache-control": "no-cache"})

    inbox = Inbox(board.folder)

    @app.post("/take/send")
    async def taken(request: Request, id: str = "", name: str = "", at: int = 0, whole: int = 0) -> Response:  # noqa: A002
        piece = await request.body()
        try:
            kept, there = await run_in_threadpool(inbox.take, id, name, at, whole, piece)
            return JSONResponse({"kept": kept, "there": there})
        except (InputError, OSError) as error:
            return JSONResponse({"error": error.strerror if isinstance(error, OSError) else str(error)})

    @ui.page("/")
    @ui.page("/{_:path}")
    def page(request: Request) -> None:
        _forget_unopened()
        width = request.cookies.get("backwave-width", "")
        phone = "Mobi" in request.headers.get("user-agent", "")
        tab = Tab(board, int(width) < NARROW if width.isdigit() else phone)
        tab.addresses, tab.device = addresses, request.state.device
        client = context.client

        def resized(width: Any) -> None:
            tab.narrow = int(width) < NARROW
            tab.tell()

        async def measured() -> None:  # what the cookie says is as old as the last page
            with contextlib.suppress(TimeoutError):
                wide = int(await client.run_javascript("innerWidth"))
                if (wide < NARROW) != tab.narrow:
                    with client:
                        resized(wide)

        client.on_connect(measured)
        ui.on("backwave-width", lambda event: resized(event.args))
        ui.on("backwave-step", lambda event: board.step(event.args))
        page_frame.shell(tab, _routes(tab))

        def tell() -> None:
            with client:
                tab.tell()

        client.on_delete(board.watch(tell))

    return stop


PAGES = {  # what shows each address: a function of a file under pages/, loaded when it is first opened
    "/": "job:job", "/start": "start:answer", "/why/{one}": "job:why", "/devices": "job:devices",
    "/survey": "survey:survey", "/survey/{one}": "survey:survey", "/survey/{one}/{two}": "survey:survey",
    "/section": "fit:section", "/section/{one}": "fit:section", "/face": "fit:face", "/face/{one}": "fit:face",
    "/part": "part:part", "/part/{one}": "part:part", "/sound": "sound:sound",
    "/wires": "wires:wires", "/wires/{one}": "wires:wires", "/proof": "proof:proof", "/work": "work:work",
}  # fmt: skip


def _routes(here: Tab) -> dict[str, Callable[..., None]]:
    def show(where: str, *said: str) -> None:
        if here.board.session is None:
            where, said = "start:begin" if here.board.repair is None else "start:repair", ()
        module, _, name = where.partition(":")
        try:
            getattr(import_module(f"backwave.bench.pages.{module}"), name)(here, *said)
        except Exception as error:  # noqa: BLE001 - whatever it was, the page says it, and the frame stays
            context.slot.parent.clear()
            here.leave()
            show_failure(error, f"/{name}")

    def shows(address: str, where: str) -> Callable[..., None]:
        ways: tuple[Callable[..., None], ...] = (
            lambda: show(where), lambda one: show(where, one), lambda one, two: show(where, one, two)
        )  # fmt: skip
        return ways[address.count("{")]  # the framework reads the names of an address's parts off the function

    return {address: shows(address, where) for address, where in PAGES.items()}


def _forget_unopened() -> None:
    """Pages that were built and that no browser came back to hold some megabytes each: the oldest go."""
    idle = [client for client in Client.instances.values() if not client.has_socket_connection]
    for client in sorted(idle, key=lambda one: one.created)[: max(0, len(idle) - MAX_UNOPENED)]:
        # The library would delete it once more after its patience with the browser.
        for document in tuple(client._delete_tasks):
            client._cancel_delete_task(document)
        client.delete()


def _colors() -> str:
    """The drawings' colors for the page; a choice made in the page goes before the system's."""
    plain = {name: "".join(f"--page-{role}:{c};" for role, c in THEMES[name].items()) + f"color-scheme:{name}"
             for name in ("light", "dark")}  # fmt: skip
    own = "".join(f"--bw-{role}:var(--page-{role});" for role in THEMES["light"])
    return (
        f":root{{{plain['light']}}}:root[data-theme=dark]{{{plain['dark']}}}"
        f"@media(prefers-color-scheme:dark){{:root:not([data-theme=light]){{{plain['dark']}}}}}"
        f"html body,html body .bw-auto-px{{{own}}}"
    )


def _free(host: str, port: int) -> int:
    with socket.socket() as one:
        if sys.platform != "win32":
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            one.bind((host, port))
        except OSError as error:
            raise InputError("port", port, f"one that is free ({error.strerror}); --port 0 finds one") from None
        return int(one.getsockname()[1])
