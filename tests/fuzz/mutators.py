"""Job files that nobody would write, and many that somebody might: one text from one seed, the same on every machine.

Half of the mutators change the content (values of another kind, values at the ends of what the model accepts, rows
twice or gone, outlines that cross themselves), the other half the letters (brackets, quotes, units, signs, encodings).
"""

from __future__ import annotations

import copy
import random
import re
import tomllib
from collections.abc import Callable
from datetime import date, datetime, time
from functools import cache
from pathlib import Path
from typing import Any, get_args

import tomli_w
from pydantic import BaseModel

from backwave.job.fields import Dim
from backwave.job.model import JobFile
from backwave.job.starter import starter
from backwave.units import DIMENSIONS, units_of

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "src/backwave/cli/demo_job"
Node = Any
Where = tuple[Any, ...]
Random = random.Random


@cache
def bases() -> tuple[str, ...]:
    """The jobs that are mutated: the demo, the example of the docs, a new one."""
    six = {
        "hole": "143 mm",
        "behind": "58 mm",
        "trim": "37 mm",
        "cutout": "141 mm",
        "magnet": "92 mm",
        "depth": "64 mm",
    }
    texts = [(DEMO / "job.toml").read_text("utf-8"), (ROOT / "docs/example-job.toml").read_text("utf-8")]
    return (*texts, starter("New", **six))


@cache
def dims() -> dict[Where, Dim]:
    """The quantity of each key of the model, by its path without positions."""
    found: dict[Where, Dim] = {}

    def visit(annotation: Any, path: Where, deep: int = 0) -> None:
        for item in getattr(annotation, "__metadata__", ()):
            if isinstance(item, Dim):
                found.setdefault(path, item)
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            for name, info in annotation.model_fields.items():
                here = (*path, info.alias or name)
                for item in info.metadata:
                    if isinstance(item, Dim):
                        found.setdefault(here, item)
                if deep < 6:
                    visit(info.annotation, here, deep + 1)
        for inner in get_args(annotation):
            visit(inner, path, deep)

    visit(JobFile, ())
    return found


def leaves(node: Node, path: Where = ()) -> list[Where]:
    """Every place in a content, tables and lists as well as values."""
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [path] * bool(path) + [p for key, item in inner for p in leaves(item, (*path, key))]


def at(node: Node, path: Where) -> Node:
    for step in path:
        node = node[step]
    return node


def put(node: Node, path: Where, value: Node) -> None:
    at(node, path[:-1])[path[-1]] = value


LETTERS = (
    "\x1b]0;x\x07", "\x00", "\n", "\r\n", "\t", "\u2028", "\u202e", "\u2067", "\x85", "\x7f", "\ufeff", "\ufffe", "é", "漢字", "\U0001f690",
    '"', "'", "\\", '5 5/8"', "<script>", "${x}", "{{x}}", "=1+1", "@x", "../../x", "C:\\x", "/", "con", "%n", "#", ",", "$x$",
)  # fmt: skip


def odd_text(rng: Random) -> str:
    """A text that is none of the words meant."""
    kind = rng.randrange(7)
    if kind == 0:
        return ""
    if kind == 1:
        return rng.choice("aé漢 -.x") * rng.choice([1, 2, 59, 60, 61, 120, 200, 201, 300, 4000, 5000])
    if kind == 2:
        return rng.choice(LETTERS)
    if kind == 3:
        return "x" + rng.choice(LETTERS) + "y"
    if kind == 4:
        return "".join(
            chr(rng.choice([rng.randrange(32, 127), rng.randrange(1, 0xD7FF), rng.randrange(0xE000, 0x10FFFF)]))
            for _ in range(rng.randrange(1, 30))
        )
    if kind == 5:
        return rng.choice(
            [
                "auto",
                "none",
                "open",
                "factory",
                "left",
                "battery",
                "series C 4.7 uF",
                "shunt R 1 ohm | L 1 mH",
                "peak 1 kHz +3 dB Q 1",
                "AWG 4",
                "M5",
                "ST4.2",
                "3 o'clock",
                "Fri 18:00-23:00",
            ]
        )
    return "(" * rng.choice([1, 19, 30, 500]) + "series R 1 ohm"


