"""Elements of ours on the page: texts, links, buttons, tables; inputs bound to a key path; drawings to take hold of, charts."""

from __future__ import annotations

import asyncio
import inspect
from collections.abc import Awaitable, Callable, Iterable, Sequence
from functools import cache, partial
from html import escape
from pathlib import Path
from typing import Any

import numpy as np
from nicegui import ui
from nicegui.element import Element

from backwave.bench.board import GLANCE_S
from backwave.crash import ending
from backwave.drawing.chart import Chart, chart_svg
from backwave.errors import Problem
from backwave.report.blocks import Block, Cell, table

ANSWER_S = GLANCE_S + 0.03  # later than the page is told of an edit: "saved" from before it is gone by then
PLACES = {"dB": 1, "mm": 2, "ohm": 2}


class Words(ui.html):
    def __init__(self, tag: str, words: str = "", classes: str = "", **props: str) -> None:
        super().__init__(escape(words), sanitize=False, tag=tag)
        self.classes(classes)
        self._props.update({k.replace("_", "-"): v for k, v in props.items()})

    def say(self, words: str) -> None:
        if (content := escape(words)) != self.content:
            self.content = content


text = Words


def link(words: str, to: str, classes: str = "", **props: str) -> Words:
    return text("a", words, classes, href=to, **props)


def button(words: str, do: Callable[[], Any], classes: str = "", **props: str) -> Words:
    made = text("button", words, classes, **{"type": "button"} | props)
    made.on("click", lambda _: do(), [])
    return made


def status(classes: str = "note") -> Words:
    """A line that says what came of something, to a screen reader too."""
    return text("p", "", classes, role="status")


def listed(lines: Iterable[str], tag: str = "ul") -> None:
    with ui.element(tag):
        for line in lines:
            text("li", line)


def way(words: str, to: str, chosen: bool) -> None:
    """A link among others, of which one is open now."""
    link(words, to, "chip here" if chosen else "chip", **({"aria-current": "page"} if chosen else {}))


class ProgressBar:
    """How far something long is, and the button that stops it; neither is seen where nothing is done."""

    def __init__(self, label: str, stop: Callable[[], Any], classes: str = "") -> None:
        self._bar = ui.element("progress").props(f'max="1" aria-label="{label}"')
        self._stop = button("Stop", stop, classes)

    def say(self, share: float | None) -> None:
        self._bar.set_visibility(share is not None)
        self._stop.set_visibility(share is not None)
        if share is not None and self._bar._props.get("value") != round(share, 2):
            self._bar._props["value"] = round(share, 2)
            self._bar.update()


def facts(rows: Iterable[tuple[str, str]], classes: str = "figure") -> None:
    with ui.element("dl").classes("facts"):
        for name, value in rows:
            text("dt", name)
            text("dd", value, classes)


def blocks(found: Iterable[Block]) -> None:
    """A report; its drawings are elements of the page."""
    label = ""
    for one in found:
        kind = one["kind"]
        if kind == "sub":
            label = one["text"]
            text(f"h{one['level']}", label).style("margin-top: 18px")
        elif kind in ("par", "small", "caution"):
            text("p", ("▲ " if kind == "caution" else "") + one["text"], "note" if kind == "small" else "")
        elif kind in ("list", "columns", "boxes"):
            listed(one["items"])
        elif kind == "together":
            blocks(one["blocks"])
        elif kind == "facts":
            facts(one["rows"], "")
        elif kind == "table":
            _rows(label, one)
        elif kind == "labels":
            with ui.element("details"):
                text("summary", f"{len(one['rows'])} labels")
                _rows(label, table("wire | here | there", one["rows"]))


def fill(box: Element, found: Iterable[Block]) -> None:
    """Put a report into a box, in place of what it held."""
    box.clear()
    with box:
        blocks(found)


def _rows(label: str, one: Block) -> None:
    """A table that a phone can push aside, in one element of the page."""
    made = ui.html(table_html(one), sanitize=False).classes("scroll")
    made.props(f'tabindex="0" role="region" aria-label="{escape(label)}"')


def table_html(one: Block) -> str:
    """A table of a report; its columns that have a share of the width wrap."""
    roomy, heads = ' style="white-space: normal; min-width: 11em"', one["head"]
    look = [' class="figure right"' if n in one["right"] else "" for n in range(len(heads))]
    marks = [mark + roomy * (share > 0) for mark, share in zip(look, one["widths"], strict=True)]

    def line(row: Sequence[Cell], tags: Sequence[str]) -> str:
        cells = zip(tags, marks, map(_cell, row), strict=True)
        return "<tr>" + "".join(f"<{tag}{mark}>{said}</{tag[:2]}>" for tag, mark, said in cells) + "</tr>"

    tags = ['th scope="row"', *["td"] * (len(heads) - 1)]
    group = '<tr><th scope="rowgroup" colspan="{}">{}</th></tr>'
    body = "".join(line(row, tags) if len(row) > 1 else group.format(len(heads), _cell(row[0])) for row in one["rows"])
    head = line(heads, ['th scope="col"'] * len(heads))
    return f'<table style="white-space: nowrap"><thead>{head}</thead><tbody>{body}</tbody></table>'


