"""One number that nobody read is one question: what waits for its answer is named by it, and folded under it.

A check that is no more than a caution because of it keeps its value, chance and verdict; it stands in no list of open
issues beside the question.  On a second side the same question about the same speaker, or about an opening that is
assumed to mirror the first, is folded under the first side's.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from backwave.finding import Finding, Message
from backwave.fit.plausible import ENTRIES
from backwave.job import Place

_WAITS = {
    "fit.glass": "the glass",
    "fit.behind": "what is behind",
    "fit.grille": "the grille",
    "fit.hole": "the hole's edge",
    "fit.terminals": "the terminals against what is behind",
    "fit.screw-tails": "the screw tails",
    "fit.vent": "the vent",
    "fit.flat": "the trim's flat",
    "fit.foam-ring": "the foam ring",
    "fit.total-height": "the height over all",
    "fit.screw": "the screws",
    "mount.terminals": "the terminals in the part",
}
"""What a person calls a check that waits; others wait without being named."""
_SPEAKER = ("fit.assumed", "fit.fixing", "job.missing.holes", "mount.held")  # the same on both sides
_READ = {  # the same on a side where that table was not read by itself
    "fit.coverage": "behind",
    "fit.reach": "behind",
    "job.missing.behind": "behind",
    "job.missing.trim.clear": "trim",
    "fit.flat.inner": "trim",
    "job.missing.hole": "hole",
}


def twins_of(places: Sequence[tuple[Place, str]]) -> dict[str, tuple[str, frozenset[str]]]:
    """For each mirrored place the first side with the same speaker, and the tables that were read on its own side."""
    firsts: dict[tuple[str, str], str] = {}
    found = {}
    for place, speaker in places:
        first = firsts.setdefault((place.opening.id, speaker), place.subject)
        if first != place.subject and place.mirrored:
            found[place.subject] = (first, frozenset(place.own))
    return found


def with_waits(findings: Sequence[Finding], twins: Mapping[str, tuple[str, frozenset[str]]]) -> list[Finding]:
    """The same findings; each that waits names by id the question it waits for, which says what it settles."""
    open_ones = {f.id: f for f in findings if f.check.verdict != "ok"}
    asked: dict[str, tuple[str, ...]] = {}
    for f in findings:
        if f.check.verdict == "caution":
            wanted = tuple(f"{name}@{f.subject}" for name in f.check.waits)
            first, own = twins.get(f.subject, ("", frozenset()))
            twin = f"{f.check.name}@{first}"
            if twin in open_ones and _same(f, own) and open_ones[twin].check.verdict == "caution":
                wanted = (twin,)
            asked[f.id] = tuple(one for one in wanted if one in open_ones and one != f.id)
    roots = {one: _roots(one, asked) for one in asked}
    said: dict[str, dict[str, None]] = {}
    later: dict[str, dict[str, None]] = {}
    both: set[str] = set()
    for f in findings:
        for root in roots.get(f.id, ()):
            if open_ones[root].check.name == f.check.name:
                both.add(root)
            elif f.check.code == "fit.assumed":
                later.setdefault(root, {})[ENTRIES[f.check.part]] = None
            elif f.check.code in _WAITS:
                said.setdefault(root, {})[_WAITS[f.check.code]] = None
    return [
        _told(f, said.get(f.id, {}), later.get(f.id, {}), f.id in both, roots.get(f.id, ())) if f.id in open_ones else f
        for f in findings
    ]


def _same(finding: Finding, own: frozenset[str]) -> bool:
    if finding.check.name.startswith(_SPEAKER):
        return True
    table = next((table for name, table in _READ.items() if finding.check.name.startswith(name)), None)
    return table is not None and table not in own


def _roots(one: str, asked: Mapping[str, tuple[str, ...]], seen: frozenset[str] = frozenset()) -> tuple[str, ...]:
    """The questions at the end of what it waits for; () for one that waits for nothing."""
    ends: dict[str, None] = {}
    for target in asked[one]:
        if target not in seen:
            ends |= dict.fromkeys(_roots(target, asked, seen | {one}) if asked.get(target) else (target,))
    return tuple(ends)


def _told(
    finding: Finding, settles: Iterable[str], later: Iterable[str], both: bool, waits: tuple[str, ...]
) -> Finding:
    check = finding.check
    text = check.title.template + (" (both sides)" if both else "")
    quantities = check.title.quantities
    for name, said, words in (("settles", "It settles", settles), ("later", "After it, if still open", later)):
        if words and not waits:
            text += f". {said}: {{{name}}}"
            quantities += ((name, ", ".join(words), ""),)
    return replace(finding, check=replace(check, title=Message(text, quantities), waits=waits))
