"""The frame round every place: the places along the side, the job and its verdict, undo, saved or not, what conflicts."""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from html import escape
from typing import Any

from nicegui import context, ui
from nicegui.element import Element

from backwave.assess import Assessment
from backwave.bench.access import AccessDevice, Addresses
from backwave.bench.board import Board
from backwave.bench.widgets import StateLine, button, link, listed, text
from backwave.errors import JobError
from backwave.job.toml_spans import at, lines_of, path_of, written
from backwave.job.undo import Conflict

OPENING = ("/section", "/face", "/part")  # the three views of one opening's page
PLACES = (
    ("/", "Job", "M3 10 L10 4 L17 10 V17 H3 Z"),
    ("/survey", "Measure", "M3 6 V14 M17 6 V14 M3 10 H17 M6 8 L3 10 L6 12 M14 8 L17 10 L14 12"),
    (OPENING[0], "Opening", "M3 4 V16 M8 4 V8 H13 V12 H8 V16 M17 4 V16"),
    ("/sound", "Sound", "M2 14 C5 14 6 6 9 7 S14 9 18 4 M2 17 H18"),
    ("/wires", "Wires", "M2 5 H7 V15 H13 M13 12 H18 V18 H13 Z M7 10 H18"),
    ("/work", "To do", "M3 5 H6 V8 H3 Z M9 6.5 H17 M3 12 H6 V15 H3 Z M9 13.5 H17"),
    ("/proof", "Proof", "M2 16 C6 16 6 10 10 10 S14 5 18 5 M2 11 C5 11 6 5 10 5 M13 15 L15 17 L18 12"),
)
MORE = ("/sound", "/wires", "/proof")  # a phone's bar has room for five: these open from its last
ASKS = {
    "/": "What is this, how far along, what is open?", "/survey": "What have I measured, how sure?",
    "/sound": "What will each stage bring?", "/wires": "What goes to what, how thick, which fuse?",
    "/work": "Who does what when?", "/proof": "Did it work?",
}  # fmt: skip
MARK = {"ok": "✓", "caution": "!", "stop": "✕", "checking": "…"}
WORD = {"ok": "OK", "caution": "Caution", "stop": "Stop", "checking": "Checking"}


class Tab:
    def __init__(self, board: Board, narrow: bool) -> None:
        self.board, self.narrow = board, narrow
        # who may open the workbench; None where a page is built without a server
        self.addresses: Addresses | None = None
        self.device: AccessDevice | None = None  # whose tab it is
        self.top = "/"  # the place that is open
        self.opening = OPENING[0]  # the address of the opening that was looked at last, in its view
        self._frame: list[Callable[[], None]] = []
        self._place: list[Callable[[], None]] = []

    def live(self, show: Callable[[], None], *, frame: bool = False) -> None:
        """Show something now and whenever anything changes, as long as its place is open."""
        show()
        (self._frame if frame else self._place).append(show)

    def leave(self) -> None:
        self._place.clear()

    def tell(self) -> None:
        for show in (*self._frame, *self._place):
            show()

    def news(self, held: dict[str, Any], result: object) -> bool:
        """Whether a result, or the width, is another than what was shown last; notes what is shown now. `held`: where
        that is noted, under "shown"; None there: shown anew in any case."""
        was = held.get("shown")
        if was is not None and was[0] is result and was[1] == self.narrow:
            return False
        held["shown"] = (result, self.narrow)
        return True

    @property
    def system(self) -> str:
        return "metric" if self.board.session is None else self.board.session.job.file.show


def _tool(sign: str, words: str, do: Callable[[], Any]) -> Element:
    """A button of the frame; on a phone its sign alone is seen."""
    made = ui.element("button").classes("tool").props('type="button"')
    with made:
        text("span", sign)
        text("span", f"\u00a0{words}", "words")
    made.on("click", lambda _: do(), [])
    return made


def verdict(word: str) -> str:
    """A verdict as a mark with its word."""
    return f"{MARK[word]} {WORD[word]}"


def overall(result: Assessment) -> str:
    """The word for the whole of a job: by first order alone none that is better than what comes."""
    return "checking" if result.preliminary and result.verdict != "stop" else result.verdict


def saved_or_not(board: Board) -> str:
    """Whether the job file has all that was done here, in a word; "" where there is no job."""
    return "" if board.session is None else "saved" if board.session.saved else "saving …"