def _cell(said: Cell) -> str:
    """A cell as HTML."""
    if isinstance(said, str):
        return escape(said)
    mark, text_ = said.get("mark", ""), escape(said.get("text", ""))
    head = [f'<span class="mark {mark}">{mark}</span>'] if mark else []
    head += ["☑" if said["tick"] else "☐"] if "tick" in said else []
    head += [f"<strong>{text_}</strong>" if said.get("bold") else text_]
    small = [
        f'<span class="note">{escape(line)}</span>' for line in (said.get("after", ""), *said.get("lines", ())) if line
    ]
    return "<br>".join(filter(None, (" ".join(filter(None, head)), *map(escape, said.get("rows", ())), *small)))


def tick(said: str, do: Callable[[Any], Any]) -> Element:
    """A line to be confirmed, as large as a thumb."""
    with ui.element("label").classes("gate").style("display: flex; gap: 12px; align-items: center; min-height: 44px"):
        box = ui.element("input").props('type="checkbox"').style("width: 24px; height: 24px; flex: none; margin: 0")
        box._props["checked"] = False
        box.on("change", do, js_handler="(e) => emit(e.target.checked)")
        text("span", said)
    return box


class Chips:
    """Buttons of which one or several are pressed."""

    def __init__(self, label: str, pick: Callable[[str], Any]) -> None:
        self._pick = pick
        self._options: dict[str, str] = {}
        self._made: dict[str, Words] = {}
        self._box = ui.element("div").classes("chooser").props(f'role="group" aria-label="{label}"')

    def say(self, options: dict[str, str], pressed: set[str]) -> None:
        if options != self._options:
            self._options = options
            self._box.clear()
            with self._box:
                self._made = {key: button(said, partial(self._pick, key)) for key, said in options.items()}
        for key, made in self._made.items():
            made.classes(replace="chip here" if key in pressed else "chip")
            state = "true" if key in pressed else "false"
            if made._props.get("aria-pressed") != state:
                made._props["aria-pressed"] = state
                made.update()


def problem_words(problems: Sequence[Problem]) -> str:
    """What is wrong with what was typed, beside the field it was typed in."""
    return "; ".join(f"{p.message}" + (f" (accepted: {p.accepted})" if p.accepted else "") for p in problems[:3])


class UpdatableElement(Element):
    """An element of ours whose props are its whole state."""

    def __init__(self, **props: Any) -> None:
        super().__init__()
        self._props.update(props)

    def say(self, **props: Any) -> None:
        """Change what it shows, if anything differs."""
        if changed := {k: v for k, v in props.items() if self._props.get(k) != v}:
            self._props.update(changed)
            self.update()


class _TypedInto(UpdatableElement):
    """What is typed into: each thing entered is answered, whatever came of it; until then no page calls it saved."""

    async def _answer(self, told: dict[str, Any], take: Callable[[], Any], wrong: Callable[[str], None]) -> None:
        client = self.client  # the field may go with its form
        try:
            done = take()
            if inspect.isawaitable(done):
                await done
        except Exception as error:
            wrong(ending(error, "taking in what was typed").words)
            raise
        finally:
            await asyncio.sleep(ANSWER_S)
            client.run_javascript(f"backwaveTyped.answered({int(told['number'])})")


class InputField(_TypedInto, component="field.js"):
    """One input bound to a key: keeps what was typed, shows what was understood, what is assumed, what is wrong."""

    def __init__(self, fid: str, label: str, hint: str = "", kind: str = "text", options: tuple[str, ...] = (), *,
                 on_commit: Callable[[str, str], Awaitable[None] | None], on_lit: Callable[[], None] | None = None,
                 on_try: Callable[[str], None] | None = None, **props: Any) -> None:  # fmt: skip
        super().__init__(**(
            {"fid": fid, "label": label, "hint": hint, "kind": kind, "options": list(options), "value": "",
             "understood": "", "assumed": "", "why": "", "error": "", "required": False, "removable": True,
             "blank": "not said", "unused": False, "tries": on_try is not None, "first": False} | props
        ))  # fmt: skip
        self.on("commit", lambda event: self._committed(event.args, on_commit))
        if on_lit is not None:
            self.on("lit", lambda _: on_lit())
        if on_try is not None:
            self.on("try", lambda event: on_try(event.args["value"]))

    async def _committed(self, told: dict[str, Any], take: Callable[[str, str], Awaitable[None] | None]) -> None:
        await self._answer(told, lambda: take(told["value"], told["seen"]), lambda words: self.say(error=words))


