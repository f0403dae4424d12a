"""Rows of edits through the session, each judged by a plain dict: python -m benchmarks edits [ROWS]

What is typed holds quotes, backslashes, tabs, line ends; the file has strings of all four kinds, remarks, CRLF or a
byte order mark; undo, redo, a reload and a text editor come between.  Before: 38 of 750 rows left a file that was
broken or said something else.  Limit: none.
"""

from __future__ import annotations

import copy
import random
import sys
import tempfile
import time
import tomllib
import traceback
from collections import Counter
from pathlib import Path
from typing import Any

from backwave.job.session import Session
from backwave.job.undo import Append, Remove

EXAMPLE = (Path(__file__).resolve().parents[1] / "docs/example-job.toml").read_text(encoding="utf-8")
LENGTHS = ('5 5/8"', '2 1/4"', "39 mm", "36 ± 1 mm", "1e1 mm", "0.04 m", '"4 cm"', '["36 mm", "37 mm"]', '1.5"', None)
TEXTS = ('Van "B"', "C:\\x", '"', "'", '"""', "'''", "\\", "\\u00e9", "# x", "é 🔊", "] }", "x = 1", "3", "true", '\\\\"', 'front \\"', "a\\nb",
         "a\tb", "two\nlines", "", "metric", "'C:\\x'", '"\\u00e9 \\" \\\\"', "39 mm", None)  # fmt: skip
NAMES = ("title", "name", "what", "kind")
KEYS = (*NAMES, "diameter", "clear", "height", "rim", "front", "skin", "frame", "glass", "grille", "thickness", "land")
SPELLED = (
    ('"Night-round delivery van"', '"6\\" door \\\\ \\u00e9" # "title" \\\\'),
    ('"Demo panel van"', '"""two\\\n   "lines" \\\\"""'),
    ('"Demo panel van"', "'''C:\\x \"as is\"'''"),
    ('"Demo 165 mm woofer"', "'C:\\x'"),
    ('"143.5 mm"', '"5 5/8\\""'),
    ('"37 mm"', '"1 1/2\\u0022"'),
)


def leaves(node: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    if isinstance(node, (dict, list)):
        steps = node.items() if isinstance(node, dict) else enumerate(node)
        return [leaf for step, inner in steps for leaf in leaves(inner, (*path, step))]
    return [path]


def put(model: Any, path: tuple[str | int, ...], typed: str | None, now: Any) -> None:
    """The same on the dict: what was typed, or what it says as TOML, whichever the field wanted."""
    for step in path[:-1]:
        model, now = model[step], now[step] if typed is not None else None
    if typed is None:
        del model[path[-1]]
        return
    try:
        said = (typed, typed.strip(), tomllib.loads(f"v = {typed.strip()}")["v"])
    except tomllib.TOMLDecodeError:
        said = (typed, typed.strip(), typed)
    if now[path[-1]] not in said:
        raise AssertionError(f"{path}: {typed!r} became {now[path[-1]]!r}")
    model[path[-1]] = now[path[-1]]


def row(rng: random.Random, folder: Path) -> Counter[str]:
    """One row; an AssertionError says what is wrong."""
    text, path, seen = EXAMPLE, folder / "job.toml", Counter[str]()
    for old, new in rng.sample(SPELLED, 2):
        text = text.replace(old, new, 1)
    text = text.replace("\n", rng.choice(["\n", "\n", "\r\n"]))
    path.write_bytes((rng.choice(["", "", "\ufeff"]) + text).encode())
    session = Session(folder, delay_s=0)
    model = tomllib.loads(text)
    past, future = list[Any](), list[Any]()
    for _ in range(rng.randint(2, 10)):
        kind = rng.choice(["put"] * 8 + ["undo", "undo", "redo", "reload", "editor", "add", "remove"])
        before, seen["edits"] = copy.deepcopy(model), seen["edits"] + 1
        if kind == "put":
            where = rng.choice([leaf for leaf in leaves(model) if rng.random() < 0.05 or leaf[-1] in KEYS])
            typed = rng.choice(TEXTS if where[-1] in NAMES or rng.random() < 0.1 else LENGTHS)
            if not session.set(where, typed):
                put(model, where, typed, tomllib.loads(session.text))
        elif kind == "add":
            seat = {"id": f's{rng.random()} "\\', "ear": ["1 m", "0.5 m", "1 m"]}
            if not session.set_many([Append("seat", seat)]):
                model["seat"].append(seat)
        elif kind == "remove" and not session.set_many([Remove(("seat", len(model["seat"]) - 1))]):
            model["seat"].pop()
        elif kind in ("undo", "redo"):
            stack, other = (past, future) if kind == "undo" else (future, past)
            if (session.undo() if kind == "undo" else session.redo()) != bool(stack):
                raise AssertionError(f"{kind}: {session.said}")
            if stack:
                other.append(model)
                before = model = stack.pop()
        elif kind == "editor":
            session.flush()
            path.write_bytes(path.read_bytes() + b'# "a remark\\\n')
            session.poll()
        elif kind == "reload":
            session.flush()
            session = Session(folder, delay_s=0)
        seen["taken"] += model != before
        if model != before:
            past.append(before)
            future.clear()
        session.flush()
        if tomllib.loads(path.read_bytes().decode("utf-8-sig")) != model:
            raise AssertionError(f"{kind}: the file says something else")
    return seen


def main() -> int:
    rows = int(sys.argv[-1]) if sys.argv[-1].isdecimal() else 100
    seen, failed, start = Counter[str](), 0, time.perf_counter()
    for case in range(rows):
        with tempfile.TemporaryDirectory() as made:
            try:
                seen += row(random.Random(case), Path(made))
            except Exception:  # noqa: BLE001 - whatever it is, it is counted
                failed += 1
                print(f"row {case}:\n{traceback.format_exc(limit=-2)}")
    print(f"  {rows} rows, {seen['edits']} edits, {seen['taken']} of them taken, {time.perf_counter() - start:.0f} s")
    print(f"  rows that failed: {failed} (limit 0)")
    return failed


if __name__ == "__main__":
    sys.exit(min(1, main()))
