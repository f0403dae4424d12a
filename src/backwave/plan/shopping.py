"""What has to be bought: wants of many places merged into one row for each thing of one size."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from backwave.errors import InputError


@dataclass(frozen=True)
class Want:
    """One place's need of one thing."""

    group: str  # "Fasteners", "heat-set insert", "M4"
    what: str
    size: str
    quantity: float | None  # in `unit`, how much; None for as much as it takes
    unit: str = ""  # "" for pieces, "g", "m", "mm2"
    why: str = ""
    source: str = ""  # standard or table its size is from, or "common trade practice"


@dataclass(frozen=True)
class Item:
    """One row of the shopping list."""

    id: str  # its name in the log, and what it is
    group: str
    what: str
    size: str
    quantity: float | None  # in `unit`, how much; None for as much as it takes
    unit: str  # "" for pieces, "g", "m", "mm2"
    why: tuple[str, ...] = field(default=())
    source: str = ""  # where its size is from
    have: bool = False
    price: float | None = None  # for all of it, as entered, in whatever money the person thinks in


def shopping(
    wants: Iterable[Want], have: Iterable[str] = (), prices: Mapping[str, float] | None = None
) -> tuple[Item, ...]:
    """Wants merged: one row for each thing of one size, in the order they came, groups kept together."""
    had, priced = set(have), prices or {}
    rows: dict[str, Item] = {}
    for want in wants:
        if want.quantity is not None and want.quantity <= 0:
            continue
        name = _slug(f"{want.what} {want.size}")
        old = rows.get(name)
        if old is None:
            old = rows[name] = Item(
                name, want.group, want.what, want.size, want.quantity, want.unit, (), want.source, name in had,
                priced.get(name),
            )  # fmt: skip
        elif old.quantity is not None and want.quantity is not None:
            old = replace(old, quantity=old.quantity + want.quantity)
        rows[name] = replace(old, why=tuple(dict.fromkeys((*old.why, *((want.why,) if want.why else ())))))
    groups = list(dict.fromkeys(row.group for row in rows.values()))
    return tuple(sorted(rows.values(), key=lambda row: groups.index(row.group)))


def price(text: str) -> float:
    """A price as a person writes it, without a currency: 3.50, 3,50, 1,234.50, 1.234,50, 1 234,50. The last mark
    followed by one, two or four digits is the decimal sign. One mark alone before three digits may be either, and is
    asked back. InputError: A currency, less than nothing, no number, one that may be read in two ways."""
    given = re.sub(r"(?<=\d)[ \u00a0\u202f'’](?=\d{3}(\D|$))", "", text.strip())
    if re.fullmatch(r"\d{1,3}([.,])\d{3}", given) and not given.startswith("0"):
        whole = re.sub(r"\D", "", given)
        apart = f"{given[:-4]}.{given[-3:]}"
        raise InputError("a price that may be read in two ways", text, f"{whole}.00 or {apart}0")
    for thousands, decimal in ((",", "."), (".", ",")):
        grouped = rf"[1-9]\d{{0,2}}(\{thousands}\d{{3}})+(\{decimal}\d{{1,4}})?|\d{{1,9}}(\{decimal}\d{{1,4}})?"
        if re.fullmatch(grouped, given):
            return float(given.replace(thousands, "").replace(decimal, "."))
    raise InputError("not a price", text, "a number alone, such as 3.50 or 3,50")


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9.]+", "-", text.lower().replace("½", ".5")).strip("-")
