"""An assessment as the JSON that others rely on.  Lengths in millimeters whatever the job shows; no NaN."""

from __future__ import annotations

from dataclasses import asdict
from math import isfinite
from typing import TYPE_CHECKING, Any

from backwave.assumptions import value_words
from backwave.finding import capped, words

if TYPE_CHECKING:
    from backwave.assess.place_result import PlaceResult
    from backwave.assess.result import Assessment
    from backwave.finding import Finding
    from backwave.uncertainty import Estimate


def check_json(result: Assessment) -> dict[str, Any]:
    """The document of `check --json`."""
    return {
        "title": result.title,
        "verdict": result.verdict,
        "findings": [finding_json(f) for f in result.findings],
        "cautions": [finding_json(f) for f in result.cautions],
        "assumed": [{"key": a.key, "value": value_words(a), "why": a.why} for a in result.assumed],
        "fit": _fits(result.places),
        "digest": result.digest,
    }


def finding_json(finding: Finding) -> dict[str, Any]:
    """One finding with its working."""
    check = finding.check
    return {
        "id": finding.id,
        "subject": finding.subject,
        "topic": finding.topic,
        "verdict": check.verdict,
        "title": words(check.title),
        "value": _number(check.value),
        "low": _number(check.low),
        "high": _number(check.high),
        "limit": _number(check.limit),
        "unit": check.unit,
        "chance": _chance(check.chance),
        "remedy": words(check.remedy),
        "key": check.key,
        "working": [asdict(step) | {"value": _number(step.value)} for step in check.working],
        "sources": list(check.sources),
        "waits_for": list(check.waits),
    }


def _number(value: float | None) -> float | None:
    return None if value is None or not isfinite(value) else float(value)


def _chance(value: float | None) -> float | None:
    return None if value is None else capped(value)


def _uncertain(estimate: Estimate | None) -> dict[str, float | None] | None:
    return None if estimate is None else {k: _number(v) for k, v in asdict(estimate).items()}


def _fits(places: tuple[PlaceResult, ...]) -> dict[str, Any]:
    sides: dict[str, dict[str, Any]] = {}
    worst: dict[str, tuple[float, str]] = {}
    for place in places:
        side = place.side or "only"
        sides.setdefault(place.opening_id, {})[side] = _fit(place)
        rank = (_room(place), side)
        worst[place.opening_id] = min(worst.get(place.opening_id, rank), rank)
    return {opening: held[worst[opening][1]] | {"sides": held} for opening, held in sides.items()}


def _room(place: PlaceResult) -> float:
    """How a side ranks: the chance to keep its margins, then how far the tightest is from its margin."""
    fit = place.fit
    chance = -1.0 if fit.chance_margin is None else fit.chance_margin
    spare = min((c.estimate.low - c.margin_mm for c in fit.clearances), default=0.0)
    return chance + 1e-6 * spare


def _fit(place: PlaceResult) -> dict[str, Any]:
    fit, window, ring = place.fit, place.fit.window, place.foam.front
    opens = window is not None and window.open
    named = {name: fit.clearance(name) for name in ("glass", "grille", "hole")}
    return {
        "seat_height_mm": {
            "low": _number(window.low_mm) if window is not None and opens else None,
            "high": _number(window.high_mm) if window is not None and opens else None,
            "chosen": fit.seat_height_mm,
        },
        **{f"{name}_clearance_mm": _uncertain(c.estimate if c else None) for name, c in named.items()},
        "worst_case_mm": {name: _number(c.worst_mm) if c else None for name, c in named.items()},
        "chance_clear": _chance(fit.chance_clear),
        "chance_margin": _chance(fit.chance_margin),
        "contributions": [{"reading": name, "share": share} for name, share in fit.contributions],
        "clocking": None
        if place.clocking is None
        else {"angle_deg": place.clocking.angle_deg, "gap_mm": _number(place.clocking.gap_mm)},
        "foam_ring": None
        if ring is None
        else {
            "free_mm": ring.free_mm,
            "closed_mm": ring.closed_mm,
            "compression": ring.compression,
            "force_n": ring.force_n[1],  # what is judged: the upper end of the grade's band
            "force_band_n": list(ring.force_n),
        },
    }