def shell(here: Tab, routes: dict[str, Callable[..., None]]) -> None:
    board = here.board
    router = context.client.sub_pages_router
    with ui.element("div").classes("shell"):
        link("Skip to the content", "#content", "skip")
        with ui.element("header").classes("top"):
            with ui.element("div").classes("whose"):
                title = text("span", "", "title")
                seal = link("", "/", "seal")
                state = StateLine(sha256(str(board.folder.resolve()).encode()).hexdigest()[:16]).classes("state")
            with ui.element("div").classes("tools"):
                stopper = _tool("■", "Stop", board.stop)
                stopper.set_visibility(False)
                back = _tool("↶", "Undo", lambda: board.step("undo"))
                forth = _tool("↷", "Redo", lambda: board.step("redo"))
                theme = text("button", "◐", "tool")
                theme.props('type="button" aria-label="Light or dark"')
                theme.on("click", js_handler="() => backwaveTheme()")
        ways = ui.html("", sanitize=False, tag="nav").classes("places").props('aria-label="Places"')
        with ui.element("div").classes("content").props('id="content" tabindex="-1"'):  # in the library's own <main>
            alarm = ui.element("div").classes("alarms")
            asks = text("p", "", "asks")
            ui.sub_pages(routes).classes("w-full place")
            link("Devices that have access", "/devices", "devices-way")
    ways.set_visibility(board.repair is None)

    def mark(path: str) -> None:
        path = "/" + path.partition("#")[0].strip("/")
        top = "/" + path.split("/")[1]
        if top in OPENING:
            here.opening, top = path, OPENING[0]
        here.top = top
        asks.say(ASKS.get(top, "") if board.session is not None else "")
        look()

    def look() -> None:
        if (made := places(here.top, here.opening, board.result)) != ways.content:
            ways.content = made

    def moved(path: str) -> None:
        here.leave()
        mark(path)

    router.on_path_changed(moved)
    mark(router.current_path)
    shown: list[Any] = [None]

    def tell() -> None:
        session, result = board.session, board.result
        nothing = "A new job" if board.repair is None else "A job to put right"
        title.say(nothing if session is None else session.job.file.title)
        word = "" if result is None else overall(result)
        seal.say("" if session is None else verdict(word) if word else "… working it out")
        seal.classes(replace="seal " + ("hidden" if session is None else word))
        words = saved = saved_or_not(board)
        if session is not None and result is not None and not board.whole:
            words += " · refining" if result.preliminary else " · sound and wires follow"
        if busy := "" if session is None else board.busy:
            words = f"{saved} · working out {busy}"
        state.say(words=words)
        if stopper.visible is not bool(busy):
            stopper.set_visibility(bool(busy))
        for made, name, can, what in (
            (back, "Undo", session is not None and session.can_undo, session.undo_label if session else ""),
            (forth, "Redo", session is not None and session.can_redo, session.redo_label if session else ""),
        ):
            held = {"disabled": not can, "title": what, "aria-label": f"{name} {what}".strip()}
            if any(made._props.get(k) != v for k, v in held.items()):
                made._props.update(held)
                made.update()
        wrong = () if session is None else (session.faults, board.trouble, session.conflict, session.said, board.others)
        if wrong != shown[0]:
            shown[0] = wrong
            alarm.clear()
            with alarm:
                _alarms(board)
        look()

    here.live(tell, frame=True)


def places(top: str, opening: str, result: Assessment | None) -> str:
    """The ways to the places, as HTML; that of the opening bears its name. `opening`: the address it leads to."""
    fits = () if result is None else result.places
    subject = opening.removeprefix("/").partition("/")[2]
    named = next((p.name for p in fits if p.subject == subject or not subject), "")
    ways = []
    for path, name, icon in PLACES:
        here = ' aria-current="page"' if path == top else ""
        look = "way" + (" here" if here else "") + (f" rest rest-{MORE.index(path)}" if path in MORE else "")
        to, said = (opening, named or name) if path == OPENING[0] else (path, name)
        ways.append(f'<a class="{look}" href="{escape(to)}"{here}>{_sign(icon)}<span>{escape(said)}</span></a>')
    dots = _sign("M4 10 H4.1 M10 10 H10.1 M16 10 H16.1")
    more = f'<button type="button" class="way more{" here" if top in MORE else ""}" aria-expanded="false">{dots}<span>More</span></button>'
    return "".join(ways) + more


def _sign(icon: str) -> str:
    return f'<svg viewBox="0 0 20 20" width="22" height="22" aria-hidden="true"><path d="{icon}"/></svg>'


def _versions(conflict: Conflict) -> None:
    """What each of the two says where they do not go together."""

    def says(version: str, key: str) -> str:
        try:
            data = lines_of(version).data
        except JobError:
            return "cannot be read yet"
        path = path_of(data, key)
        return "" if path is None else written(at(data, path))

    with ui.element("table").classes("clash"):
        with ui.element("thead"), ui.element("tr"):
            for words in ("", "Done here", "In the file"):
                text("th", words)
        with ui.element("tbody"):
            for key in conflict.keys[:8]:
                with ui.element("tr"):
                    text("th", key).props('scope="row"')
                    text("td", says(conflict.mine, key), "figure")
                    text("td", says(conflict.theirs, key), "figure")


def _alarms(board: Board) -> None:
    session = board.session
    if session is None:
        return
    for heading, problems in (
        ("The file was edited elsewhere and is not right yet. The last good job is shown.", session.faults),
        ("This cannot be worked out yet. The last good answer is shown.", board.trouble),
    ):
        if problems:
            with ui.element("section").classes("alarm").props('role="alert"'):
                text("strong", heading)
                listed(
                    (f"line {p.line}: " if p.line else "") + f"{p.key} {p.message}".strip() + (f": {p.found}" if p.found else "")
                    + (f". Accepted: {p.accepted}" if p.accepted else "")
                    for p in problems[:6]
                )  # fmt: skip
    if session.conflict is not None:
        both = "The same thing was changed here and in the file. Nothing is lost; which one goes into the job?"
        with ui.element("section").classes("alarm").props('role="alert"'):
            text("strong", both)
            _versions(session.conflict)
            with ui.element("div").classes("row"):
                button("Keep what was done here", lambda: board.resolve("mine"), "plain")
                button("Keep the file", lambda: board.resolve("theirs"), "plain")
    for said in (session.said, *board.others):
        if said:
            with ui.element("section").classes("alarm mild").props('role="status"'):
                text("span", said)