def odd_number(rng: Random) -> str:
    """A number as text, from the plausible to the absurd."""
    kind = rng.randrange(9)
    if kind < 3:
        return f"{rng.choice(['', '-', '+', '−'])}{rng.uniform(0, 10) * 10 ** rng.randrange(-6, 9):.{rng.randrange(0, 9)}g}"
    if kind == 3:
        return rng.choice(
            [
                "0",
                "-0",
                "0.0",
                ".5",
                "5.",
                "1,5",
                "1 000",
                "1_000",
                "١٢",
                "½",
                "½ ",
                "1e5",
                "1e-320",
                "1e308",
                "1e999",
                "inf",
                "nan",
                "NaN",
            ]
        )
    if kind == 4:
        return f"{rng.randrange(0, 40)} {rng.randrange(0, 9)}/{rng.choice([0, 1, 2, 3, 16, 64])}"
    if kind == 5:
        return rng.choice("19") * rng.choice([15, 19, 39, 119, 309, 400, 5000]) + rng.choice(["", "/1", ".5"])
    if kind == 6:
        return f"{rng.randrange(1000)} {rng.choice(['±', '+-', '+/-', 'u', '±±', '+', 'u u'])} {rng.choice(['1', '-1', '0', '1e9', 'x', ''])}"
    if kind == 7:
        return f"1e{rng.randrange(-400, 400)}"
    return str(rng.randrange(-5, 300))


def odd_quantity(rng: Random, dimension: str = "") -> str:
    """A number and a unit, seldom the right ones."""
    units = units_of(dimension if dimension and rng.random() < 0.7 else rng.choice(DIMENSIONS)) or ("",)
    unit = (
        rng.choice([*units, rng.choice(["", "furlong", "Mm", '"', "″", "°", "Ω", "mm mm", "mm/", "μm"])])
        if rng.random() < 0.3
        else rng.choice(units)
    )
    space = " " * rng.choice([0, 1, 1, 1, 2, 90, 20_000]) if rng.random() < 0.1 else " "
    return f"{odd_number(rng)}{space}{unit}"


def odd_value(rng: Random, dimension: str = "") -> Node:
    """Anything that TOML can say."""
    kind = rng.randrange(12)
    if kind < 3:
        return odd_quantity(rng, dimension)
    if kind < 5:
        return odd_text(rng)
    simple: list[Node] = [
        True, False, 0, -1, 1, 64, 2**31, 2**63, -(2**70), 10**60, 0.0, -0.5, 1e300, 5e-324, float("inf"), float("nan"),
        date(2026, 2, 3), time(1, 2), datetime(2026, 2, 3, 4, 5), [], {}, [[]], [{}], {"a": 1}, {"": ""}, [1], [[1]], [[0, 0], [1, 1]], ["5 mm"],
        [1, "a"], {"id": {"id": []}}, [["5 mm", "6 mm"]],
    ]  # fmt: skip
    if kind < 10:
        return copy.deepcopy(rng.choice(simple))
    inner = [odd_value(rng, dimension) for _ in range(rng.randrange(0, 5))]
    return inner if kind == 10 else {f"k{i}": v for i, v in enumerate(inner)}


def at_an_end(rng: Random, dim: Dim) -> str:
    """A quantity that the model accepts: at an end, near it, or anywhere between."""
    unit, low, high = dim.bounds._ends
    share = rng.choice([0.0, 1.0, 1e-6, 1 - 1e-6, rng.random(), rng.random()])
    value = low * (high / low) ** share if low > 0 and rng.random() < 0.7 else low + share * (high - low)
    spread = f" ± {abs(high - low) * rng.choice([0, 1e-6, 0.01, 0.25, 0.26]):.9g}" if rng.random() < 0.1 else ""
    return f"{value:.15g}{spread} {unit}"


def scaled(rng: Random, data: Node) -> None:
    """One quantity of the job a little or much larger or smaller."""
    spots = [p for p in leaves(data) if isinstance(at(data, p), str) and re.match(r"[\d.]+ [A-Za-z]", at(data, p))]
    if spots:
        path = rng.choice(spots)
        number, _, unit = at(data, path).partition(" ")
        put(data, path, f"{float(number) * rng.choice([0.1, 0.5, 0.8, 0.95, 1.05, 1.2, 2, 10]):.9g} {unit}")


