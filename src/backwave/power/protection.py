"""Every conductor of an installation against the fuses that are really fitted before it.

A conductor settles at a temperature under what may flow through it for good (`as_built.through_a`), and at another under
1.35 times that, which some fuses carry for half an hour (ISO 8820-3; from memory).  `stop`: over its insulation's class at
the first, or over class + 50 K at the second (short-time overload in the manner of ISO 6722-1; from memory); between:
`caution`.  Up to the first fuse on its way it is judged by length and cover instead.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite

import numpy as np
from numpy.typing import NDArray

from backwave.finding import CalculationLine, Check, Message, Verdict
from backwave.power.as_built import Conductor, Installation, short_a, through_a
from backwave.power.cable import OVERLOAD, sizes_of
from backwave.power.fuse import breaking_check, fuses_of, place_check
from backwave.power.heat import ampacity_a, conductor_degc
from backwave.stock import CableSizeRow, ConductorRow, Stock, shipped

# over its class that insulation stands for some hours: short-time overload in the manner of ISO 6722-1 (from
# memory)
SHORT_TIME_K = 50.0


@dataclass(frozen=True)
class Protected:
    """One conductor with what protects it."""

    conductor: Conductor
    fuse_a: float | None  # A that may flow through it for good; None: no fuse lies between it and a source
    ampacity_a: float  # A that heat it to its insulation's class
    rating_degc: float | None  # where it settles at `fuse_a`; None without a fuse, or where it never does
    overload_degc: float | None  # the same at 1.35 times of it
    margin_k: float | None  # K, class less `rating_degc`
    checks: tuple[Check, ...]


def judge(made: Installation, supply_v: float = 14.4, stock: Stock | None = None) -> tuple[Protected, ...]:
    """Protection of every conductor, and whether each of its fuses breaks what all sources drive into a short behind it.

    `supply_v`: the highest that the supply reaches.
    """
    stock = stock or shipped()
    rows = {row.name: row for row in sizes_of(stock)}
    metals = {r.name: r for r in stock.rows("conductor") if isinstance(r, ConductorRow)}
    through = through_a(made)
    cold = {c.id: _nominal_ohm(c, rows, metals) for c in made.conductors}
    wanted, sized = tuple(rows.values()), [c for c in made.conductors if c.size]
    if not sized:
        return ()
    ohm_m, rise, inner, outer = _figures(sized, wanted, metals)
    limit, air, bundle = (
        np.array([getattr(c, k) for c in sized]) for k in ("insulation_degc", "ambient_degc", "bundle")
    )
    stands = ampacity_a(limit[:, None], ohm_m, rise, inner, outer, air[:, None], bundle[:, None])
    mine = (np.arange(len(sized)), [wanted.index(rows[c.size]) for c in sized])
    for k, c in enumerate(sized):
        if c.measured_mohm_m is not None:
            ohm_m[mine[0][k], mine[1][k]] = c.measured_mohm_m * 1e-3
            stands[mine[0][k], mine[1][k]] *= (rows[c.size].mohm_m / c.measured_mohm_m) ** 0.5
    amps = np.array([through[c.id] for c in sized])
    finite = np.where(np.isfinite(amps), amps, 0.0)
    degc = conductor_degc(
        finite[:, None] * np.array([1.0, OVERLOAD]), ohm_m[mine][:, None], rise, inner[mine[1]][:, None], outer[mine[1]][:, None],
        air[:, None], bundle[:, None],
    )  # fmt: skip
    found = []
    for k, c in enumerate(sized):
        breaking = _breaking(made, c, cold, supply_v, stock)
        own = float(stands[mine[0][k], mine[1][k]])
        if not 0 < amps[k] < inf:
            found.append(Protected(c, None, own, None, None, None, (_unfused_check(made, c), *breaking)))
            continue
        at = [None if np.isnan(t) else float(t) for t in degc[k]]
        will_do = (
            r for r, a in zip(wanted, stands[k])
            if a >= OVERLOAD * amps[k] and r.series in _kin(rows[c.size]) and r.area_mm2 > rows[c.size].area_mm2
        )  # fmt: skip
        better = min(will_do, key=lambda r: r.area_mm2, default=None)
        check = _protection_check(c, float(amps[k]), own, at[0], at[1], "" if better is None else better.name)
        margin = None if at[0] is None else c.insulation_degc - at[0]
        found.append(Protected(c, float(amps[k]), own, at[0], at[1], margin, (check, *breaking)))
    return tuple(found)


def _nominal_ohm(c: Conductor, rows: Mapping[str, CableSizeRow], metals: Mapping[str, ConductorRow]) -> float:
    return 0.0 if not c.size else c.length_m * metals[c.material].resistivity_ohm_mm2_m / rows[c.size].area_mm2


def _figures(
    conductors: Sequence[Conductor], wanted: Sequence[CableSizeRow], metals: Mapping[str, ConductorRow]
) -> tuple[NDArray[np.float64], ...]:
    """Of every conductor (rows) in every size (columns): ohm/m, its rise, diameters."""
    metal = [metals[c.material] for c in conductors]
    against = np.array([m.resistivity_ohm_mm2_m / metals["copper"].resistivity_ohm_mm2_m for m in metal])[:, None]
    ohm_m = np.array([r.mohm_m for r in wanted]) * 1e-3 * against
    rise = np.array([m.rise_per_k for m in metal])[:, None]
    return ohm_m, rise, np.array([r.conductor_mm for r in wanted]), np.array([r.outer_mm for r in wanted])


def _kin(row: CableSizeRow) -> tuple[str, ...]:
    return ("awg",) if row.series == "awg" else ("metric",)


_ROLES = {"feed": "cable", "ground": "ground cable", "return": "return cable"}


def _protection_check(
    c: Conductor, amps: float, stands: float, rating: float | None, overload: float | None, better: str
) -> Check:
    limit = c.insulation_degc
    verdict: Verdict = "ok"
    if overload is not None and overload > limit:
        verdict = "caution"
    if rating is None or rating > limit or overload is None or overload > limit + SHORT_TIME_K:
        verdict = "stop"
    numbers: list[tuple[str, float | str, str]] = [
        ("role", _ROLES[c.role], ""), ("size", c.size, "size"), ("f", amps, "A"), ("class", limit, "degC"), ("stands", stands, "A"),
    ]  # fmt: skip
    said = "The {role}, {size}, lies behind {f} of fuses"
    if rating is None:
        said += ": it would burn before they open"
    else:
        numbers += [("t", rating, "degC")]
        said += " and settles at {t}; its insulation is rated {class}"
        if overload is not None:
            numbers += [("over", overload, "degC")]
            said += ". At 1.35 times, which some fuses carry for half an hour, it reaches {over}"
        else:
            said += ". At 1.35 times, which some fuses carry for half an hour, it would burn"
    remedy = None
    if verdict != "ok":
        fit = "Fit fuses of {least} together or less before it, if its load allows"
        numbers += [("least", stands / OVERLOAD, "A")]
        if better:
            numbers += [("better", better, "size")]
            remedy = Message("Take {better}; or f" + fit[1:], tuple(numbers))
        else:
            remedy = Message(fit + ", or take insulation that stands more heat", tuple(numbers))
    return Check(
        "power.protection",
        verdict,
        Message(said, tuple(numbers)),
        rating,
        limit,
        "degC",
        remedy=remedy,
        working=(
            CalculationLine("F", "may flow through it for good: the fuses that are fitted between it and each source", amps, "A", "largest flow, Ford and Fulkerson 1956"),
            CalculationLine("I", "heats it to its insulation's class in its place", stands, "A"),
            CalculationLine("T", "settles at F", rating, "degC", "Churchill and Chu 1975, convection; radiation; IEC 60028 resistance"),
            CalculationLine("T1.35", "settles at 1.35 F", overload, "degC"),
            CalculationLine("class", "of its insulation; 50 K more for a short time", limit, "degC", "ISO 6722-1 (from memory)"),
            CalculationLine("margin", "class less T", None if rating is None else limit - rating, "K"),
        ),
        sources=("IEC 60364-4-43 (from memory)", "ISO 6722-1 short-time overload (from memory)", "ISO 8820-3 (from memory)"),
        key="size",
        part="" if c.role == "feed" else c.role,
    )  # fmt: skip


def _unfused_check(made: Installation, c: Conductor) -> Check:
    """A conductor that no fuse protects: how far it reaches from the source along others that none protects."""
    reach = _bare_m(made, c)
    if not isfinite(reach):
        return Check(
            "power.protection",
            "caution",
            Message("No source reaches the {role}, {size}", (("role", _ROLES[c.role], ""), ("size", c.size, "size"))),
            remedy=Message("Say where it starts, or take it out"),
            sources=("IEC 60364-4-43 (from memory)",),
            key="from",
            part="" if c.role == "feed" else c.role,
        )
    place = place_check(reach, c.sleeved)
    numbers = (("role", _ROLES[c.role], ""), ("size", c.size, "size"), ("d", reach, "m"))
    return Check(
        "power.protection",
        place.verdict,
        Message("No fuse lies between the {role}, {size}, and its source; it ends {d} from there", numbers),
        reach,
        place.limit,
        "m",
        remedy=None if place.verdict == "ok" else Message("Fit a fuse at every source's end of it, before anything is switched on"),
        sources=place.sources,
        key="fuse",
        part="" if c.role == "feed" else c.role,
    )  # fmt: skip


def _bare_m(made: Installation, c: Conductor) -> float:
    """Meters from the nearest source to the far end of a conductor, along those without a fuse."""
    bare = [o for o in made.conductors if not o.returns and o.fuse is None and o.end_fuse is None]
    least = {s.plus: 0.0 for s in made.sources}
    for _ in bare:
        for o in bare:
            for a, b in ((o.start, o.end), (o.end, o.start)):
                if a in least:
                    least[b] = min(least.get(b, inf), least[a] + o.length_m)
    ends = [least[node] for node in (c.start, c.end) if node in least]
    return c.length_m + min(ends, default=inf)


def _breaking(
    made: Installation, c: Conductor, cold_ohm: Mapping[str, float], supply_v: float, stock: Stock
) -> list[Check]:
    """Each fuse of a conductor: a short just behind it is fed from its own end, or through the whole cable from the other."""
    found = []
    stub = Conductor("stub", "", "stub", "feed", c.subject, c.size, c.length_m, c.material)
    others = tuple(o for o in made.conductors if o.id != c.id)
    ohms = {**cold_ohm, "stub": cold_ohm[c.id]}
    known = all(s.advised_a is None for s in made.sources)
    for part, fuse, mine, other in (("", c.fuse, c.start, c.end), ("end", c.end_fuse, c.end, c.start)):
        row = next((f for f in fuses_of(stock) if fuse is not None and f.name == fuse.style), None)
        if fuse is None or row is None:
            continue
        behind = Installation(made.sources, (*others, replace(stub, start=other)))
        short, sure = (max(short_a(behind, node, ohms, sure=s) for node in (mine, "stub")) for s in (False, True))
        if short > 0:
            check = breaking_check(row, short, supply_v, fuse.rating_a, None if known else sure, stock)
            found.append(replace(check, part=part))
    return found
