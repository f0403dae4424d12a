"""How the command line shows things: findings worst first, numbers in the units the person chose, charts as files."""

from __future__ import annotations

import json
import os
import re
import sys
import textwrap
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.markup import escape

from backwave.atomic_write import write_whole
from backwave.errors import InputError
from backwave.finding import Check, Finding, Message, Verdict, figure, verdict_line, words
from backwave.plain_text import plain_text

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from backwave.assess.next_steps import FindingGroup
    from backwave.drawing.chart import Chart
    from backwave.report.blocks import Block, Cell

JobFolder = Annotated[Path, typer.Argument(help="The job folder.")]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")]

# C1 controls, lone surrogates, line separators and bidirectional overrides; the C0 controls JSON escapes itself.
_UNSEEN = re.compile("[\x7f-\x9f\ud800-\udfff\u2028\u2029\u202a-\u202e\u2066-\u2069]")
# Shape and word as well as hue.
MARKS: dict[Verdict, tuple[str, str]] = {
    "ok": ("✓ ok", "green"),
    "caution": ("! caution", "yellow"),
    "stop": ("✕ STOP", "bold red"),
}


def console() -> Console:
    """Where a person reads: stdout, in color on a terminal."""
    return _console_class()(highlight=False, soft_wrap=False)


def messages() -> Console:
    """Where progress and remarks go: stderr."""
    return _console_class()(stderr=True, highlight=False)


@cache
def _console_class() -> type[Console]:
    """A console that no text of a job reaches raw: whatever is rendered is cleaned, its own colors stay."""
    from rich.console import Console
    from rich.segment import Segment

    class Plain(Console):
        def render(self, renderable: Any, options: Any = None) -> Iterable[Segment]:
            for one in super().render(renderable, options):
                yield one if one.control else Segment(plain_text(one.text, lines=True), one.style)

    return Plain


def document(value: Any, *, indent: int | None = 2) -> None:
    """One JSON document on stdout and nothing else there; NaN and infinities never leave. Without an indent long curves
    are written ten times as fast. What a terminal would obey, and what it cannot show, is written as JSON's own
    escapes, so that nothing is lost."""
    plain = (sys.stdout.encoding or "").lower().replace("-", "") != "utf8"
    text = json.dumps(value, indent=indent, ensure_ascii=plain, allow_nan=False)
    sys.stdout.write(_UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text) + "\n")


def verdict_exit(checks: Iterable[Check]) -> typer.Exit:
    """The end of a command that judged: exit code 1 where something says stop."""
    return typer.Exit(1 if any(check.verdict == "stop" for check in checks) else 0)


def fill(text: Message | None, system: str = "metric") -> str:
    """A template with its quantities in the units the person chose."""
    return words(text, system) or ""


def verdict_word(verdict: Verdict) -> str:
    """The verdict with its mark, styled."""
    word, style = MARKS[verdict]
    return f"[{style}]{word}[/]"


def table(heads: Sequence[str], rows: Iterable[Iterable[str]] = (), right: Collection[str] | None = None) -> Table:
    """A table without lines, of cells in markup.  `right`: columns that stand right; None: all but the first."""
    from rich.table import Table

    made = Table(box=None, show_header=any(heads), header_style="dim", pad_edge=False, padding=(0, 2, 0, 0))
    for n, head in enumerate(heads):
        at_right = n > 0 if right is None else head in right
        made.add_column(escape(head), justify="right" if at_right else "left", overflow="fold")
    for row in rows:
        made.add_row(*row)
    return made