def odd_outline(rng: Random) -> list[list[float]]:
    """Points of an outline: tiny, flat, crossing itself, doubled, spiked, or of very many corners."""
    n, size = rng.choice([0, 1, 2, 3, 4, 5, 12, 60, 400]), rng.choice([0.0, 1e-9, 0.5, 30.0, 90.0, 499.0, 2000.0])
    points = [[rng.uniform(-size, size), rng.uniform(-size, size)] for _ in range(n)]
    kind = rng.randrange(5)
    if kind == 0:
        points = [[x, 0.0] for x, _ in points]
    elif kind == 1:
        points = points + points
    elif kind == 2 and points:
        points = [points[0]] * len(points)
    elif kind == 3:
        points.sort()
    return points


def reshape(rng: Random, data: Node) -> None:
    """Change the content of a job in one place."""
    paths = leaves(data)
    if not paths:
        return
    path, other = rng.choice(paths), rng.choice(paths)
    plain = tuple(p for p in path if isinstance(p, str))
    dim, parent = dims().get(plain), at(data, path[:-1])
    kind = rng.randrange(14)
    if kind < 4 and dim is None:
        narrowed = [p for p in paths if tuple(s for s in p if isinstance(s, str)) in dims()]
        if narrowed:
            path = rng.choice(narrowed)
            dim = dims()[tuple(s for s in path if isinstance(s, str))]
    if kind < 3 and dim is not None:
        put(data, path, at_an_end(rng, dim))
    elif kind == 3:
        put(data, path, odd_quantity(rng, dim.dimension if dim else ""))
    elif kind == 4:
        put(data, path, odd_value(rng))
    elif kind == 5:
        del parent[path[-1]]
    elif kind == 6:
        put(data, path, copy.deepcopy(at(data, other)))
    elif kind == 7:
        lists = [p for p in paths if isinstance(at(data, p), list) and at(data, p)]
        if lists:
            rows = at(data, rng.choice(lists))
            row = rng.choice(rows)
            rows.extend(copy.deepcopy(row) for _ in range(rng.choice([1, 1, 2, 9, 60, 199, 250])))
    elif kind == 8 and isinstance(parent, list):
        rng.shuffle(parent)
    elif kind == 9:
        tables = [()] + [p for p in paths if isinstance(at(data, p), dict)]
        key = rng.choice([p[-1] for p in paths if isinstance(p[-1], str)] + [odd_text(rng)])
        put(data, (*rng.choice(tables), key), odd_value(rng))
    elif kind == 10:
        put(data, path, odd_outline(rng))
    elif kind == 11 and isinstance(at(data, path), str):
        text = at(data, path)
        cut = rng.randrange(len(text) + 1)
        put(data, path, text[:cut] + rng.choice(LETTERS) + text[cut:])
    elif kind == 12 and isinstance(at(data, path), (int, float)):
        put(
            data,
            path,
            rng.choice([-1, 0, 1, 2, 1e-9, 3.7, 64, 65, 1e6, 1e12, at(data, path) * rng.choice([-1, 0.1, 10, 1000])]),
        )
    else:
        # a key the model knows, where this job has none: at the ends of what it accepts
        known, wanted = rng.choice(sorted(dims().items(), key=str))
        node = data
        for step in known[:-1]:
            node = node.setdefault(step, {}) if isinstance(node, dict) else {}
            node = rng.choice(node) if isinstance(node, list) and node else node
        if isinstance(node, dict):
            node[known[-1]] = at_an_end(rng, wanted)


def _spot(rng: Random, text: str) -> int:
    return rng.randrange(len(text) + 1)


def _number(rng: Random, text: str) -> str:
    spots = list(re.finditer(r"-?\d+(?:\.\d+)?", text))
    if not spots:
        return text
    m = rng.choice(spots)
    return text[: m.start()] + odd_number(rng) + text[m.end() :]


def _unit(rng: Random, text: str) -> str:
    spots = list(re.finditer(r"(?<=\d )[A-Za-z0-9/%]+(?=\")", text))
    if not spots:
        return text
    m = rng.choice(spots)
    return text[: m.start()] + rng.choice(units_of(rng.choice(DIMENSIONS)) or ("x",)) + text[m.end() :]


