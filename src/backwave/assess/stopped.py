"""What stops a part from being made, and a person's reason to make it all the same.

A reason stands in `log.toml` with its day, bound to the very part and to what stopped it: another part, or another stop,
is stopped again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from backwave.assess.place_result import PlaceResult
from backwave.assess.result import Assessment
from backwave.assess.solid_findings import from_plain, part_digest
from backwave.errors import InputError
from backwave.part.order import PartOrder
from backwave.plain_text import plain_text

ROW = "made_anyway"  # section of log.toml
MAX_REASON = 200  # letters: it is printed in one line or two


def with_reasons(
    result: Assessment, log: Mapping[str, Any], kept: Mapping[str, Mapping[str, Any]] | None = None
) -> Assessment:
    """The same assessment; its parts know what was found on their solids and why they are made all the same, if they are."""
    reasons = _reasons(log)

    def with_reason(place: PlaceResult) -> PlaceResult:
        part = place.part
        digest, held = part_digest(part), (kept or {}).get(part.id, {})
        if held.get("digest") == digest:
            solid = [from_plain(check) for check in held.get("checks", ()) if check.get("verdict") == "stop"]
            known = {(check.code, check.part) for check in part.stopped}
            part = replace(part, stopped=(*part.stopped, *(c for c in solid if (c.code, c.part) not in known)))
        reason = next((r for d, codes, r in reasons if d == digest and _codes(part) <= codes), "")
        return replace(place, part=replace(part, anyway=reason if part.stopped else ""))

    return replace(result, places=tuple(with_reason(place) for place in result.places))


def reason_row(part: PartOrder, reason: str, date: str) -> dict[str, Any]:
    """A row of `log.toml`: this part, stopped by this, is made all the same.

    InputError: no reason, one that is too long, a part that cannot be built as it is meant.
    """
    words = " ".join(plain_text(reason).split())
    if not words or len(words) > MAX_REASON:
        raise InputError("reason", words[:60], f"why it is made although it is stopped, up to {MAX_REASON} letters")
    if part.refused:
        raise InputError(
            f"{part.label} cannot be built as it is meant, whatever the reason",
            ", ".join(check.code for check in part.refused),
            "what `backwave check` says to do about it",
        )
    return {
        "part": part.id, "digest": part_digest(part), "stopped_by": sorted(_codes(part)), "reason": words, "when": date,
    }  # fmt: skip


def _codes(part: PartOrder) -> frozenset[str]:
    return frozenset(check.code for check in part.stopped)


def _reasons(log: Mapping[str, Any]) -> list[tuple[str, frozenset[str], str]]:
    """Digest, stops and reason of each row, the latest first; a row that is none of ours says nothing."""
    rows = log.get(ROW, [])
    return [
        (str(row.get("digest")), frozenset(map(str, row["stopped_by"])), row["reason"])
        for row in (rows[::-1] if isinstance(rows, list) else [])
        if isinstance(row, dict) and isinstance(row.get("stopped_by"), list) and isinstance(row.get("reason"), str)
    ]
