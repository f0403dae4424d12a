"""What a page is made of, as plain data that the template lays out: texts, tables, figures, marks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

Block = dict[str, Any]
Cell = str | dict[str, Any]


@dataclass
class Chapter:
    """A chapter: its title, its blocks, and the pictures that they name; one that flows needs no page of its own."""

    title: str
    blocks: list[Block] = field(default_factory=list)
    pictures: dict[str, str | bytes] = field(default_factory=dict)
    flow: bool = False

    def draw(self, key: str, svg: str, caption: str = "", share: float = 1.0) -> None:
        """Put a drawing in, so wide a share of the page's text."""
        self.pictures[f"{key}.svg"] = svg
        self.blocks.append(figure(f"{key}.svg", caption, share))

    @property
    def data(self) -> dict[str, Any]:
        """What the template lays out."""
        return {"title": self.title, "blocks": self.blocks, "flow": self.flow}


def par(text: str) -> Block:
    """A paragraph."""
    return {"kind": "par", "text": text}


def small(text: str, *, sticky: bool = False) -> Block:
    """A remark in small letters; a sticky one stands on the page of what follows it."""
    return {"kind": "small", "text": text, "sticky": sticky}


def sub(text: str, level: int = 2) -> Block:
    """A heading inside a chapter."""
    return {"kind": "sub", "text": text, "level": level}


def items(lines: Sequence[Cell]) -> Block:
    """A plain list."""
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
    """A title block: its fields with what stands in them and how many of three columns each takes; stays with what is above."""
    return {"kind": "title-block", "rows": [list(row) for row in rows]}


def labels(rows: Sequence[tuple[str, str, str]]) -> Block:
    """Labels to cut out: what stands large, and two smaller lines."""
    return {"kind": "labels", "rows": [list(row) for row in rows]}


def step(
    number: str, text: str, about: str, lines: Sequence[tuple[bool, str]], pictures: Sequence[tuple[str, str]]
) -> Block:
    """A step of a record: what was done, when and where, lines with their ticks, photographs with their captions."""
    return {
        "kind": "step", "number": number, "text": text, "about": about, "lines": [list(line) for line in lines],
        "pictures": [list(one) for one in pictures],
    }  # fmt: skip


def plate(verdict: str, text: str, lines: Sequence[str] = ()) -> Block:
    """A verdict with its words."""
    return {"kind": "plate", "verdict": verdict, "text": text, "lines": list(lines)}


def table(
    head: Mapping[str, float], rows: Sequence[Sequence[Cell]], right: Sequence[int] = (), *, tight: bool = False
) -> Block:
    """A table: its columns with their share of the width (0: as wide as needed), and which are flush right.

    A row of one cell is a name over the rows that follow.
    """
    return {
        "kind": "table", "head": list(head), "widths": list(head.values()), "rows": [list(row) for row in rows],
        "right": list(right), "tight": tight,
    }  # fmt: skip


def stacked(rows: Sequence[str]) -> Cell:
    """A cell of several lines of one weight."""
    return {"rows": list(rows)}


def cell(
    text: str = "", *lines: str, bold: bool = False, mark: str = "", tick: bool | None = None, after: str = ""
) -> Cell:
    """A cell with more than a text: smaller lines under it, a verdict's mark, a box to tick, small words after it."""
    made: dict[str, Any] = {"text": text, "bold": bold, "lines": [line for line in lines if line]}
    if mark:
        made["mark"] = mark
    if tick is not None:
        made["tick"] = tick
    if after:
        made["after"] = after
    return made
