"""An edit changes what it was asked to and not one letter more; `tomllib` judges what was written."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.errors import InputError, JobError
from backwave.job.toml_edit import with_key, with_value
from backwave.job.undo import entry, put, redone

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = (ROOT / "docs/example-job.toml").read_text(encoding="utf-8")
DATA = tomllib.loads(EXAMPLE)

Steps = tuple[str | int, ...]


def walk(node: Any, path: Steps = ()) -> list[tuple[Steps, Any]]:
    found = [(path, node)]
    if isinstance(node, dict):
        found += [hit for k, v in node.items() for hit in walk(v, (*path, k))]
    elif isinstance(node, list):
        found += [hit for i, v in enumerate(node) for hit in walk(v, (*path, i))]
    return found


def at(data: Any, path: Steps) -> Any:
    for step in path:
        data = data[step]
    return data


LEAVES = [path for path, node in walk(DATA) if path and not isinstance(node, (dict, list))]
KEYED = [path for path in LEAVES if isinstance(path[-1], str)]
TABLES = [path for path, node in walk(DATA) if isinstance(node, dict)]
TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=12)
SCALARS = TEXT | st.integers(-(2**53), 2**53) | st.booleans() | st.floats(allow_nan=False, allow_infinity=False)
VALUES = SCALARS | st.lists(SCALARS, max_size=3) | st.dictionaries(TEXT.filter(bool), SCALARS, min_size=1, max_size=3)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(LEAVES), VALUES)
def test_a_value_is_set_and_all_around_it_stays(path: Steps, value: Any) -> None:
    wanted = copy.deepcopy(DATA)
    at(wanted, path[:-1])[path[-1]] = value
    text = with_value(EXAMPLE, path, value)
    assert tomllib.loads(text) == wanted
    assert text.count("\n") == EXAMPLE.count("\n")
    assert sum(a != b for a, b in zip(text.split("\n"), EXAMPLE.split("\n"))) <= 1


@settings(max_examples=50, deadline=None)
@given(st.sampled_from(KEYED))
def test_a_key_is_taken_out_and_no_other(path: Steps) -> None:
    wanted = copy.deepcopy(DATA)
    del at(wanted, path[:-1])[path[-1]]
    assert tomllib.loads(with_value(EXAMPLE, path, None)) == wanted


@settings(max_examples=50, deadline=None)
@given(st.sampled_from(TABLES), st.lists(st.sampled_from(["new", "two words", "ü"]), min_size=1, max_size=2), VALUES)
def test_a_new_key_is_added_where_it_belongs(table: Steps, names: list[str], value: Any) -> None:
    wanted = copy.deepcopy(DATA)
    node = at(wanted, table)
    for name in names[:-1]:
        node = node.setdefault(name, {})
    node[names[-1]] = value
    text = with_value(EXAMPLE, (*table, *names), value)
    assert tomllib.loads(text) == wanted
    kept = [line for line in EXAMPLE.split("\n") if line in text.split("\n")]
    assert len(EXAMPLE.split("\n")) - len(kept) <= 1  # an inline table's own line


def test_tables_that_stand_apart_stay_apart() -> None:
    """[[source]] comes before and after [[stage]] in the example: a writer that keeps comments moves it."""
    text = with_key(EXAMPLE, "opening.front-door.skin", "1 mm")
    assert text == EXAMPLE.replace('skin    = "0.8 mm"', 'skin    = "1 mm"')


@pytest.mark.parametrize(
    ("text", "key", "value", "becomes"),
    [
        ("a = 1\n", "b", 2, "a = 1\nb = 2\n"),
        ("", "a", 1, "a = 1\n"),
        ("a = 1 # one", "b.c", "x", 'a = 1 # one\n\n[b]\nc = "x"\n'),
        ("[b] # empty\n[c]\nd = 1\n", "b.c", 2, "[b] # empty\nc = 2\n[c]\nd = 1\n"),
        ("[v.cabin]\nw = 1\n", "v.name", "x", '[v.cabin]\nw = 1\n\n[v]\nname = "x"\n'),
        ("[v]\ncabin.w = 1\n", "v.cabin.h", 2, "[v]\ncabin.w = 1\ncabin.h = 2\n"),
        ("t = {}\n", "t.a", 1, "t = { a = 1 }\n"),
        ("t = { a = 1, b = 2 }\n", "t.b", None, "t = { a = 1 }\n"),
        ("t = { a = 1, b = 2 }\n", "t.a", None, "t = { b = 2 }\n"),
        ("t = { a = 1 }\n", "t.a", None, "t = { }\n"),
        ("[t]\n  long = 1\n  # said\n", "t.a", 2, "[t]\n  long = 1\n  a    = 2\n  # said\n"),
        ("a = 1\r\nb = 2\r\n", "b", 3, "a = 1\r\nb = 3\r\n"),
        ("a = [1,\n 2] # both\n", "a", [3], "a = [3] # both\n"),
    ],
)
def test_small_cases_come_out_to_the_letter(text: str, key: str, value: Any, becomes: str) -> None:
    assert with_key(text, key, value) == becomes


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("opening.front-door", None, "not an item of a list"),
        ("margins", "5 mm", "under a header of its own"),
        ("opening[7].skin", "1 mm", "no such place in the job"),
        ("opening.front-door.behind[9].clear", "1 mm", "no such place in the job"),
        ("title.sub", "x", "no such place"),
        ("a..b", "x", "no such place"),
        ("title", float("nan"), "not a value"),
        ("title", object(), "not a value"),
    ],
)
def test_what_an_edit_cannot_do_it_says(key: str, value: Any, message: str) -> None:
    with pytest.raises(InputError, match=message.replace("[", r"\[")):
        with_key(EXAMPLE, key, value)


def test_a_text_that_is_no_toml_is_refused_with_its_line() -> None:
    with pytest.raises(JobError, match=r"job\.toml:2"):
        with_key('format = 1\ntitle = "x', "title", "y")


HEADED = """\
[[opening]]
id = "door"

# what it is covered with
[opening.trim]
clear = "71 mm"  # by the gauge

[opening.trim.grille]
thickness = "2 mm"

# the next one
[[opening]]
id = "dash"
trim.clear = "30 mm"
trim.gap = "3 mm"
skin = "1 mm"
"""


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_table_under_a_header_is_taken_out_and_put_back_to_the_letter(end: str) -> None:
    text = HEADED.replace("\n", end)
    new, step = put(text, ("opening", 0, "trim"), None)
    gone = HEADED[HEADED.index("[opening.trim]") : HEADED.index("\n# the next one")]
    assert new == HEADED.replace(gone, "").replace("\n", end)
    assert redone(new, entry("", text, new, [step]).mirrored())[0] == text


def test_a_table_of_dotted_keys_or_of_tables_alone_is_taken_out() -> None:
    new = with_value(HEADED, ("opening", 1, "trim"), None)
    assert new == HEADED.replace('trim.clear = "30 mm"\ntrim.gap = "3 mm"\n', "")
    bare = HEADED.replace('[opening.trim]\nclear = "71 mm"  # by the gauge\n', "")
    assert "trim" not in tomllib.loads(with_value(bare, ("opening", 0, "trim"), None))["opening"][0]


def test_a_table_under_a_header_is_set_key_by_key() -> None:
    new = with_value(HEADED, ("opening", 0, "trim"), {"clear": "70 mm", "grille": {"thickness": "2 mm"}, "gap": "4 mm"})
    assert new == HEADED.replace("71 mm", "70 mm").replace("gauge\n", 'gauge\ngap   = "4 mm"\n')
