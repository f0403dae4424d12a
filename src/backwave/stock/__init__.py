"""What can be bought, and what it is good for: tables that ship, every row with its source and its standing.

    shipped()           the tables as they ship: `shipped().material("ASA")`, `.screw("M5", "socket")`, ...
    with_rows(extra)    the same with a person's own rows on top (a job's `[[stock.material]]`)

Holds materials (printed and sheet), how far they creep, heat-set inserts, nuts, machine and self-tapping screws with their standard
lengths, clearance holes, washers, general tolerances, fixings in panels, foam grades, heat by zone,
conductors, cable sizes and fuses.
Units: each field's name ends in its own (`_mm`, `_mm2`, `_degc`, `_n`, `_kg_m3`, `_pa`, `_a`).  From: the TOML files beside
this one.  Floor: the ground; any room may take a row.
"""

from __future__ import annotations

from backwave.stock.rows import (
    STANDINGS,
    BatteryRow,
    CableSizeRow,
    ConductorRow,
    FixingRow,
    FoamRow,
    FuseRow,
    InsertRow,
    LapRow,
    MaterialRow,
    Row,
    SleeveRow,
    ToleranceRow,
)
from backwave.stock.tables import KINDS, Stock, cable_size, fuse_style, refuse_unsold, shipped, with_rows

__all__ = [
    "KINDS", "STANDINGS", "BatteryRow", "CableSizeRow", "ConductorRow", "FixingRow", "FoamRow", "FuseRow", "InsertRow",
    "LapRow", "MaterialRow", "Row", "SleeveRow", "Stock", "ToleranceRow", "cable_size", "fuse_style", "refuse_unsold",
    "shipped", "with_rows",
]  # fmt: skip
