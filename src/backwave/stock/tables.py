"""The tables that ship, read once; a person's own rows on top of them; sizes as people write them, read against them."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import MISSING, dataclass, fields
from functools import cache
from importlib.resources import files
from typing import Any, TypeVar, cast, get_args, get_type_hints

from backwave.errors import InputError
from backwave.stock.rows import (
    STANDINGS,
    BatteryRow,
    CableSizeRow,
    ClearanceHoleRow,
    ConductorRow,
    CreepRow,
    FixingRow,
    FoamRow,
    FuseRow,
    InsertRow,
    LapRow,
    MaterialRow,
    NutRow,
    Row,
    ScrewRow,
    SizesRow,
    SleeveRow,
    TappingScrewRow,
    ToleranceRow,
    WasherRow,
    ZoneRow,
)
from backwave.units import parse

FILES = ("materials.toml", "threads.toml", "fixings.toml", "mounting.toml", "foam.toml", "heat.toml", "electrical.toml")

# What a job calls each table, in `[[stock.material]]`, and what a row of it is.
KINDS: dict[str, type[Row]] = {
    "material": MaterialRow, "creep": CreepRow, "insert": InsertRow, "nut": NutRow, "screw": ScrewRow,
    "tapping_screw": TappingScrewRow, "clearance_hole": ClearanceHoleRow, "washer": WasherRow, "sleeve": SleeveRow,
    "tolerance": ToleranceRow, "fixing": FixingRow, "lap": LapRow, "foam": FoamRow, "zone": ZoneRow, "sizes": SizesRow,
    "conductor": ConductorRow, "cable": CableSizeRow, "fuse": FuseRow, "battery": BatteryRow,
}  # fmt: skip
_KIND_OF = {row_type: kind for kind, row_type in KINDS.items()}

# Endings of field names: the dimension and the unit a person's own text is read in.
_UNITS = {
    "_mm": ("length", "mm"), "_mm2": ("area", "mm2"), "_a": ("current", "A"), "_v": ("voltage", "V"),
    "_kg_m3": ("density", "kg/m3"), "_pa": ("pressure", "Pa"), "_degc": ("temperature", "degC"), "_n": ("force", "N"),
    "_per_k": ("expansion", "1/K"), "shrinkage": ("ratio", "1"), "deflection": ("ratio", "1"),
}  # fmt: skip

R = TypeVar("R", bound=Row)


@dataclass(frozen=True)
class Stock:
    """All tables, each a tuple of rows."""

    tables: tuple[tuple[str, tuple[Row, ...]], ...]  # units of the rows

    def rows(self, kind: str) -> tuple[Row, ...]:
        """Every row of one table."""
        for name, rows in self.tables:
            if name == kind:
                return rows
        raise InputError("stock table", kind, _nearest(kind, KINDS))

    def of(self, row_type: type[R]) -> tuple[R, ...]:
        """Every row of one table, by what its rows are."""
        return cast(tuple[R, ...], self.rows(_KIND_OF[row_type]))

    def named(self, row_type: type[R]) -> dict[str, R]:
        """The same by their names."""
        return {row.name: row for row in self.of(row_type)}

    def with_rows(self, extra: Mapping[str, Sequence[Mapping[str, Any]]]) -> Stock:
        """The same with a person's own rows. A row of a known name takes that row's place and keeps what it does not
        mention; `like = "ASA"` begins a new one from a known one. Quantities are text with a unit (`density = "1.07
        g/cm3"`) or numbers under the field's own name (`density_kg_m3 = 1070.0`). `extra`, units as written;
        InputError: an unknown table, field or name, a field that is missing, or a value that does not fit it."""
        for kind in extra:
            if kind not in KINDS:
                raise InputError("stock table", kind, _nearest(kind, KINDS))
        tables = []
        for kind, rows in self.tables:
            by_name = {row.name: row for row in rows}
            for given in extra.get(kind, ()):
                row = _own(kind, given, by_name)
                by_name[row.name] = row
            tables.append((kind, tuple(by_name.values())))
        return Stock(tuple(tables))

    def material(self, name: str) -> MaterialRow:
        """A filament or sheet stock."""
        return self._find(MaterialRow, name)

    def creep(self, material: str) -> CreepRow | None:
        """How a material creeps, by the material's name; None where nobody has said."""
        return self.named(CreepRow).get(material)

    def insert(self, name: str) -> InsertRow:
        """A heat-set insert."""
        return self._find(InsertRow, name)

    def nut(self, size: str) -> NutRow:
        """A hexagon nut."""
        return self._find(NutRow, size)

    def screw(self, size: str, head: str = "socket") -> ScrewRow:
        """A machine screw."""
        return self._find(ScrewRow, f"{size} {head}")

    def lengths_mm(self, size: str) -> tuple[float, ...]:
        """Standard lengths of a screw, rising."""
        if size.startswith("ST"):
            return tuple(sorted(self.tapping_screw(size).lengths_mm))
        return tuple(sorted(self._find(SizesRow, f"{size} screw lengths").sizes_mm))

    def foam_thicknesses_mm(self) -> tuple[float, ...]:
        """What foam strip and sheet is sold in, rising."""
        return tuple(sorted(self._find(SizesRow, "foam thicknesses").sizes_mm))

    def tapping_screw(self, size: str) -> TappingScrewRow:
        """A self-tapping screw."""
        return self._find(TappingScrewRow, size)

    def clearance_hole(self, size: str) -> ClearanceHoleRow:
        """Holes a screw passes through."""
        return self._find(ClearanceHoleRow, size)

    def washer(self, size: str) -> WasherRow:
        """A plain washer."""
        return self._find(WasherRow, size)

    def foam(self, grade: str) -> FoamRow:
        """A grade of foam."""
        return self._find(FoamRow, grade)

    def zone(self, name: str) -> ZoneRow:
        """How hot a place gets. `name`: door, dash, under-dash, pillar, shelf, floor or cargo."""
        return self._find(ZoneRow, name)

    def fixing(self, holds: str, screw: str = "", metal: str = "steel") -> FixingRow:
        """How a fixing holds. `holds`: rivet nut, sheet nut, expansion nut, bolt, self-tap, stud, hook or pin; `screw`:
        what goes into it: "M5", "ST4.2"; nothing for a hook or pin."""
        return self._find(FixingRow, " ".join(w for w in (holds, screw, "in", metal) if w))

    def _find(self, row_type: type[R], name: str) -> R:
        rows = self.named(row_type)
        if name not in rows:
            raise InputError(_KIND_OF[row_type].replace("_", " "), name, _nearest(name, rows))
        return rows[name]


