"""What people write is parsed once, in the job's model: nobody behind it parses it again or reads words off its text."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import backwave

ROOT = Path(backwave.__file__).parent
PARSERS = {"parse_branch", "parse_filter", "parse_color", "parse_rating"}
WORDS = ("series", "shunt", "high-pass", "low-pass", "all-pass", "peak ", "low-shelf", "high-shelf", " into ")
READING = {"startswith", "endswith", "removeprefix", "removesuffix", "partition", "split", "find", "index", "replace"}


def faults(source: str) -> list[str]:
    """Lines at which a source parses a notation, or looks for one of its words in a text."""
    found = []
    for node in ast.walk(ast.parse(source)):
        said = ""
        if isinstance(node, ast.ImportFrom):
            said = ", ".join(sorted(PARSERS & {alias.name for alias in node.names}))
        elif isinstance(node, ast.Attribute) and node.attr in PARSERS:
            said = node.attr
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in READING:
            texts = [n.value for a in node.args for n in ast.walk(a) if isinstance(n, ast.Constant)]
            said = next((t for t in texts if isinstance(t, str) and t.startswith(WORDS)), "")
        elif isinstance(node, ast.Compare) and isinstance(node.left, ast.Constant):
            word, within = node.left.value, node.comparators[0]
            # a plain name or a call leads to a text; what is chosen is kept in attributes and lists
            looks = isinstance(node.ops[0], ast.In) and isinstance(within, (ast.Name, ast.Call))
            said = word if looks and isinstance(word, str) and word.startswith(WORDS) else ""
        if said:
            found.append(f"{node.lineno}: {said}")
    return found


def test_what_is_looked_for_is_found() -> None:
    for line in (
        "from backwave.notation.crossover import parse_branch",
        "filters.parse_filter(text)",
        "any(text.startswith('high-pass') for text in path.filters)",
        "hides.removeprefix('series ')",
        "text.startswith(('shunt', 'series'))",
        "'high-pass' in text",
        "power.partition(' into ')",
    ):
        assert faults(line), line
    assert not faults("branch.place == 'series' and one.kind in ('high-pass', 'low-pass')")


@pytest.mark.parametrize(
    "path",
    [p for p in sorted(ROOT.rglob("*.py")) if p.relative_to(ROOT).parts[0] not in ("job", "notation")],
    ids=lambda p: p.relative_to(ROOT).as_posix(),
)
def test_nobody_parses_again(path: Path) -> None:
    assert faults(path.read_text(encoding="utf-8")) == []