def blocks(found: Iterable[Block]) -> None:
    """Print a report for a person; its drawings are files."""
    from rich.table import Table

    out = console()
    for one in found:
        kind = one["kind"]
        if kind == "sub":
            out.print(f"\n[bold]{escape(one['text'])}[/]")
        elif kind in ("par", "small"):
            out.print(f"[dim]{escape(one['text'])}[/]" if kind == "small" else escape(one["text"]))
        elif kind == "together":
            blocks(one["blocks"])
        elif kind == "table":
            _rows(one["head"], one["widths"], one["rows"], one["right"])
        elif kind == "labels":
            _rows(("wire", "here", "there"), (1, 1, 1), one["rows"], ())
        elif kind in _SIGNS or kind in ("facts", "step"):
            made = Table.grid(padding=(0, 2, 0, 0))
            if kind == "facts":
                rows = [(f"[dim]{escape(name)}[/]", _cell(said)) for name, said in one["rows"]]
            elif kind == "step":
                shown = ", ".join(caption for _, caption in one["pictures"])
                said = {"text": one["text"], "lines": [one["about"], shown], "ref": one["ref"]}
                rows = [(f"  {escape(one['number'])}", _cell(said))]
            else:
                rows = [(f"  {_SIGNS[kind]}", _cell(line)) for line in one.get("items", (one.get("text"),))]
            for row in rows:
                made.add_row(*row)
            out.print(made)


_SIGNS = {"list": "–", "columns": "–", "boxes": "□", "caution": "▲"}


def _rows(head: Sequence[str], widths: Sequence[float], rows: Iterable[Sequence[Cell]], right: Collection[int]) -> None:
    """Print a table whose words and numbers are never broken, be it wider than the terminal; the widest column bears the
    names of groups."""
    made, held, out, whole = table((), ()), [list(row) for row in rows], console(), 0
    for n, name in enumerate(head):
        texts = [name, *(line for row in held if len(row) > 1 for line in _plain(row[n]))]
        least = max((len(word) for text in texts for word in text.split()), default=1)
        made.add_column(escape(name), justify="right" if n in right else "left", overflow="fold", min_width=least)
        whole += least + 2
    widest = max(range(len(head)), key=lambda n: widths[n])
    for row in held:
        cells = [""] * len(head)
        if len(row) == 1:
            cells[widest] = f"[bold]{escape(str(row[0]))}[/]"
        made.add_row(*(cells if len(row) == 1 else map(_cell, row)))
    out.print(made, width=max(whole, out.width), crop=False, no_wrap=True)


def _plain(said: Cell) -> list[str]:
    """The lines of a cell."""
    if isinstance(said, str):
        return [said]
    return [
        said.get("text", ""),
        said.get("after", ""),
        *said.get("rows", ()),
        *said.get("lines", ()),
        said.get("ref", ""),
    ]


def _cell(said: Cell) -> str:
    """A cell in markup."""
    if isinstance(said, str):
        return escape(said)
    head = [verdict_word(said["mark"])] if "mark" in said else []
    head += ["☑" if said["tick"] else "☐"] if "tick" in said else []
    text = escape(said.get("text", ""))
    head += [f"[bold]{text}[/]" if said.get("bold") else text]
    head += [f"[dim]{escape(said['after'])}[/]"] if "after" in said else []
    small = [f"[dim]{escape(line)}[/]" for line in (*said.get("lines", ()), said.get("ref", "")) if line]
    return "\n".join(filter(None, (" ".join(filter(None, head)), *map(escape, said.get("rows", ())), *small)))


_UNIT = re.compile(
    r"(?<=\d) (?=(?:mm|cm|m|in|ft|kg|g|N|Nm|V|A|W|Ω|ohm|Hz|kHz|dB|L|%|min|h|s|µF|uF|mH|AWG|of)[\d²³]?\b|%)"
)
GLUE = "\u00a0"  # within a name, an id, a number with its unit: no line ends there


def folded(text: str, names: Iterable[str] = (), first: str = "", rest: str = "  ", wide: bool = False) -> list[str]:
    """A text as lines of the terminal's width, or one line where it is `wide`; no id, name or number with its unit is
    split."""
    for name in names:
        if " " in name and len(name) < 40:
            text = text.replace(name, name.replace(" ", GLUE))
    text = _UNIT.sub(GLUE, text)
    width = 10_000 if wide else max(40, console().width)
    lines = textwrap.wrap(
        text, width, initial_indent=first, subsequent_indent=rest, break_long_words=False, break_on_hyphens=False
    )
    return [line.replace(GLUE, " ") for line in lines]


