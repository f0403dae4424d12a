"""Findings and assumed values on a page, each with the way to the place and the field that answer it.

Each list is one element of the page, drawn there, so that an edit sends what it changed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from math import inf
from typing import Any
from urllib.parse import quote

from backwave.assess import Assessment, PlaceResult
from backwave.assess.next_steps import NextStep, kind_of, tally
from backwave.bench import schema_form
from backwave.bench.board import Board
from backwave.bench.page_frame import MARK, Tab, verdict
from backwave.bench.widgets import UpdatableElement
from backwave.finding import Check, Finding, figure, value_words, verdict_line, words
from backwave.fit.types import Clearance
from backwave.job.model import TABLES
from backwave.job.toml_spans import KeyPath, path_of
from backwave.notation.measures import in_words
from backwave.units import show

MAX_CHIPS = 8  # more than these are a list to choose from


def address_of(path: KeyPath) -> str:
    place = f"/survey/{path[0]}"
    if len(path) > 1 and isinstance(path[1], int):
        place += f"/{path[1]}"
    whole = isinstance(path[-1], int) or path in [(t.key,) for t, _ in schema_form.tops()]  # a table, not a field of it
    return place if whole else f"{place}#{schema_form.field_id(path)}"


def why_address(id_: str) -> str:
    """The address of a finding's working."""
    return f"/why/{quote(id_, safe='@.')}"


def of_key(data: Any, key: str) -> KeyPath | None:
    """Where a key written with ids leads, if there is a field for it."""
    path = path_of(data, key)
    if not path or not _known(path):
        return None
    if path in [(t.key,) for t, many in schema_form.tops() if many]:
        return (path[0], len(data.get(path[0], ())))  # of a list: the next one
    return path


def _known(path: KeyPath) -> bool:
    table = schema_form.table()
    for n, key in enumerate(path):
        if isinstance(key, int):
            continue
        inner = next((t for t, _ in table.below if t.key == key), None)
        if inner is None:
            return n == len(path) - 1 and any(f.key == key for f in table.fields)
        table = inner
    return True


def of_finding(board: Board, finding: Finding) -> str:
    """The address of what answers a finding: its field, else the drawing that shows it, else its working."""
    data, key, subject = board.data, finding.check.key, finding.subject
    places = () if board.result is None else board.result.places
    fit = next((p for p in places if p.subject == subject), None)
    if kind_of(finding.check)[0] == "confirm":  # the lines of a gate come before any reading
        ids, part = [row.get("id") for row in data.get("pair", ())], finding.check.part
        return "/wires/factory#" + (f"pair-{ids.index(part)}" if part in ids else f"output-gate-{part}")
    if key:
        top, _, side = subject.partition(".")
        keys = [key, f"opening.{key}", f"opening.{top}.{key}"]
        opening: dict[str, Any] = next((row for row in data.get("opening", ()) if row.get("id") == top), {})
        if side and re.split(r"[.\[]", key)[0] in (opening.get(side) or ()):  # measured on this side by itself
            keys.insert(0, f"opening.{subject}.{key}")
        if " " in key:  # between two readings: where the second stands
            keys += [f"opening.{one}" for one in reversed(re.findall(r"[\w-]+(?:\.[\w-]+|\[\d+\])+", key))]
        keys += [f"{name}.{subject}.{key}" for name, table in TABLES.items() if table.named]
        if fit is not None:
            pair = (fit.opening_id, fit.speaker_id)
            numbers = [n for n, r in enumerate(data.get("adapter", [])) if (r.get("opening"), r.get("speaker")) == pair]
            keys += [f"speaker.{fit.speaker_id}.{key}", *(f"adapter[{number}].{key}" for number in numbers[:1])]
        for one in keys:
            if path := of_key(data, one):
                return address_of(path)
    if fit is not None:
        kind = finding.check.code
        place = "part" if kind.startswith("part.") else "face" if kind == "fit.clocking" else "section"
        return f"/{place}/{subject}"
    ways = {"sound": "/sound", "measure": "/proof", "power": "/wires",
            "wire": "/wires/factory" if subject == "factory" else "/wires/harness"}  # fmt: skip
    return ways.get(finding.topic) or why_address(finding.id)


