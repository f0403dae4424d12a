"""What a page is made of, as plain data that the template lays out: texts, tables, figures, marks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

__all__ = [
    "Block", "Cell", "Chapter", "boxes", "cell", "facts", "figure", "items", "pair", "par", "plate", "small", "sub",
    "table",
]  # fmt: skip

Block = dict[str, Any]
Cell = str | dict[str, Any]


@dataclass
class Chapter:
    """A chapter: its title, its blocks, and the drawings that they name."""

    title: str
    blocks: list[Block] = field(default_factory=list)
    pictures: dict[str, str] = field(default_factory=dict)

    def draw(self, key: str, svg: str, caption: str = "", share: float = 1.0) -> None:
        """Put a drawing in, so wide a share of the page's text."""
        self.pictures[key] = svg
        self.blocks.append(figure(key, caption, share))


def par(text: str) -> Block:
    """A paragraph."""
    return {"kind": "par", "text": text}


def small(text: str) -> Block:
    """A remark in small letters."""
    return {"kind": "small", "text": text}


def sub(text: str, level: int = 2) -> Block:
    """A heading inside a chapter."""
    return {"kind": "sub", "text": text, "level": level}


def items(lines: Sequence[Cell]) -> Block:
    """A plain list."""
    return {"kind": "list", "items": list(lines)}


def boxes(lines: Sequence[str]) -> Block:
    """Lines to tick by hand."""
    return {"kind": "boxes", "items": list(lines)}


def facts(rows: Sequence[tuple[str, Cell]], label_mm: float = 42) -> Block:
    """Names with what they are."""
    return {"kind": "facts", "rows": [list(row) for row in rows], "label": label_mm}


def figure(key: str, caption: str = "", share: float = 1.0) -> Block:
    """A drawing by its key."""
    return {"kind": "figure", "key": key, "caption": caption, "share": share}


def pair(*keys: str) -> Block:
    """One or two drawings side by side, by their keys."""
    return {"kind": "pair", "keys": list(keys)}


def plate(verdict: str, text: str, lines: Sequence[str] = ()) -> Block:
    """A verdict with its words."""
    return {"kind": "plate", "verdict": verdict, "text": text, "lines": list(lines)}


def table(
    head: Mapping[str, float], rows: Sequence[Sequence[Cell]], right: Sequence[int] = (), *, tight: bool = False
) -> Block:
    """A table: its columns with their share of the width (0: as wide as needed), and which are flush right."""
    return {
        "kind": "table", "head": list(head), "widths": list(head.values()), "rows": [list(row) for row in rows],
        "right": list(right), "tight": tight,
    }  # fmt: skip


def cell(text: str = "", *lines: str, bold: bool = False, mark: str = "", tick: bool | None = None) -> Cell:
    """A cell with more than a text: smaller lines under it, a verdict's mark, a box to tick."""
    made: dict[str, Any] = {"text": text, "bold": bold, "lines": [line for line in lines if line]}
    if mark:
        made["mark"] = mark
    if tick is not None:
        made["tick"] = tick
    return made
