"""Every change of a part that is offered, written into the job as a person would and judged again from the beginning."""

from __future__ import annotations

import tomllib
from typing import Any

from tomli_w import dumps

from backwave.assess import Assessment, Memo, assess
from backwave.job import loads

RANKS = ("ok", "caution", "stop")
SAID_MM = 0.15  # what was said of a value against what it is then: shown to a tenth, drawn by chance


def not_ok(result: Assessment) -> dict[str, str]:
    """What is not ok, by id."""
    return {f.id: f.check.verdict for f in result.findings if f.check.verdict != "ok"}


def with_change(text: str, key: str, value: str) -> str:
    """The job with one change written into its part's table, as a person would."""
    table: dict[str, Any] = tomllib.loads(text)
    held = table["adapter"][0]
    if key.startswith("foam."):
        held, key = held.setdefault("foam", {}), key.removeprefix("foam.")
        if key in ("grooved", "back"):
            held.pop("closed", None)
    held.pop(key, None)
    if value:
        held[key] = tomllib.loads(f"x = {value}")["x"] if value[0] == "{" or value == "true" else value
    return dumps(table)


def faults(before: Assessment, text: str, memo: Memo, draws: int) -> tuple[int, list[str]]:
    """How many changes were offered, and what is wrong with them: what it stands under is no better, or better by
    something else than was said, or something new is a stop."""
    was, count, wrong = not_ok(before), 0, []
    for place in before.places:
        for one in place.remedies:
            if not one.key:
                continue
            count += 1
            after = assess(loads(with_change(text, one.key, one.value)), memo, draws, whole=False)
            now, at = not_ok(after), f"@{place.subject}"
            said = f"{one.key} = {one.value}"
            wrong += [
                f"{said}: {name} is no better"
                for name in one.lifts
                if RANKS.index(now.get(name + at, "ok")) >= RANKS.index(was[name + at])
            ]
            new = [i for i, v in now.items() if v == "stop" and was.get(i) != "stop" and i.endswith(at)]
            wrong += [f"{said}: {i} is a stop" for i in new]
            held = {c.name: c for p in after.places if p.subject == place.subject for c in p.checks}
            if one.stops_left != sum(c.verdict == "stop" for c in held.values()):
                wrong.append(f"{said}: {one.stops_left} stops were said to be left")
            for name, left in zip(one.lifts, one.left, strict=True):
                value, _, still = left or (None, "", False)
                then = held.get(name)
                if still != (then is not None and then.verdict != "ok"):
                    wrong.append(f"{said}: {name} was said to be {'a caution' if still else 'ok'}")
                if value is not None and (then is None or then.value is None or abs(then.value - value) > SAID_MM):
                    wrong.append(f"{said}: {name} was said to be {value}")
    return count, wrong
