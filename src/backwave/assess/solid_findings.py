"""Findings of the solid: kept under the digest of the part they were measured on, shown while that digest matches.

`check` never loads the solid kernel.  Where nothing was built, or something else was, the solid stands as not built.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from backwave.assess.memo import digest
from backwave.assess.result import Assessment
from backwave.errors import InputError
from backwave.finding import VERDICTS, CalculationLine, Check, Finding, Message, worst
from backwave.part.order import PartOrder

_KERNEL = 1  # counts up when what is built from the same specification changes


def part_digest(part: PartOrder) -> str:
    """A name for everything that a part's files follow from."""
    return digest(
        _KERNEL,
        part.spec,
        part.material,
        part.how,
        part.ring,
        part.stand_in,
        part.check_ring,
        part.label,
        part.metal_hole,
    )


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
        return Check(
            **{
                **plain,
                "title": _text(plain["title"]),
                "remedy": None if plain["remedy"] is None else _text(plain["remedy"]),
                "working": tuple(CalculationLine(**step) for step in plain["working"]),
                "sources": tuple(plain["sources"]),
            }
        )
    except (KeyError, TypeError) as error:
        raise InputError("a kept check", str(error), "what `backwave make` writes; build again") from None


def _text(plain: Mapping[str, Any]) -> Message:
    return Message(plain["template"], tuple((name, value, unit) for name, value, unit in plain["quantities"]))
