"""What stands in a report, as plain data: texts, tables, lists, figures by their names, cautions; and who reads it.

A cell is a text, or a text with smaller lines, a verdict's mark, a box to tick, an id that the terminal shows."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from backwave.finding import Check, Message, in_a_word, percent, words
from backwave.notation.measures import in_words, wire_size
from backwave.units import show

Block = dict[str, Any]
Cell = str | dict[str, Any]


@dataclass(frozen=True)
class Audience:
    """Who reads: in which units, and what they call things."""

    system: str  # "metric" or "us"
    names: Mapping[str, str]  # subjects as a person calls them

    def say(self, text: Message | None) -> str:
        """A template filled in; "" for none."""
        return words(text, self.system) or ""

    def name(self, subject: str) -> str:
        """What a person calls a subject; an id that has no name is spoken as it is."""
        spoken = subject.replace("-", " ").capitalize() if "." not in subject else subject
        return self.names.get(subject, spoken)

    def show(self, value: float | None, unit: str, places: int | None = None) -> str:
        """A number in the person's units; "" for none."""
        return "" if value is None else show(value, unit, self.system, places)

    def size(self, size: str | float | None, none: str = "not chosen") -> str:
        """A cable's size as the person buys it."""
        return wire_size(size, self.system) or none


def par(text: str) -> Block:
    return {"kind": "par", "text": text}


def small(text: str, *, sticky: bool = False) -> Block:
    """A remark in small letters; a sticky one stands on the page of what follows it."""
    return {"kind": "small", "text": text, "sticky": sticky}


def sub(text: str, level: int = 2) -> Block:
    """A heading inside a chapter."""
    return {"kind": "sub", "text": text, "level": level}


def caution(text: str) -> Block:
    """Where it can hurt."""
    return {"kind": "caution", "text": text}


def items(lines: Sequence[Cell]) -> Block:
    return {"kind": "list", "items": list(lines)}


def columns(lines: Sequence[str]) -> Block:
    """A plain list in two columns, about as long as each other."""
    tall = [1 + len(line) // 46 for line in lines]
    half = next((n for n in range(len(tall)) if 2 * sum(tall[:n]) >= sum(tall)), len(tall))
    return {"kind": "columns", "items": list(lines), "half": half}


def boxes(lines: Sequence[str]) -> Block:
    """Lines to tick by hand."""
    return {"kind": "boxes", "items": list(lines)}


def facts(rows: Sequence[tuple[str, Cell]], label_mm: float = 42) -> Block:
    """Names with what they are."""
    return {"kind": "facts", "rows": [list(row) for row in rows], "label": label_mm}


def figure(key: str, caption: str = "", share: float = 1.0) -> Block:
    """A drawing by its key."""
    return {"kind": "figure", "key": key, "caption": caption, "share": share}


def beside(keys: Sequence[str]) -> Block:
    """Two small drawings side by side, by their keys."""
    return {"kind": "beside", "keys": list(keys)}


def together(blocks: Sequence[Block]) -> Block:
    """Blocks that stay on one page."""
    return {"kind": "together", "blocks": list(blocks)}


def wide(blocks: Sequence[Block]) -> Block:
    """Blocks on a page of their own that lies on its side; the first of a chapter bears its title."""
    return {"kind": "wide", "blocks": list(blocks)}


def title_block(rows: Sequence[tuple[str, str, int]]) -> Block:
    """A title block: its fields, what stands in them, how many of three columns each takes; stays with what is above."""
    return {"kind": "title-block", "rows": [list(row) for row in rows]}


def labels(rows: Sequence[tuple[str, str, str]]) -> Block:
    """Labels to cut out: what stands large, and two smaller lines."""
    return {"kind": "labels", "rows": [list(row) for row in rows]}


def step(number: str, text: str, about: str, pictures: Sequence[tuple[str, str]] = (), ref: str = "") -> Block:
    """A step of a record: what was done, when and where, photographs by their keys with their captions."""
    shown = [list(one) for one in pictures]
    return {"kind": "step", "number": number, "text": text, "about": about, "pictures": shown, "ref": ref}


def plate(verdict: str, text: str, lines: Sequence[str] = ()) -> Block:
    """A verdict with its words."""
    return {"kind": "plate", "verdict": verdict, "text": text, "lines": list(lines)}


_COLUMN = re.compile(r"(?P<name>.*?)(?: ?\*(?P<share>[\d.]+))?(?P<right> ?>)?")


def table(head: str, rows: Sequence[Sequence[Cell]]) -> Block:
    """A table; its head in words, "file *1.6 | seat | level >": a column's share of the width after its star (without
    one it is as wide as needed), ">" where it is flush right. A row of one cell is a name over the rows that follow."""
    found = [one for column in head.split("|") if (one := _COLUMN.fullmatch(column.strip()))]
    return {
        "kind": "table", "head": [one["name"] for one in found], "widths": [float(one["share"] or 0) for one in found],
        "rows": [list(row) for row in rows], "right": [n for n, one in enumerate(found) if one["right"]],
    }  # fmt: skip


def listing(title: str, head: str, rows: Sequence[Sequence[Cell]], *notes: str) -> list[Block]:
    """A table under its heading with its remarks; nothing where it has no rows."""
    return [sub(title), table(head, rows), *map(small, notes)] if rows else []


def stacked(rows: Sequence[str]) -> Cell:
    """A cell of several lines of one weight."""
    return {"rows": list(rows)}


def cell(
    text: str = "", *lines: str, bold: bool = False, mark: str = "", tick: bool | None = None, after: str = "", ref: str = ""
) -> Cell:  # fmt: skip
    """A cell with more than a text: smaller lines under it, a verdict's mark, a box to tick, small words after it, an id
    to type at the terminal."""
    more = {"mark": mark, "after": after, "ref": ref}
    made = {"text": text, "bold": bold, "lines": [line for line in lines if line]} | {
        k: v for k, v in more.items() if v
    }
    return made if tick is None else made | {"tick": tick}


def working(told: Audience, check: Check) -> list[Block]:
    """Why a number is so: what was found against its limit, the working with where each number is from, the sources."""
    ends = [("value", check.value), ("limit", check.limit)]
    if check.low is not None and check.high is not None:
        ends[1:1] = [("2.5 % point", check.low), ("97.5 % point", check.high)]
    found = [f"{name} {told.show(value, check.unit)}" for name, value in ends if value is not None]
    found += [] if check.chance is None else [f"that it is kept: {in_a_word(check.chance)} ({percent(check.chance)})"]
    blocks = [par(f"→ {told.say(check.remedy)}")] if check.remedy is not None else []
    blocks += [par("; ".join(found))] if found else []
    # one digit more than a verdict shows, so that a person can follow the sum
    rows: list[list[Cell]] = [
        [
            s.symbol,
            s.meaning,
            told.show(s.value, s.unit, 2 if s.unit == "mm" else None),
            in_words(s.source, told.system),
        ]
        for s in check.working
    ]
    blocks += [table(" | what it is *1 | value > | from *1", rows)] if rows else []
    named = [in_words(source, told.system) for source in check.sources]
    return [*blocks, sub("Sources"), items(named)] if named else blocks


def signed(value: float) -> str:
    """A difference to a tenth, with a true minus and no sign on nothing."""
    return "0.0" if abs(value) < 0.05 else f"{value:+.1f}".replace("-", "−")