@cache
def shipped() -> Stock:
    """The tables that ship with backwave."""
    found: dict[str, tuple[Row, ...]] = dict.fromkeys(KINDS, ())
    for file in FILES:
        text = (files("backwave.stock") / file).read_text(encoding="utf-8")
        for kind, table in tomllib.loads(text).items():
            rows = table.pop("rows")
            # What stands above the rows holds for each of them that does not say otherwise.
            found[kind] = (*found[kind], *(_row(KINDS[kind], {**table, **row}) for row in rows))
    return Stock(tuple(found.items()))


def with_rows(extra: Mapping[str, Sequence[Mapping[str, Any]]]) -> Stock:
    """The shipped tables with a person's own rows. `extra`, units as written."""
    return shipped().with_rows(extra)


def _row(row_type: type[Row], given: Mapping[str, Any]) -> Row:
    kind = _KIND_OF[row_type]
    known = [f.name for f in fields(row_type)]
    for key in given:
        if key not in known:
            raise InputError(f"key of a {kind} row", key, _nearest(key, known))
    missing = [f.name for f in fields(row_type) if f.default is MISSING and f.name not in given]
    if missing:
        raise InputError(f"{kind} row {given.get('name', '')!r}", "no " + ", no ".join(missing), "all of these")
    hints = _hints(kind)
    return row_type(**{k: _fit(f"{kind} {given['name']!r}: {k}", v, hints[k]) for k, v in given.items()})


def _own(kind: str, given: Mapping[str, Any], known: Mapping[str, Row]) -> Row:
    row_type = KINDS[kind]
    mine = {"source": "entered by you", "standing": "entered by you"}
    like = None
    for key, value in given.items():
        if key == "like":
            if value not in known:
                raise InputError(f"{kind} to begin from", value, _nearest(str(value), known))
            like = known[value]
            continue
        name, read = _read(row_type, key, value)
        mine[name] = read
    if not isinstance(mine.get("name"), str) or not mine["name"]:
        raise InputError(f"name of a {kind} row", mine.get("name", "nothing"), "text")
    base = like or known.get(mine["name"])
    before = {f.name: getattr(base, f.name) for f in fields(row_type)} if base else {}
    return _row(row_type, {**before, **mine})


