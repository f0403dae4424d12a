"""How the command line shows things: findings worst first, numbers in the units the person chose."""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from backwave.plain_text import plain_text

if TYPE_CHECKING:
    from rich.console import Console

    from backwave.finding import Finding, Message, Verdict

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
    """One JSON document on stdout and nothing else there; NaN and infinities never leave.

    Without an indent long curves are written ten times as fast.  What a terminal would obey, and what it cannot show, is
    written as JSON's own escapes, so that nothing is lost.
    """
    plain = (sys.stdout.encoding or "").lower().replace("-", "") != "utf8"
    text = json.dumps(value, indent=indent, ensure_ascii=plain, allow_nan=False)
    sys.stdout.write(_UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text) + "\n")


def fill(text: Message | None, system: str) -> str:
    """A template with its quantities in the units the person chose."""
    from backwave.finding import words

    return words(text, system) or ""


def verdict_word(verdict: Verdict) -> str:
    """The verdict with its mark, styled."""
    word, style = MARKS[verdict]
    return f"[{style}]{word}[/]"


def findings(out: Console, items: Sequence[Finding], system: str, *, names: dict[str, str]) -> None:
    """A table of findings, worst first, each with its value, its limit and what to do.

    `names` maps subjects to what a person calls them ("front-door.left" to "Front door, left").
    """
    from rich.markup import escape
    from rich.table import Table

    from backwave.finding import figures, verdict_line

    table = Table(box=None, show_header=True, header_style="dim", pad_edge=False, padding=(0, 2, 1, 0), expand=True)
    table.add_column("", no_wrap=True)
    table.add_column("finding", ratio=1)
    table.add_column("value", justify="right", no_wrap=True)
    table.add_column("limit", justify="right", no_wrap=True)
    for item in items:
        check = item.check
        words = f"[bold]{escape(names.get(item.subject, item.subject))}[/]  {escape(verdict_line(check, system))}"
        if check.remedy is not None:
            words += f"\n→ {escape(fill(check.remedy, system))}"
        words += f"\n[dim]{escape(item.id)}[/]"
        value, ends, limit = figures(check, system)
        table.add_row(verdict_word(check.verdict), words, value + (ends and f"\n[dim]{ends}[/]"), limit)
    out.print(table)


def relative(path: Path) -> str:
    """A path as short as it can be said from here, for a console: its brackets are no markup."""
    from rich.markup import escape

    try:
        return escape(plain_text(str(Path(os.path.abspath(path)).relative_to(Path.cwd()))))
    except ValueError:
        return escape(plain_text(str(path)))


def bullet(out: Console, lines: Iterable[str]) -> None:
    """A plain list."""
    from rich.markup import escape

    for line in lines:
        out.print(f"  • {escape(line)}")
