"""Lists that change with every edit: each one element of the page, drawn there, so that an edit sends what it changed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from backwave.assess import Assessment, PlaceResult
from backwave.assumptions import value_words
from backwave.bench import links
from backwave.bench.page_frame import MARK, Tab, verdict
from backwave.bench.widgets import UpdatableElement
from backwave.finding import Finding, figures, verdict_line, words
from backwave.notation.measures import in_words

MAX_CHIPS = 8  # more than these are a list to choose from


class Chooser(UpdatableElement, component="chips.js"):
    """Which opening and side a place shows, each with its verdict."""

    def __init__(self, place: str) -> None:
        super().__init__()
        self._place = place
        self._props.update({"rows": [], "label": "Openings", "most": MAX_CHIPS})

    def tell(self, result: Assessment | None, chosen: str) -> None:
        """Show what there is to choose from."""
        rows = []
        for fit in () if result is None else result.places:
            name, word = result.names.get(fit.subject, fit.subject) if result else "", fit.fit_verdict
            rows.append(
                {"said": f"{MARK[word]} {name}", "verdict": word, "to": f"{self._place}/{fit.subject}",
                 "here": fit.subject == chosen}
            )  # fmt: skip
        self.say(rows=rows)


class Numbers(UpdatableElement, component="numbers.js"):
    """Lines of numbers, each with the way to its working."""

    def __init__(self) -> None:
        super().__init__()
        self._props["rows"] = []

    def tell(self, result: Assessment, findings: Iterable[Finding]) -> None:
        """Show these."""
        rows = []
        for finding in findings:
            check = finding.check
            rows.append(
                {"id": finding.id, "verdict": check.verdict, "mark": verdict(check.verdict),
                 "said": verdict_line(check, result.show), "why": links.why(finding.id)}
            )  # fmt: skip
        self.say(rows=rows)


def lines(
    result: Assessment,
    fit: PlaceResult,
    topic: str | tuple[str, ...],
    skip: Iterable[str] = (),
    only: Iterable[str] | None = None,
) -> list[Finding]:
    """The findings of one opening and side under one topic."""
    return [
        f
        for f in result.findings
        if f.subject == fit.subject
        and f.check.code.startswith(topic)
        and f.check.code not in skip
        and (only is None or f.check.code in only)
    ]


class Findings(UpdatableElement, component="findings.js"):
    """Findings, worst first, with what to do about each."""

    def __init__(self, none: str = "Nothing. Every check is ok.") -> None:
        super().__init__()
        self._props.update({"bad": [], "waits": [], "good": [], "none": none})

    def tell(self, here: Tab, result: Assessment, findings: Iterable[Finding]) -> None:
        """Show these."""
        bad: list[dict[str, Any]] = []
        good: list[dict[str, Any]] = []
        waits: list[dict[str, Any]] = []
        for finding in findings:
            check, system = finding.check, result.show
            (good if check.verdict == "ok" else waits if check.waits else bad).append(
                {"id": finding.id, "verdict": check.verdict, "mark": verdict(check.verdict),
                 "said": f"{result.names.get(finding.subject, finding.subject)}: {verdict_line(check, system)}",
                 "remedy": words(check.remedy, system) or "", "figure": _figure(finding, system),
                 "why": links.why(finding.id),
                 "there": "" if check.verdict == "ok" else links.of_finding(here.board, finding)}
            )  # fmt: skip
        self.say(bad=bad, waits=waits, good=good)


class Assumptions(UpdatableElement, component="assumed.js"):
    """What stands in for values that nobody gave."""

    def __init__(self) -> None:
        super().__init__()
        self._props["rows"] = []

    def tell(self, here: Tab, result: Assessment) -> None:
        """Show these."""
        rows = []
        for item in result.assumed:
            path = links.of_key(here.board.data, item.key)
            rows.append(
                {
                    "key": item.key,
                    "value": value_words(item, result.show),
                    "why": in_words(item.why, result.show),
                    "there": links.href(path) if path else "",
                }
            )
        self.say(rows=rows)


def _figure(finding: Finding, system: str) -> str:
    value, ends, limit = figures(finding.check, system)
    return value + (ends and f"  ({ends})") + (value and limit and f"  against {limit}")