def _read(row_type: type[Row], key: str, value: Any) -> tuple[str, Any]:
    """The field a person's key means, and their value in that field's unit."""
    names = [f.name for f in fields(row_type)]
    for name in names:
        ending = next((e for e in _UNITS if name.endswith(e)), "")
        if not ending or key not in (name, name.removesuffix(ending)):
            continue
        dimension, unit = _UNITS[ending]
        values = value if isinstance(value, (list, tuple)) else [value]
        if key != name and any(not isinstance(v, str) for v in values):
            raise InputError(key, value, f'a quantity with its unit, such as "3 {unit}"')
        read = tuple(float(parse(v, dimension).to(unit)) if isinstance(v, str) else v for v in values)
        return name, read if isinstance(value, (list, tuple)) else read[0]
    return key, value


@cache
def _hints(kind: str) -> dict[str, Any]:
    return get_type_hints(KINDS[kind])


def _fit(what: str, value: Any, hint: Any) -> Any:
    """The value as its field wants it, or an error that says what would do."""
    options = (*STANDINGS,) if what.endswith(": standing") else get_args(hint)
    if hint == tuple[float, ...]:
        if isinstance(value, (list, tuple)) and all(_number(v) and v > 0.0 for v in value):
            return tuple(map(float, value))
        accepted = "a list of numbers above 0"
    elif hint is float or float in options:
        if value is None and hint is not float:
            return None
        if _number(value):
            return float(value)
        accepted = "a number"
    elif options:
        if value in options:
            return value
        accepted = " or ".join(map(str, options))
    else:
        if isinstance(value, str):
            return value
        accepted = "text"
    raise InputError(what, value, accepted)


def _number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < float("inf")


def _nearest(name: str, known: Iterable[str]) -> str:
    from difflib import get_close_matches

    known = list(known)
    lowered = {k.lower(): k for k in known}
    close = [lowered[m] for m in get_close_matches(name.lower(), list(lowered), n=3, cutoff=0.4)]
    return (("nearest: " + ", ".join(close) + "; ") if close else "") + "all: " + ", ".join(known)


_METRIC = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:mm2|mm²|mm\^2|sq\.?\s*mm|qmm)", re.IGNORECASE)
_GAUGE = re.compile(r"(?:awg\s*#?\s*(\d+(?:/0)?|0{1,4})|(\d+(?:/0)?|0{1,4})\s*(?:awg|ga(?:uge)?\.?))", re.IGNORECASE)


def cable_size(text: str) -> str:
    """The name of a size as the table has it, of "1.5mm2", "4 AWG", "00 AWG" or the name itself; "" stays. InputError:
    no size, or one that nobody sells."""
    said = text.strip()
    names = shipped().named(CableSizeRow)
    metric, gauge = _METRIC.fullmatch(said), _GAUGE.fullmatch(said)
    name = said
    if metric:
        name = f"{float(metric[1].replace(',', '.')):g} mm2"
    elif gauge:
        number = gauge[1] or gauge[2]
        name = f"AWG {len(number)}/0" if not number.strip("0") else f"AWG {number}"
    if said and name not in names:
        rising = sorted(names, key=lambda n: (n[0] == "A", names[n].area_mm2))
        raise InputError("no such size of cable", text, "one of " + ", ".join(rising))
    return name


def fuse_style(text: str) -> str:
    """A style of fuse as the table has it; "" stays. InputError: no such style."""
    names = shipped().named(FuseRow)
    if text and text not in names:
        raise InputError("no such style of fuse", text, "one of " + ", ".join(names))
    return text


def refuse_unsold(rating_a: float, style: str) -> None:
    """Refuses a rating that a style, or any style, does not have. InputError: A rating that is none."""
    ratings = {rating for row in shipped().of(FuseRow) if style in ("", row.name) for rating in row.ratings_a}
    if rating_a not in ratings:
        what = f"no such rating of a {style + ' ' if style else ''}fuse, A"
        raise InputError(what, f"{rating_a:g}", "one of " + ", ".join(f"{r:g}" for r in sorted(ratings)))
