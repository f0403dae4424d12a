"""Starting the workbench: where it listens, what it prints, the pages and the files it serves."""

from __future__ import annotations

import asyncio
import contextlib
import signal
import socket
import sys
from pathlib import Path
from typing import Any

from fastapi import Request, Response
from fastapi.responses import FileResponse
from nicegui import app, context, ui

import backwave.drawing
from backwave.bench import page_frame as frame
from backwave.bench.access_control import Guard
from backwave.bench.board import Board
from backwave.bench.page_frame import Here
from backwave.bench.pages.work import Lists, work_routes
from backwave.bench.routes import routes
from backwave.drawing.styles import THEMES
from backwave.errors import InputError
from backwave.job.presence import Presence

__all__ = ["NARROW", "serve"]

NARROW = 760  # px: below it drawings are laid out for a phone
_ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 20 20"><rect width="20" height="20" fill="#f7f5ef"/>'
    '<circle cx="10" cy="10" r="7" fill="none" stroke="#1b2830" stroke-width="2"/>'
    '<circle cx="10" cy="10" r="2.5" fill="#0b6a63"/></svg>'
)
_HEAD = """<script>
(() => {
  const root = document.documentElement, kept = localStorage.getItem("backwave-theme");
  root.lang = "en";
  if (kept) root.dataset.theme = kept;
  window.backwaveTheme = () => {
    const dark = (root.dataset.theme || (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light")) === "dark";
    root.dataset.theme = dark ? "light" : "dark";
    localStorage.setItem("backwave-theme", root.dataset.theme);
  };
  const wide = () => { document.cookie = "backwave-width=" + innerWidth + "; SameSite=Strict; Path=/"; };
  wide();
  let was = innerWidth;
  addEventListener("resize", () => {
    wide();
    if ((was < NARROW) !== (innerWidth < NARROW)) emitEvent("backwave-width", innerWidth);
    was = innerWidth;
  });
  new MutationObserver(() => {  // in a row that runs off a phone's edge, what is chosen is seen
    for (const chip of document.querySelectorAll(":is(.chooser, .places) > .here:not([data-seen])")) {
      const row = chip.parentElement.getBoundingClientRect(), own = chip.getBoundingClientRect();
      chip.parentElement.scrollLeft += own.left + own.width / 2 - row.left - row.width / 2;
      chip.dataset.seen = "";
    }
  }).observe(root, { childList: true, subtree: true });
  const reach = (left = 100) => {  // a link leads to a field: as soon as it is there, the focus goes to it
    const id = location.hash.slice(1), found = id && document.getElementById(id);
    if (id && !found && left) setTimeout(reach, 100, left - 1);
    if (!found) return;
    found.scrollIntoView({ block: "center" });
    (found.matches("input, select, fieldset, .content") ? found : found.querySelector("button"))?.focus();
  };
  const push = history.pushState.bind(history);
  history.pushState = (...told) => { push(...told); reach(); };
  for (const event of ["load", "hashchange"]) addEventListener(event, () => reach());
  addEventListener("keydown", (e) => {
    if (!(e.ctrlKey || e.metaKey) || e.target.matches("input, textarea")) return;
    const key = e.key.toLowerCase();
    if (key === "z" || key === "y") { e.preventDefault(); emitEvent("backwave-step", key === "y" || e.shiftKey ? "redo" : "undo"); }
  });
})();
</script>""".replace("NARROW", str(NARROW))


def serve(
    folder: Path, *, port: int = 8137, lan: bool = False, show: bool = True, lists: Lists | None = None
) -> None:
    """Run the workbench of a job folder until it is stopped.

    Parameters
    ----------
    folder : Path, no unit
        The job folder; an empty one starts a new job.
    port : int, no unit
        Where it listens; 0 takes a free one.
    lan : bool, no unit
        Also to other machines of the local network, with a one-time key.
    show : bool, no unit
        Open the reader's browser.
    lists : callable or None, no unit
        Makes the lists of the place Work on paper; None: only the page itself can be printed.

    Raises
    ------
    InputError
        The port is taken.
    """
    board = Board(folder)
    host = "0.0.0.0" if lan else "127.0.0.1"
    port = _free(host, port)
    here = f"http://127.0.0.1:{port}/"
    address = _address()

    def said(key: str) -> None:
        print(f"For one more device: http://{address}:{port}/?key={key}", flush=True)

    guard_key = _setup(board, lan, said, lists)
    print(f"The workbench of {folder}: {here}", flush=True)
    board.presence = Presence(board.folder, port)
    if board.session is not None:
        print("".join(f"{other}\n" for other in board.presence.look()), end="", flush=True)
    _saves_when_its_terminal_goes()
    if board.repair is not None:
        said_wrong = "\n".join(map(str, board.repair.problems))
        print(
            f"The job file is not right yet; put it right in the page, or in a text editor:\n{said_wrong}",
            flush=True,
        )
    if lan:
        print(
            "Open to the local network: anybody there who has the address with its key can see and change this job,\n"
            "and what is sent is not encrypted. Use it on a network you trust. The key works once.\n"
            f"For one device: http://{address}:{port}/?key={guard_key}",
            flush=True,
        )
    print("Stop it with Ctrl+C; what was changed is saved.", flush=True)
    sys.setswitchinterval(0.001)  # the page's loop waits for a computation beside it no longer than this
    # Nothing is packed on its way through this machine: it costs more than it saves.
    packed: dict[str, Any] = {} if lan else {"gzip_middleware_factory": None, "ws_per_message_deflate": False}
    ui.run(
        host=host, port=port, reload=False, show=show, title="backwave", favicon=_ICON, language="en-US",
        tailwind=False, show_welcome_message=False, reconnect_timeout=30, uvicorn_logging_level="warning",
        binding_refresh_interval=None, **packed,
    )  # fmt: skip