def said(
    text: str, names: Iterable[str] = (), first: str = "", rest: str = "  ", style: str = "", wide: bool = False
) -> list[str]:
    """A text so folded, as lines of markup."""
    lines = map(escape, folded(text, names, first, rest, wide))
    return [f"[{style}]{line}[/]" for line in lines] if style else [*lines]


def unbroken(found: Iterable[str]) -> str:
    """Ids so that each stays whole, to be copied."""
    return "  ".join(one.replace(" ", GLUE) for one in found)


def put(lines: Iterable[str]) -> None:
    """Print lines of markup as they are."""
    out = console()
    for line in lines:
        out.print(line, soft_wrap=True)


def finding_lines(group: FindingGroup, system: str, names: dict[str, str], *, wide: bool = False) -> list[str]:
    """One line of findings: what was found, with value and limit where the words lack them; what to do; ids."""
    check = group.check
    mark, style = MARKS[check.verdict]
    more_of = figure(check, system)
    text = f"{mark}  {group.name}: {verdict_line(check, system)}" + (more_of and f" ({more_of})")
    head, *more = folded(text, names.values(), wide=wide)
    lines = [f"[{style}]{escape(head[: len(mark)])}[/]{escape(head[len(mark) :])}", *map(escape, more)]
    if check.remedy is not None:
        lines += said(f"→ {fill(check.remedy, system)}", names.values(), "  ", wide=wide)
    return [*lines, *said(unbroken(group.ids), (), "  ", style="dim", wide=wide)]


def findings(found: Iterable[Finding], system: str, names: dict[str, str]) -> list[FindingGroup]:
    """Print those that are not `ok`, twins in one line; returns what was shown. `names` maps subjects to what a person
    calls them ("front-door.left" to "Front door, left")."""
    from backwave.assess.next_steps import grouped

    shown = [group for group in grouped(found, names) if group.check.verdict != "ok"]
    put(line for group in shown for line in finding_lines(group, system, names))
    return shown


def relative(path: Path) -> str:
    """A path as short as it can be said from here, for a console: its brackets are no markup."""
    try:
        return escape(plain_text(str(Path(os.path.abspath(path)).relative_to(Path.cwd()))))
    except ValueError:
        return escape(plain_text(str(path)))


def written(*paths: Path) -> None:
    """Say which files were written."""
    for path in paths:
        messages().print(relative(path), soft_wrap=True)


def save_svgs(folder: Path, drawings: dict[str, str]) -> list[Path]:
    """Write drawings under their names without the ending, and return their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    return [write_whole(folder / f"{name}.svg", svg.encode()) for name, svg in drawings.items()]


def save_charts(folder: Path, charts: dict[str, Chart]) -> list[Path]:
    """Write charts as SVG to be printed, and return their paths."""
    from backwave.drawing.chart import chart_svg

    return save_svgs(folder, {name: chart_svg(chart, "paper") for name, chart in charts.items()})


def save_chart(path: Path, chart: Chart) -> None:
    """Write one chart where it was asked for, and say so."""
    if path.suffix.lower() != ".svg":
        raise InputError("name of the chart's file", path.name, "a name that ends in .svg")
    from backwave.drawing.chart import chart_svg

    path.parent.mkdir(parents=True, exist_ok=True)
    written(write_whole(path, chart_svg(chart, "paper").encode()))


@contextmanager
def reading_bar(*, quiet: bool) -> Iterator[Callable[[float, str], None] | None]:
    """A bar on a terminal, nothing elsewhere."""
    out = messages()
    if quiet or not out.is_terminal:
        yield None
        return
    from rich.progress import Progress

    with Progress(console=out, transient=True) as progress:
        task = progress.add_task("reading", total=1.0)

        def tell(share: float, what: str) -> None:
            progress.update(task, completed=share, description=what or "reading")

        yield tell