class RowsTable(_TypedInto, component="rows.js"):
    """A table to type in. What happens in a cell comes with its row and its column's key; `row`: what a person calls
    one of them; `many`: rows can be added."""

    def __init__(self, fid: str, label: str, row: str, columns: Sequence[dict[str, Any]], *, many: bool, removable: bool,
                 on_commit: Callable[[int, Any, str, str], Awaitable[None]], on_try: Callable[[int, Any, str], None],
                 on_lit: Callable[[int, Any], None], on_drop: Callable[[int], Any]) -> None:  # fmt: skip
        super().__init__(fid=fid, label=label, row=row, columns=list(columns), rows=[], many=many, removable=removable,
                         lit=-1, tries=True)  # fmt: skip

        async def committed(told: dict[str, Any]) -> None:
            take = partial(on_commit, told["row"], told["key"], told["value"], told["seen"])
            await self._answer(told, take, ui.notify)

        self.on("commit", lambda event: committed(event.args))
        self.on("try", lambda event: on_try(event.args["row"], event.args["key"], event.args["value"]))
        self.on("lit", lambda event: on_lit(event.args["row"], event.args["key"]))
        self.on("drop", lambda event: on_drop(event.args["row"]))


@cache
def sketch(about: str) -> str:
    """The half section of an "opening" or a "speaker", not to scale; each dimension carries the keys it answers to."""
    return (Path(__file__).parent / f"sketch_{about}.svg").read_text(encoding="utf-8")


class SpotPicture(UpdatableElement, component="spots.js"):
    """What is measured, as pictures whose numbers are tapped: an opening's sides from the front, and a sketch whose
    dimensions have `numbers`."""

    def __init__(self, on_pick: Callable[[dict[str, str]], Any]) -> None:
        super().__init__(sides=[], sketch="", numbers={}, chosen="", light="", inches=False, unreadFirst=0)
        self.on("pick", lambda event: on_pick(event.args))


class StateLine(UpdatableElement, component="state.js"):
    """Whether all is saved: what the workbench says, unless something typed in this tab has not reached it. `job`: of
    which job folder; what was typed for another one is not sent here."""

    def __init__(self, job: str) -> None:
        super().__init__(words="", job=job)


class Picture(UpdatableElement, component="picture.js"):
    def __init__(self, svg: str = "", hold: str = "", on_drag: Callable[[dict[str, Any]], Any] | None = None) -> None:
        super().__init__(svg=svg, hold=hold, low=0.0, high=1.0, lit="")
        if on_drag is not None:
            self.on("drag", lambda event: on_drag(event.args))


class Paper(UpdatableElement, component="repair.js"):
    """A file as a text, with what is wrong beside its lines."""

    def __init__(self, on_save: Callable[[str], Awaitable[None]]) -> None:
        super().__init__(text="", problems=[], note="")
        self.on("save", lambda event: on_save(str(event.args)))


class Slider(UpdatableElement, component="slider.js"):
    """A slider with a shaded window."""

    def __init__(self, sid: str, label: str, on_slide: Callable[[dict[str, Any]], Any], **props: Any) -> None:
        super().__init__(**{"sid": sid, "label": label, "low": None, "high": None} | props)
        self.on("slide", lambda event: on_slide(event.args))


class Plot(Picture, component="plot.js"):
    """A chart over frequency that can be read off by pointer, thumb or keyboard, with the numbers behind its lines."""

    def __init__(self, pid: str) -> None:
        super().__init__()
        self._props.update({"pid": pid, "f": [100.0], "lines": [], "lowHz": 20.0, "highHz": 20000.0, "unit": ""})

    def chart(self, chart: Chart, compact: bool, notes: tuple[tuple[str, ...], ...] = ()) -> None:
        f = np.asarray(chart.series[0].f_hz, dtype=float)
        shown = (f >= chart.low_hz * 0.9999) & (f <= chart.high_hz * 1.0001)

        def column(values: Any) -> list[float | None] | None:
            if values is None:
                return None
            return [round(float(v), 3) if np.isfinite(v) else None for v in np.asarray(values, dtype=float)[shown]]

        lines = [
            {"name": one.name, "value": column(one.value), "low": column(one.low), "high": column(one.high),
             "note": [notes[k][i] for i in np.flatnonzero(shown)] if k < len(notes) else None}
            for k, one in enumerate(chart.series)
        ]  # fmt: skip
        self.say(
            svg=chart_svg(chart, "auto", compact=compact), f=[round(float(v), 2) for v in f[shown]], lines=lines,
            lowHz=chart.low_hz, highHz=chart.high_hz, unit="Ω" if chart.unit == "ohm" else chart.unit,
            places=PLACES.get(chart.unit, 2),
        )  # fmt: skip
