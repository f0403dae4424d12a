"""What a person works from at the bench: wire schedule, cut list, labels, faces of connectors; a lead at a new height.

Allowances are common trade practice: 50 mm at each end to strip, crimp and do over once, 100 mm more through a hinge
boot.  A lead that reached the factory unit reaches the new terminals, in the worst direction, by what they moved
(triangle inequality).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, isfinite

from backwave.errors import InputError
from backwave.power.cable import GUESS_M
from backwave.power.harness import Harness, Plug, Wire

END_M = 0.05  # kept at each end of a wire (common trade practice)
BOOT_M = 0.10  # kept more where a wire runs through a hinge boot (common trade practice)


@dataclass(frozen=True)
class ScheduleRow:
    """A wire on the schedule."""

    id: str
    from_pin: str
    to_pin: str
    color: str  # letters and words, "" where nobody said
    color_words: str
    length_m: float  # its length, or what is taken for it
    guessed: bool  # nobody measured it
    area_mm2: float | None  # cross section
    fuse_a: float | None
    boot: bool  # through a hinge boot
    there: bool = False  # in the vehicle already


@dataclass(frozen=True)
class CutRow:
    """All wires to be cut from one reel."""

    color: str  # letters, "" where nobody said
    area_mm2: float | None  # cross section
    cuts: tuple[tuple[str, float], ...]  # no unit and m, each wire with its allowance, longest first
    total_m: float  # their sum
    guessed: bool  # A length in it was never measured: do not cut yet


@dataclass(frozen=True)
class LabelRow:
    """A label for one end of a wire."""

    wire: str  # the wire, the pin this end goes to, and the pin at the other end
    here: str
    there: str


@dataclass(frozen=True)
class Contact:
    """A contact of a plug with what is on either side of it."""

    number: str  # as molded on the plug
    carries: str  # "amp front left +"
    wire_in: str  # wires, "" where there is none
    wire_out: str
    color_in: str  # their colors, "" where nobody said
    color_out: str
    hides: str  # the part hidden in it, or ""


@dataclass(frozen=True)
class Face:
    """A connector's face."""

    id: str  # its name
    contacts: int  # how many contacts in how many rows
    rows: int
    used: tuple[Contact, ...]  # those with wires, in their order


@dataclass(frozen=True)
class LeadReach:
    """A lead at a new height."""

    needed_m: float  # what it has to be to reach in the worst direction
    short_m: float  # by how much what is there falls short; 0 where it reaches
    adapter_m: float  # an adapter lead that makes up for it, with both ends' allowance; 0 where none is needed


def schedule(harness: Harness) -> tuple[ScheduleRow, ...]:
    """Every wire, in the harness's order."""
    rows = []
    for w in harness.wires:
        code, words = ("", "") if w.color is None else (w.color.code, w.color.words)
        length = GUESS_M if w.length_m is None else w.length_m
        guessed = w.length_m is None
        rows.append(
            ScheduleRow(w.id, w.from_pin, w.to_pin, code, words, length, guessed, w.area_mm2, w.fuse_a, w.boot, w.there)
        )
    return tuple(rows)


def cut_list(harness: Harness, end_m: float = END_M, boot_m: float = BOOT_M) -> tuple[CutRow, ...]:
    """Wires by color and size, each with its allowance; largest size first.  What is there already is not cut.

    `boot_m`: kept more through a hinge boot, 0 or more; InputError: an allowance below 0.
    """
    for name, value in (("allowance at each end, m", end_m), ("allowance through a boot, m", boot_m)):
        _least(name, value)
    reels: dict[tuple[str, float | None], list[ScheduleRow]] = {}
    for row in schedule(harness):
        if row.there:
            continue
        reels.setdefault((row.color, row.area_mm2), []).append(row)
    found = []
    for (color, area), rows in sorted(reels.items(), key=lambda r: (-(r[0][1] or 0.0), r[0][0])):
        cuts = sorted(((r.id, r.length_m + 2 * end_m + boot_m * r.boot) for r in rows), key=lambda c: -c[1])
        found.append(CutRow(color, area, tuple(cuts), sum(c[1] for c in cuts), any(r.guessed for r in rows)))
    return tuple(found)


def labels(harness: Harness) -> tuple[LabelRow, ...]:
    """Two labels a wire, its two ends after each other."""
    return tuple(
        LabelRow(w.id, here, there)
        for w in harness.wires
        for here, there in ((w.from_pin, w.to_pin), (w.to_pin, w.from_pin))
    )


def faces(harness: Harness) -> tuple[Face, ...]:
    """Every plug with what its contacts carry."""
    ends: dict[str, Wire] = {pin: w for w in harness.wires for pin in (w.from_pin, w.to_pin)}
    plugs: dict[str, tuple[Plug, list[Contact]]] = {}
    for route, plug in ((r, p) for r in harness.routes for p in (r.path.first_plug, r.path.last_plug) if p):
        known = plugs.setdefault(plug.id, (plug, []))[1]
        for pole, number in (("+", plug.plus), ("-", plug.minus)):
            if any(c.number == number for c in known):
                continue
            first, last = (ends.get(f"{plug.id}.{number} {end}") for end in ("in", "out"))
            known.append(
                Contact(
                    number,
                    f"{route.path.source} {route.path.channel} {pole}",
                    first.id if first else "",
                    last.id if last else "",
                    first.color.code if first and first.color else "",
                    last.color.code if last and last.color else "",
                    str(plug.carries) if number == plug.hidden else "",
                )
            )
    return tuple(
        Face(
            name,
            max(plug.contacts, len(used), *(int(c.number) for c in used if c.number.isdecimal()), 1),
            plug.rows,
            tuple(used),
        )
        for name, (plug, used) in plugs.items()
    )


def lead_reach(
    lead_m: float, out_mm: float, across_mm: float = 0.0, slack_mm: float = 0.0, end_m: float = END_M
) -> LeadReach:
    """Whether a factory lead still reaches when the terminals move.

    `out_mm`: by how much the terminals move out of the metal (or into it), with the new part's height; `slack_mm`:
    slack the lead had at the factory unit, 0 or more; InputError: A number outside its range.
    """
    if not (isfinite(lead_m) and lead_m > 0):
        raise InputError("lead, m", lead_m, "a finite number above 0")
    _least("slack, mm", slack_mm)
    moved = hypot(out_mm, across_mm)
    if not isfinite(moved):
        raise InputError("move of the terminals, mm", moved, "a finite number")
    short = max(0.0, moved - slack_mm) / 1e3
    return LeadReach(lead_m + short, short, short + 2 * end_m if short else 0.0)


def _least(name: str, value: float) -> None:
    if not (isfinite(value) and value >= 0):
        raise InputError(name, value, "a finite number, 0 or more")