def _line(rng: Random, text: str) -> str:
    lines = text.split("\n")
    i, j = rng.randrange(len(lines)), rng.randrange(len(lines))
    kind = rng.randrange(5)
    if kind == 0:
        del lines[i]
    elif kind == 1:
        lines.insert(j, lines[i])
    elif kind == 2:
        lines[i], lines[j] = lines[j], lines[i]
    elif kind == 3:
        lines[i:i] = lines[j : j + rng.randrange(20)]
    else:
        lines[i] = rng.choice(
            [
                "[[opening]]",
                "[speaker]",
                "[a.b.c]",
                "[[stage.path]]",
                "x = [",
                '"" = 1',
                "= 1",
                "a.b.c.d = 1",
                "]",
                "[[",
                "'a' = 'b'",
                "opening.id = 'x'",
                "x = {",
                "k = 0x" + "f" * 40,
                "t = 07:32:00",
                "d = 1979-05-27T00:32:00.999999999999Z",
            ]
        )
    return "\n".join(lines)


def _letters(rng: Random, text: str) -> str:
    i = _spot(rng, text)
    piece = rng.choice(
        [
            *"[]{}=\"'#,.\n\\ -_",
            '"""',
            "'''",
            "\r\n",
            "\r",
            "\x00",
            "\x1b",
            "\ufeff",
            "\ud83d",
            "\u202e",
            "\t",
            "[" * 30,
            "a." * 50,
            "9" * 200,
            " " * 5000,
            "\\u0000",
            "\\U0010ffff",
            "\\ud800",
        ]
    )
    return text[:i] + piece + text[i + rng.choice([0, 0, 0, 1, 1, 5, 200]) :]


def _whole(rng: Random, text: str) -> str:
    kind = rng.randrange(9)
    if kind == 0:
        return text[: _spot(rng, text)]
    if kind == 1:
        return text[_spot(rng, text) :]
    if kind == 2:
        return text.replace("\n", rng.choice(["\r\n", "\r", "\n\n", " "]))
    if kind == 3:
        return text + "\n" + text
    if kind == 4:
        return (
            text
            + "\n"
            + "\n".join(
                f"{rng.choice('abk')}{i} = {rng.choice(['1', '[]', '{}'])}" for i in range(rng.choice([10, 210, 1500]))
            )
        )
    if kind == 5:
        return text.upper() if rng.random() < 0.2 else text.replace(rng.choice("aeio =\"'"), rng.choice("xyz'\" "))
    if kind == 6:
        return (
            "format = " + rng.choice(["0", "2", "-1", "1.0", '"1"', "[]", "99999999999999999999", "true"]) + "\n" + text
        )
    if kind == 7:
        return text + f"\nx = {'[' * rng.choice([5, 23, 25, 900])}"
    return text + "\nlist = [" + "1, " * rng.choice([10, 201, 3000, 30_000]) + "]\n"


REWRITES: tuple[Callable[[Random, str], str], ...] = (_number, _number, _unit, _line, _letters, _letters, _whole)


def mutated(seed: int, near: bool = False) -> str:
    """The job file of one seed.

    Parameters
    ----------
    seed : int, no unit
        Any number.
    near : bool, no unit
        Changed in its content alone and only a little, so that most are read: for what comes after reading.
    """
    rng = Random(seed)
    text = rng.choice(bases())
    if near or rng.random() < 0.6:
        data = tomllib.loads(text)
        for _ in range(rng.choice([1, 1, 2, 3]) if near else rng.choice([1, 1, 2, 4, 9])):
            before = copy.deepcopy(data)
            try:
                (scaled if near and rng.random() < 0.6 else reshape)(rng, data)
            except (
                IndexError,
                KeyError,
                TypeError,
                AttributeError,
                OverflowError,
            ):  # two changes of which one took the other's place
                data = before
        text = tomli_w.dumps(data)
    if not near and rng.random() < 0.6:
        for _ in range(rng.choice([1, 1, 2, 5])):
            text = rng.choice(REWRITES)(rng, text)
    return text
