"""What the tables of wires demand of others: openings, boxes, sides and sources that are there; nothing said twice."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches
from typing import Any

from backwave.job.cross_checks import Fault

Path = tuple[str | int, ...]


def wiring_faults(data: dict[str, Any]) -> Iterator[Fault]:
    """Everything wrong between the tables of wires and the rest, in no particular order.

    `data`: the file's content, not yet known to be right.
    """
    ids = {
        table: [r["id"] for _, r in _rows(data, table) if isinstance(r.get("id"), str)]
        for table in ("opening", "box", "source", "factory_output")
    }
    sides = {r["id"]: r.get("sides", []) for _, r in _rows(data, "opening") if isinstance(r.get("id"), str)}
    for table in ("speaker_cable", "plug", "boot", "pair", "factory_output"):
        for i, row in _rows(data, table):
            yield from _placed(row, (table, i), ids, sides)
            for j, pin in _rows(row, "pin"):
                if "opening" in pin or "side" in pin:
                    at = {"opening": row.get("opening"), "side": row.get("side")} | pin
                    yield from _placed(at, (table, i, "pin", j), ids, sides)
    for i, row in _rows(data, "factory_output"):
        yield from _known(row.get("into"), "source", ids, ("factory_output", i, "into"))
    system = data.get("factory_system")
    for i, row in _rows(system, "must_sound"):
        yield from _known(row.get("from"), "factory_output", ids, ("factory_system", "must_sound", i, "from"))
    for table in ("speaker_cable", "boot"):
        seen: dict[str, int] = {}
        for i, row in _rows(data, table):
            where = row.get("opening") or row.get("box")
            if not isinstance(where, str):
                continue
            said = repr([row.get(key) for key in ("opening", "box", "side")])
            if said in seen:
                yield (table, i), f"a second [[{table}]] for the same place", where, "one for each place"
            seen[said] = i
    yield from _contacts(data)
    yield from _supply_names(data)


def _rows(data: Any, table: str) -> list[tuple[int, dict[str, Any]]]:
    rows = data.get(table) if isinstance(data, dict) else None
    return [(i, row) for i, row in enumerate(rows) if isinstance(row, dict)] if isinstance(rows, list) else []


def _known(value: Any, table: str, ids: dict[str, list[str]], where: Path) -> Iterator[Fault]:
    if isinstance(value, str) and value not in ids[table]:
        near = get_close_matches(value, ids[table], n=1)
        accepted = f"the id of a [[{table}]]: " + (", ".join(ids[table]) or "there is none yet")
        yield where, f"no {table} of that id" + (f"; {near[0]!r} is near" if near else ""), value, accepted


def _placed(row: dict[str, Any], where: Path, ids: dict[str, list[str]], sides: dict[Any, Any]) -> Iterator[Fault]:
    for table in ("opening", "box"):
        yield from _known(row.get(table), table, ids, (*where, table))
    side, opening = row.get("side"), row.get("opening")
    there = sides.get(opening) if isinstance(opening, str) else None
    if side in ("left", "right") and isinstance(there, list) and side not in there:
        accepted = ", ".join(map(str, there)) or "no side: there is just one"
        yield (*where, "side"), "a side that this opening is not on", side, accepted


def _contacts(data: dict[str, Any]) -> Iterator[Fault]:
    """A pole of a speaker stands in one plug before the parts and in one behind them, no more."""
    seen: dict[str, str] = {}
    for i, plug in _rows(data, "plug"):
        for j, pin in _rows(plug, "pin"):
            if pin.get("carries") not in ("+", "-"):
                continue
            opening = pin.get("opening", plug.get("opening"))
            side = pin.get("side", plug.get("side"))
            if not isinstance(opening, str):
                continue
            pole = repr((opening, side, bool(plug.get("before")), pin["carries"]))
            if pole in seen and seen[pole] != str(plug.get("id")):
                found = f"plug {plug.get('id')}, and plug {seen[pole]}"
                accepted = "one plug that feeds it; say a side, or before = true for the one before the crossover"
                yield ("plug", i, "pin", j), f"{opening} {pin['carries']} in two plugs", found, accepted
            seen[pole] = str(plug.get("id"))


_TAKEN = ("battery", "ground", "body")


def _supply_names(data: dict[str, Any]) -> Iterator[Fault]:
    """Names that the harness gives to what is on every vehicle."""
    for table in ("distribution", "load", "plug", "source"):
        for i, row in _rows(data, table):
            if row.get("id") in _TAKEN:
                yield (table, i, "id"), "a name that every vehicle has already", row["id"], "another name"