class Chooser(UpdatableElement, component="chips.js"):
    """Which opening and side a place shows, each with its verdict."""

    def __init__(self, place: str) -> None:
        super().__init__(rows=[], label="Openings", most=MAX_CHIPS)
        self._place = place

    def tell(self, result: Assessment | None, chosen: str) -> None:
        rows = [] if result is None else [
            {"said": f"{MARK[told]} {result.names.get(fit.subject, fit.subject)}", "verdict": told,
             "to": f"{self._place}/{fit.subject}", "here": fit.subject == chosen}
            for fit in result.places
            for told in ["checking" if fit.preliminary and fit.fit_verdict == "ok" else fit.fit_verdict]
        ]  # fmt: skip
        self.say(rows=rows)


def _told(result: Assessment, check: Check) -> str:
    """A finding's verdict; what is ok by first order alone is still being checked."""
    drawn = check.low is not None and check.code.startswith("fit.")
    return "checking" if result.preliminary and drawn and check.verdict == "ok" else check.verdict


class Numbers(UpdatableElement, component="numbers.js"):
    """Lines of numbers, each with the way to its working."""

    def __init__(self) -> None:
        super().__init__(rows=[])

    def tell(self, result: Assessment, findings: Iterable[Finding], name: bool = False) -> None:
        """Show these; `name`: with what each is about."""
        self.say(rows=[
            {"id": f.id, "verdict": told, "mark": verdict(told), "why": why_address(f.id),
             "said": (f"{result.names.get(f.subject, f.subject)}: " if name else "") + verdict_line(f.check, result.show)}
            for f in findings
            for told in [_told(result, f.check)]
        ])  # fmt: skip


def lines(result: Assessment, fit: PlaceResult, topic: str | tuple[str, ...], skip: Iterable[str] = (),
          only: Iterable[str] | None = None) -> list[Finding]:  # fmt: skip
    """The findings of one opening and side under one topic."""
    found = [f for f in result.findings if f.subject == fit.subject and f.check.code.startswith(topic)]
    return [f for f in found if f.check.code not in skip and (only is None or f.check.code in only)]


class Findings(UpdatableElement, component="findings.js"):
    """Findings, twins in one line, what blocks first, with what to do about each; what waits or is ok stands folded."""

    def __init__(self) -> None:
        super().__init__(bad=[], waits=[], good=[], none="")

    def tell(self, here: Tab, result: Assessment, findings: Iterable[Finding], steps: Sequence[NextStep] = ()) -> None:
        """Show these. `steps`: those above them on the page, which say what to do."""
        ids = {f.id for f in findings}
        told = {id_: number for number, step in reversed([*enumerate(steps, 1)]) for id_ in step.settles}
        groups = [group for group in result.groups if not ids.isdisjoint(group.ids)]
        rows: dict[str, list[dict[str, Any]]] = {"bad": [], "waits": [], "good": []}
        for group in groups:
            check, system = group.check, result.show
            rows["bad" if group.is_open else "waits" if check.waits else "good"].append(
                {"id": group.ids[0], "verdict": (seen := _told(result, check)), "mark": verdict(seen),
                 "said": f"{group.name}: {verdict_line(check, system)}", "remedy": words(check.remedy, system) or "",
                 "figure": figure(check, system), "step": told.get(group.ids[0], 0), "ids": [{"id": id_, "why": why_address(id_)} for id_ in group.ids],
                 "there": "" if check.verdict == "ok" else of_finding(here.board, group.findings[0])}
            )  # fmt: skip
        self.say(none=tally(groups), **rows)


