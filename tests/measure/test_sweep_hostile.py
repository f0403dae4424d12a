"""A description of a sweep that somebody changed is refused in a sentence, whatever stands in it."""

from __future__ import annotations

import contextlib
import json
from typing import Any

import pytest

from backwave.errors import InputError
from backwave.measure.sweep import describe, plan_take, take_from

BIG = 10**400


def places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [path] * bool(path) + [p for key, item in inner for p in places(item, (*path, key))]


@pytest.mark.parametrize("value", [float("inf"), float("nan"), BIG, -BIG, "x", [], {}, None, -1, 1e300, True])
def test_any_value_anywhere_is_read_or_refused(value: Any) -> None:
    whole = json.loads(json.dumps(describe(plan_take())))
    for path in places(whole):
        record = json.loads(json.dumps(whole))
        node = record
        for step in path[:-1]:
            node = node[step]
        node[path[-1]] = value
        with contextlib.suppress(InputError):
            take_from(record)
