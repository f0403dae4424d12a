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

from backwave.atomic_write import write_whole
from backwave.errors import InputError
from backwave.finding import Check, Finding, Message, Verdict, figure, verdict_line, words
from backwave.plain_text import plain_text
from backwave.report import blocks as data
from backwave.report.blocks import Audience, Block, Cell, cell, items

if TYPE_CHECKING:
    from rich.console import Console

    from backwave.assess.next_steps import FindingGroup
    from backwave.drawing.chart import Chart

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


def escape(text: str) -> str:
    """A text that is no markup, whatever it holds; what is written as JSON does without all of rich."""
    from rich.markup import escape as escaped

    return escaped(text)


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
                text = one.text if one.control else plain_text(one.text, lines=True).replace(_HELD, " ")
                yield one if one.control else Segment(text, one.style)

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


def put_table(
    heads: Sequence[str],
    rows: Iterable[Iterable[str]] = (),
    right: Collection[str] | None = None,
    *,
    wide: bool = False,
) -> None:
    """Print a table of plain cells. No name in its first column, and no number with its unit, is broken: it would rather
    be wider than the terminal. `right`: columns that stand right; None: all but the first; `wide`: a row is a line."""
    held = [[re.sub(r"(?<!,) ", _HELD, first), *rest] for first, *rest in rows]
    at_right = {n for n, head in enumerate(heads) if (n > 0 if right is None else head in right)}
    made: Any = {"head": heads, "widths": [1] * len(heads), "rows": held, "right": at_right}
    _rows(made, head=any(heads), wide=wide)


def blocks(found: Iterable[Block], *, wide: bool = False) -> None:
    """Print a report for a person; its drawings are files."""
    for one in found:
        kind, text = one["kind"], one.get("text", "")
        if kind == "sub":
            put(["", *said(text, style="bold")])
        elif kind in ("par", "small"):
            put(said(text, rest="", style="dim" if kind == "small" else ""))
        elif kind == "together":
            blocks(one["blocks"], wide=wide)
        elif kind == "table":
            _rows(one, wide=wide)
        elif kind == "labels":
            _rows(data.table("wire *1 | here *1 | there *1", one["rows"]))
        elif kind == "step":
            shown = ", ".join(caption for _, caption in one["pictures"])
            about = {"text": text, "lines": [one["about"], shown], "ref": one["ref"]}
            _rows(data.table(" | *1", [[f"  {one['number']}", about]]), head=False)
        elif kind in _SIGNS:
            _rows(data.table(" | *1", [[f"  {_SIGNS[kind]}", line] for line in one.get("items", (text,))]), head=False)


_SIGNS = {"list": "–", "boxes": "□", "caution": "▲"}


def _rows(one: Block, *, head: bool = True, wide: bool = False) -> None:
    """Print a table whose words and numbers are never broken, be it wider than the terminal; the widest column bears the
    names of groups."""
    from rich.table import Table

    made = Table(box=None, show_header=head, header_style="dim", pad_edge=False, padding=(0, 2, 0, 0))
    out, whole, many = console(), 0, len(one["head"])
    for n, name in enumerate(one["head"]):
        texts = [name, *(line for row in one["rows"] if len(row) > 1 for line in _plain(row[n]))]
        stuck = [_UNIT.sub(_HELD, text) for text in texts]
        least = max((len(word) for text in stuck for word in ([text] if wide else text.split())), default=1)
        side: Any = "right" if n in one["right"] else "left"
        made.add_column(escape(name), justify=side, overflow="fold", min_width=least)
        whole += least + 2
    widest = max(range(many), key=one["widths"].__getitem__)
    for row in one["rows"]:
        group = (f"[bold]{escape(str(row[0]))}[/]" if n == widest else "" for n in range(many))
        made.add_row(*(group if len(row) == 1 else map(_cell, row)))
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


def _cell(told: Cell) -> str:
    """A cell in markup."""
    if isinstance(told, str):
        return _UNIT.sub(_HELD, escape(told))
    head = [verdict_word(told["mark"])] if "mark" in told else []
    head += ["☑" if told["tick"] else "☐"] if "tick" in told else []
    text = escape(told.get("text", ""))
    head += [f"[bold]{text}[/]" if told.get("bold") else text]
    small = [told.get("after", ""), *told.get("lines", ()), told.get("ref", "")]
    lines = [
        " ".join(filter(None, head)),
        *map(escape, told.get("rows", ())),
        *(f"[dim]{escape(s)}[/]" for s in small if s),
    ]
    return _UNIT.sub(_HELD, "\n".join(filter(None, lines)))


def checks(found: Iterable[Check], told: Audience, *, ok: bool = False) -> None:
    """Print checks that have no subject, those that are not `ok` or all of them, each with what to do."""
    cells = [
        cell(told.say(c.title), f"→ {told.say(c.remedy)}" if c.remedy else "", mark=c.verdict)
        for c in found
        if ok or c.verdict != "ok"
    ]
    blocks([items(cells)] if cells else [])


_UNIT = re.compile(
    r"(?<=\d) (?=(?:mm|cm|m|in|ft|kg|g|N|Nm|V|A|W|Ω|ohm|Hz|kHz|dB|L|%|min|h|s|µF|uF|mH|AWG|of)[\d²³]?\b|%)|(?<=AWG) (?=\d)"
)
_HELD = "\u2800"  # the same in a table, where a line may end at every kind of space
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
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.progress import Progress

    with Progress(console=messages(), transient=True) as progress:
        task = progress.add_task("reading", total=1.0)

        def tell(share: float, what: str) -> None:
            progress.update(task, completed=share, description=what or "reading")

        yield tell