def _saves_when_its_terminal_goes() -> None:
    """A closed terminal ends it as Ctrl+C does, unless whoever started it wants it to go on (nohup)."""
    hangup = getattr(signal, "SIGHUP", None)
    if hangup is not None and signal.getsignal(hangup) == signal.SIG_DFL:
        signal.signal(hangup, lambda *_: signal.raise_signal(signal.SIGTERM))


def _setup(board: Board, lan: bool, said: Any, lists: Lists | None) -> str:
    import secrets

    key = secrets.token_urlsafe(16)
    app.add_middleware(Guard, lan=lan, said=said, key=key)
    assets, fonts = Path(__file__).parent, Path(backwave.drawing.__file__).parent / "fonts"
    app.add_static_files("/fonts", fonts)
    style = (assets / "look.css").read_text(encoding="utf-8") + _colors()
    ui.add_css(style, shared=True)
    work_routes(app, board, style, lists)  # before the pages, which take every other address
    ui.add_head_html(_HEAD, shared=True)
    running: list[asyncio.Task[None]] = []
    app.on_startup(lambda: running.append(asyncio.create_task(board.run())))

    def stop() -> None:
        for task in running:
            task.cancel()
        board.close()

    app.on_shutdown(stop)

    @app.get("/made/{digest}/{kind}")
    def made(digest: str, kind: str) -> Response:
        path = board.solids.file(digest, kind)
        if path is None:
            return Response("There is no such file.", status_code=404, media_type="text/plain")
        return FileResponse(path, filename=path.name)

    @ui.page("/")
    @ui.page("/{_:path}")
    def page(request: Request) -> None:
        width = request.cookies.get("backwave-width", "")
        phone = "Mobi" in request.headers.get("user-agent", "")
        tab = Here(board, int(width) < NARROW if width.isdigit() else phone)
        client = context.client

        def resized(width: Any) -> None:
            tab.narrow = int(width) < NARROW
            tab.tell()

        async def measured() -> None:  # on a first visit the width is not known until the page is there
            with contextlib.suppress(TimeoutError):
                wide = int(await client.run_javascript("innerWidth"))
                if (wide < NARROW) != tab.narrow:
                    with client:
                        resized(wide)

        if not width.isdigit():
            client.on_connect(measured)
        ui.on("backwave-width", lambda event: resized(event.args))
        ui.on("backwave-step", lambda event: board.step(event.args))
        frame.shell(tab, routes(tab))

        def tell() -> None:
            with client:
                tab.tell()

        client.on_delete(board.watch(tell))

    return key


def _colors() -> str:
    """The drawings' colors for the page; a choice made in the page goes before the system's."""
    rules = []
    for name, where in (("light", ":root"), ("dark", ":root[data-theme=dark]")):
        rules.append(
            where
            + "{"
            + "".join(f"--page-{r}:{c};" for r, c in THEMES[name].items())
            + f"color-scheme:{name}"
            + "}"
        )
    dark = "".join(f"--page-{r}:{c};" for r, c in THEMES["dark"].items()) + "color-scheme:dark"
    rules.append(f"@media(prefers-color-scheme:dark){{:root:not([data-theme=light]){{{dark}}}}}")
    own = "".join(f"--bw-{r}:var(--page-{r});" for r in THEMES["light"])
    rules.append(f"html body,html body .bw-auto-px{{{own}}}")
    return "".join(rules)


def _free(host: str, port: int) -> int:
    with socket.socket() as one:
        if sys.platform != "win32":
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            one.bind((host, port))
        except OSError as error:
            raise InputError("port", port, f"one that is free ({error.strerror}); --port 0 finds one") from None
        return int(one.getsockname()[1])


def _address() -> str:
    """This machine's address on its network; nothing is sent to find it."""
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        one.connect(("10.255.255.255", 1))
        return str(one.getsockname()[0])
    return "127.0.0.1"
