"""Whether a part may be made: what was found on its solid, what stops it, and a person's reason to make it all the same.

`check` never loads the solid kernel: findings of the solid are kept under the digest of the part they were measured on and
shown while that digest matches.  Where nothing was built, or something else was, the solid stands as not built.  A reason
stands in `log.toml` with its day, bound to the very part and to what stopped it: another part, or another stop, is stopped
again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from backwave.assess.memo import digest
from backwave.assess.place_result import PlaceResult
from backwave.assess.result import Assessment
from backwave.errors import InputError
from backwave.finding import VERDICTS, CalculationLine, Check, Finding, Message, worst
from backwave.part.order import PartOrder
from backwave.plain_text import plain_text

_KERNEL = 1  # counts up when what is built from the same specification changes


def part_digest(part: PartOrder) -> str:
    """A name for everything that a part's files follow from."""
    return digest(
        _KERNEL, part.spec, part.material, part.how, part.ring, part.stand_in, part.check_ring, part.label,
        part.metal_hole,
    )  # fmt: skip


def made_digest(part: PartOrder) -> str:
    """The same for what is made of it: also whether it is stopped, and the reason to make it all the same."""
    return digest(part_digest(part), part.final, part.marks) if part.stopped or part.flags else part_digest(part)


def with_solids(result: Assessment, kept: Mapping[str, Mapping[str, Any]]) -> Assessment:
    """The same assessment with what `make` found, as far as it was found on these very parts."""
    found: list[Finding] = []
    for part in result.parts:
        held = kept.get(part.id, {})
        if held.get("digest") == part_digest(part):
            found += [Finding(from_plain(check), part.subject) for check in held.get("checks", ())]
        else:
            text = Message("Not built yet: nothing of the solid was measured. Build it with: backwave make")
            found.append(Finding(Check("part.solid", "ok", text, part="state"), part.subject))
    findings = sorted((*result.findings, *found), key=lambda f: -VERDICTS.index(f.check.verdict))
    verdict = worst([f.check.verdict for f in findings])
    return replace(result, findings=tuple(findings), verdict=verdict)


def to_plain(check: Check) -> dict[str, Any]:
    """A check as plain values that JSON can hold."""
    return asdict(check)


def from_plain(plain: Mapping[str, Any]) -> Check:
    """The check again. InputError: something else."""
    try:
        return Check(**{
            **plain, "title": _text(plain["title"]),
            "remedy": None if plain["remedy"] is None else _text(plain["remedy"]),
            "working": tuple(CalculationLine(**step) for step in plain["working"]), "sources": tuple(plain["sources"]),
        })  # fmt: skip
    except (KeyError, TypeError) as error:
        raise InputError("a kept check", str(error), "what `backwave make` writes; build again") from None


def _text(plain: Mapping[str, Any]) -> Message:
    return Message(plain["template"], tuple((name, value, unit) for name, value, unit in plain["quantities"]))


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
    """A row of `log.toml`: this part, stopped by this, is made all the same. InputError: no reason, one that is too
    long, a part that cannot be built as it is meant."""
    words = " ".join(plain_text(reason).split())
    if not words or len(words) > MAX_REASON:
        raise InputError("reason", words[:60], f"why it is made although it is stopped, up to {MAX_REASON} letters")
    if part.refused:
        raise InputError(
            f"{part.label} cannot be built as it is meant, whatever the reason",
            ", ".join(check.name for check in part.refused),
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