class NextSteps(UpdatableElement, component="next.js"):
    """The next few things to do over the whole job, each with why, how long, and where it is done."""

    def __init__(self) -> None:
        super().__init__(rows=[])

    def tell(self, here: Tab, result: Assessment, steps: Sequence[NextStep]) -> None:
        self.say(rows=[
            {"do": (f"{step.name}: " if step.name else "") + words(step.do, result.show), "why": step.said(result.show),
             "time": f"{step.minutes:.0f} min" + (f" + {step.machine_min:.0f} min printing" if step.machine_min else ""),
             "settles": f"settles {len(step.settles)}" if step.settles else "",
             "act": _ACTS.get(step.kind, step.kind.capitalize()), "there": of_step(here.board, step)}
            for step in steps
        ])  # fmt: skip


_ACTS = {"measure": "Measure and enter"}  # else as it is called


def of_step(board: Board, step: NextStep) -> str:
    """The address where a step is done."""
    finding = step.finding
    if finding is None:
        return f"/work#{step.task}"
    if step.part:
        return f"/part/{finding.subject}"
    return of_finding(board, finding)


class Assumptions(UpdatableElement, component="assumed.js"):
    """What stands in for values that nobody gave."""

    def __init__(self) -> None:
        super().__init__(rows=[])

    def tell(self, here: Tab, result: Assessment) -> None:
        system, data = result.show, here.board.data
        self.say(rows=[
            {"key": item.key, "value": value_words(item, system), "why": in_words(item.why, system),
             "there": address_of(path) if (path := of_key(data, item.key)) else ""}
            for item in result.assumed
        ])  # fmt: skip


APART_MM = 0.05  # what is shown as a move
_WHAT = {
    "glass": "glass", "behind": "what is behind", "grille": "grille", "hole": "hole edge", "vent": "vent",
    "terminals.glass": "terminals to glass", "terminals.metal": "terminals to metal",
    "screw-tails.glass": "screw tails to glass", "screw-tails.metal": "screw tails to metal",
}  # fmt: skip


def moved(was: PlaceResult | None, now: PlaceResult, system: str) -> list[tuple[int, float, str]]:
    """What moves at a place: the clearance that moves most, and each whose verdict changes (-1 before it), with its room
    beyond the margin and in words. By first order no verdict is said, and only values are compared: ends by first order
    and ends by draws differ although nothing moves."""
    before = {} if was is None else {c.name: c for c in was.fit.clearances}
    sure, taken = not now.preliminary, now.taken

    def far(c: Clearance) -> float:
        if c.name not in before:
            return inf
        old, new = before[c.name].estimate, c.estimate
        return max(abs(old.value - new.value), abs(old.low - new.low) if sure else 0.0)

    def told(c: Clearance, place: PlaceResult | None) -> str:  # as `check` says it
        found = (f.verdict for f in (place or now).fit_checks if (f.code, f.part) == (c.code, c.part))
        return next(found, c.verdict)

    def figure(a: float, b: float) -> str:
        first = f"{show(a, 'mm', system, bare=True)} \u2192 " if abs(a - b) >= APART_MM else ""
        return first + show(b, "mm", system)

    share = now.fit.contributions[:1]
    least = f" Least certain now: {share[0][0].partition('.')[2] or share[0][0]}." if share else ""
    if was is not None and sure and abs(taken.thickness_mm - was.taken.thickness_mm) >= APART_MM:
        least += f" The part is chosen anew: {figure(was.taken.thickness_mm, taken.thickness_mm)} thick."
    said: list[tuple[int, float, str]] = []
    for c in sorted(now.fit.clearances, key=lambda c: (-round(2.0 * min(far(c), 1e3)), c.estimate.low - c.margin_mm)):
        held, new = before.get(c.name), c.estimate
        old, turned = new, False
        if held is not None:
            old, turned = held.estimate, sure and told(held, was) != told(c, now)
        if not turned and (said or far(c) < APART_MM):
            continue
        words = f"{now.name}: {_WHAT.get(c.name, c.name)} {figure(old.value, new.value)}"
        low = f"95 % from {figure(old.low, new.low)}, needs {show(c.margin_mm, 'mm', system)}"
        words += f" ({low}), {verdict(told(c, now))}." if sure else ", checking \u2026"
        said.append((-turned, new.low - c.margin_mm, words + ("" if said else least)))
    return said
