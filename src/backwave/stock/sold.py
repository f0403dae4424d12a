"""Sizes of cable and fuses as people write them, read against the tables that ship."""

from __future__ import annotations

import re

from backwave.errors import InputError
from backwave.stock.electrical import CableSizeRow, FuseRow
from backwave.stock.tables import shipped

_METRIC = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:mm2|mm²|mm\^2|sq\.?\s*mm|qmm)", re.IGNORECASE)
_GAUGE = re.compile(r"(?:awg\s*#?\s*(\d+(?:/0)?|0{1,4})|(\d+(?:/0)?|0{1,4})\s*(?:awg|ga(?:uge)?\.?))", re.IGNORECASE)


def cable_size(text: str) -> str:
    """The name of a size as the table has it, of "1.5mm2", "4 AWG", "00 AWG" or the name itself; "" stays.

    InputError: no size, or one that nobody sells.
    """
    said = text.strip()
    names = {row.name: row for row in shipped().rows("cable") if isinstance(row, CableSizeRow)}
    metric, gauge = _METRIC.fullmatch(said), _GAUGE.fullmatch(said)
    name = said
    if metric:
        name = f"{float(metric[1].replace(',', '.')):g} mm2"
    elif gauge:
        number = gauge[1] or gauge[2]
        name = f"AWG {len(number)}/0" if not number.strip("0") else f"AWG {number}"
    if said and name not in names:
        raise InputError(
            "no such size of cable",
            text,
            "one of " + ", ".join(sorted(names, key=lambda n: (n[0] == "A", names[n].area_mm2))),
        )
    return name


def fuse_style(text: str) -> str:
    """A style of fuse as the table has it; "" stays. InputError: no such style."""
    names = [row.name for row in shipped().rows("fuse")]
    if text and text not in names:
        raise InputError("no such style of fuse", text, "one of " + ", ".join(names))
    return text


def refuse_unsold(rating_a: float, style: str) -> None:
    """Refuses a rating that a style, or any style, does not have. InputError: A rating that is none."""
    rows = [row for row in shipped().rows("fuse") if isinstance(row, FuseRow) and style in ("", row.name)]
    ratings = sorted({rating for row in rows for rating in row.ratings_a})
    if rating_a not in ratings:
        raise InputError(
            f"no such rating of a {style + ' ' if style else ''}fuse, A",
            f"{rating_a:g}",
            "one of " + ", ".join(f"{r:g}" for r in ratings),
        )
