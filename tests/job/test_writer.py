"""The writer of job.toml: whatever is typed, the file says it, and nothing else has changed.

A plain dict is edited in the same way by code that knows nothing of texts; `tomllib` reads the file on disk.
"""

from __future__ import annotations

import copy
import random
import tempfile
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.job import disk
from backwave.job.load import migrated
from backwave.job.session import Session
from backwave.job.toml_edit import with_value, without_row
from backwave.job.toml_spans import Lines, key_name, path_of, same
from backwave.job.undo import Append, Put, Remove

HAND = r'''# a job as a person writes it, "quotes" and \ in its remarks
format = 1 # edition
title = "6\" \\ \u00e9 door" # inch
[vehicle] # "van"
name = 'C:\x "as it is"'
cabin = { length = "1.45 m", width = "1.70 m", height = "1.25 m" } # { not = "this" }

[instruments]
"my \"gauge\"" = "1 mm" # quoted key
caliper = "0.05 mm"
[[seat]] # [[seat]] "one"
id = "driver"
ear = [ # "ear"
  "0.95 m", # x, "forward"
  "0.42 m" # y
  , "0.95 m",
]
[[opening]]
id = "front \"door\""
name = """first "line" \
   second \\ line""" # both
hole = { diameter = "143 mm" } # hole # twice
trim = { clear = "38 mm", land = '35 mm' }
behind = [
  { radius = "0 mm", clear = "58 mm" }, # glass, down
  { radius = "60 mm", clear = '55 mm' } # no comma
]
# [opening.left]
[opening.right]
skin = "0.9 mm"
[[seat]]
id = 'guest'
ear = ["1 m", "1 m", "1 m"]
'''
NASTY = ['5 5/8"', 'a "b" c', "\\", "C:\\x", "tab\there", "two\nlines", '"""', "'''", "é ±", "# no remark", "]", "}", "a = 1",
         "\\u00e9", "\\\\", '\\"', "", " ", "=", "[[x]]", "'", "x\\", '"', "🔊", "true", "3", "1e3 mm", "\\n"]  # fmt: skip
TEXT = st.sampled_from(NASTY) | st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=8)
SCALAR = TEXT | st.integers(-99, 99) | st.booleans() | st.floats(-9, 9)
VALUE = SCALAR | st.lists(SCALAR, max_size=3) | st.dictionaries(TEXT.filter(bool), SCALAR, max_size=2)


def comments(text: str) -> list[str]:
    """What follows a # that stands in no text, by a reader of its own: a state machine over letters."""
    out, i, closing = list[str](), 0, ""
    while i < len(text):
        if closing:
            if closing[0] == '"' and text[i] == "\\":
                i += 1
            elif text.startswith(closing, i):
                i += len(closing) - 1
                while len(closing) == 3 and text[i + 1 : i + 2] == closing[0]:
                    i += 1
                closing = ""
        elif text[i] in "\"'":
            closing = text[i] * (3 if text.startswith(text[i] * 3, i) else 1)
            i += len(closing) - 1
        elif text[i] == "#":
            end = text.find("\n", i) if "\n" in text[i:] else len(text)
            out.append(text[i:end].rstrip("\r"))
            i = end
        i += 1
    return out


def walk(node: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    found = [path]
    for step, inner in node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ():
        found += walk(inner, (*path, step))
    return found


def edited(data: Any, path: tuple[str | int, ...], value: Any) -> Any:
    """The model: the same edit on plain dicts and lists."""
    data = copy.deepcopy(data)
    node = data
    for step in path[:-1]:
        node = node.setdefault(step, {}) if isinstance(node, dict) else node[step]
    if value is None:
        del node[path[-1]]
    elif isinstance(node, list) and path[-1] == len(node):
        node.append(value)
    else:
        node[path[-1]] = value
    return data


def without_empty(data: Any) -> Any:
    """Tables and lists that are there only by what is in them may go with it."""
    if isinstance(data, dict):
        return {k: v for k, w in data.items() if (v := without_empty(w)) not in ({}, [])}
    return [without_empty(v) for v in data] if isinstance(data, list) else data


@pytest.mark.parametrize("text", [HAND, HAND.replace("\n", "\r\n")])
def test_every_span_is_that_of_its_whole_token(text: str) -> None:
    lines = Lines(text, "job.toml")
    for path in walk(lines.data):
        node: Any = lines.data
        for step in path:
            node = node[step]
        key, value = lines.key(path), lines.value(path)
        if value is not None:
            assert same(tomllib.loads(f"v = {lines.text[value]}")["v"], node)
        if key is not None:
            assert tomllib.loads(f"{lines.text[key]} = 1") == {path[-1]: 1}
        if path:
            assert path_of(lines.data, key_name(path, lines.data)) == path


@seed(1)
@settings(max_examples=60, deadline=None)
@given(st.randoms(use_true_random=False), st.lists(VALUE, min_size=1, max_size=8), st.sampled_from(["\n", "\r\n"]))
def test_any_row_of_edits_of_any_text_says_what_the_same_edits_of_a_dict_say(
    rng: random.Random, values: list[Any], end: str
) -> None:
    text, data, refused = HAND.replace("\n", end), tomllib.loads(HAND), set[str]()
    for value in values:
        paths = [p for p in walk(data) if p]
        path = rng.choice(paths)
        kind = rng.randrange(6)
        node: Any = data
        for step in path:
            node = node[step]
        if kind == 0:
            value = None
        elif kind == 1 and isinstance(node, list):
            path = (*path, len(node))
        elif kind == 2 and isinstance(node, dict):
            path = (*path, rng.choice(["new", 'n"w', "two words", "a.b"]))
        wanted = edited(data, path, value)
        before = comments(text)
        try:
            text = with_value(text, path, value)
        except InputError as error:  # a table under a header, as a whole
            refused.add(error.what)
            continue
        now = tomllib.loads(text)
        assert without_empty(now) == without_empty(wanted)
        assert text.count("\n") == text.count(end)
        left = comments(text)
        assert [c for c in before if c in left] == left, "none is new, none is moved"
        if value is not None and not isinstance(node, list):
            assert left == before
        data = now
    assert not any("something else" in what for what in refused)


ACTIONS = st.one_of(
    st.tuples(st.just("put"), st.sampled_from([
        ("title",), ("vehicle", "name"), ("opening", 0, "name"), ("speaker", 0, "name"), ("opening", 0, "trim", "clear"),
        ("opening", 0, "hole", "diameter"), ("instruments", "tape"), ("adapter", 0, "thickness"), ("margins", "glass"),
    ]), TEXT | st.sampled_from(['5 5/8"', "39 mm", '1 1/2"', "0.04 m", None])),
    st.tuples(st.sampled_from(["undo", "redo", "save", "reload", "outside", "add", "remove"]), st.just(()), TEXT),
)  # fmt: skip
EXAMPLE = (Path(__file__).resolve().parents[2] / "docs/example-job.toml").read_text(encoding="utf-8")


@seed(2)
@settings(max_examples=40, deadline=None)
@given(st.lists(ACTIONS, min_size=2, max_size=10), st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_any_row_through_the_session_is_on_disk_as_a_dict_says(rows: list[Any], end: str, bom: bool) -> None:
    with tempfile.TemporaryDirectory() as made:
        path = Path(made) / "job.toml"
        mark = b"\xef\xbb\xbf" if bom else b""
        path.write_bytes(mark + EXAMPLE.replace("\n", end).encode())
        session, model = Session(Path(made), delay_s=0), tomllib.loads(EXAMPLE)
        past, future, notes = list[Any](), list[Any](), 0
        for kind, where, value in rows:
            before, changes = copy.deepcopy(model), list[Any]()
            if kind == "put":
                changes = [Put(where, value)]
            elif kind == "add":
                row = {"id": f"seat {len(model['seat'])} {value}", "ear": ["0.9 m", "1 m", "0.9 m"]}
                changes = [Append("seat", row)]
            elif kind == "remove":
                changes = [Remove(("seat", len(model["seat"]) - 1))]
            elif kind == "undo":
                assert session.undo() == bool(past)
                if past:
                    future.append(model)
                    model = past.pop()
            elif kind == "redo":
                assert session.redo() == bool(future)
                if future:
                    past.append(model)
                    model = future.pop()
            elif kind == "reload":
                session.flush()
                session = Session(Path(made), delay_s=0)
            elif kind == "outside":  # somebody's text editor adds a remark at the end
                session.flush()
                notes += 1
                path.write_bytes(path.read_bytes() + f'# note {notes} "quoted{end}'.encode())
                session.poll()
                if past or future:  # by its keys from now on: the same to the model
                    session.flush()
            if changes and not session.set_many(changes):
                now = tomllib.loads(session.text)
                if kind == "add":
                    model["seat"].append(row)
                elif kind == "remove":
                    model["seat"].pop()
                else:
                    node = model
                    for step in where[:-1]:
                        node = node.setdefault(step, {}) if isinstance(node, dict) else node[step]
                    if value is None:
                        del node[where[-1]]
                    else:  # typed: the text, or what the text says
                        node[where[-1]] = value
                        said: Any = now
                        for step in where:
                            said = said[step]
                        try:
                            meant = tomllib.loads(f"v = {value}")["v"]
                        except tomllib.TOMLDecodeError:
                            meant = value
                        assert said in (value, value.strip(), meant)
                        node[where[-1]] = said
                if model != before:
                    past.append(before)
                    future = []
            session.flush()
            raw = path.read_bytes()
            assert raw.startswith(mark)
            assert tomllib.loads(raw.decode("utf-8-sig")) == model
            assert session.saved
        left = comments(path.read_text(encoding="utf-8-sig"))
        own = [c for c in left if not c.startswith("# note ")]
        assert len(left) == len(own) + notes
        lost = [c for c in comments(EXAMPLE) if c not in own]
        assert own == [c for c in comments(EXAMPLE) if c not in lost], "all in their order"
        assert not lost or model["adapter"][0].get("thickness") is None, "the remark of a line goes with its key"
        assert Session(Path(made)).text == session.text


def test_an_inch_sign_and_the_edits_after_it(tmp_path: Path) -> None:
    """What destroyed a job: 5 5/8" in one field, then any other edit beside it."""
    path = tmp_path / "job.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    session, hole, trim = (
        Session(tmp_path, delay_s=0),
        ("opening", 0, "hole", "diameter"),
        ("opening", 0, "trim", "clear"),
    )
    for where, value in (
        (hole, '5 5/8"'),
        (trim, "39 mm"),
        (hole, '5 3/4"'),
        (("title",), 'Van "B" \\ é'),
        (trim, '1 1/2"'),
    ):
        assert session.set(where, value) == ()
        session.flush()
        node: Any = tomllib.loads(path.read_text(encoding="utf-8"))
        for step in where:
            node = node[step]
        assert node == value
    assert comments(path.read_text(encoding="utf-8")) == comments(EXAMPLE)
    while session.undo():
        pass
    assert session.text == EXAMPLE


def test_what_does_not_say_what_it_should_is_not_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Spans that lie, as those of the reader do: nothing is changed, and the person is told."""
    path = tmp_path / "job.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    session = Session(tmp_path, delay_s=0)
    real = Lines.value
    with monkeypatch.context() as lying:
        lying.setattr(Lines, "value", lambda self, p: (s := real(self, p)) and slice(s.start + 1, s.stop))
        problems = session.set(("title",), "New")
        assert [p.message for p in problems] == ["this cannot be written without changing something else"]
    assert (session.text, session.saved) == (EXAMPLE, True)
    with pytest.raises(InputError, match="not what the job holds"):
        disk.write(tmp_path, EXAMPLE, tomllib.loads(EXAMPLE) | {"title": "another"}, EXAMPLE)
    assert session.set(("title",), "half \ud83d") != ()
    assert path.read_text(encoding="utf-8") == EXAMPLE


def test_rows_between_look_alikes_in_texts_and_remarks() -> None:
    text = 'format = 1\ntitle = """\n[[seat]]\nid = "no"\n"""\n# [[seat]]\n[[seat]]\nid = "a"\n[[seat]]\nid = "b" # b\n'
    new, row = without_row(text, ("seat", 0))
    assert row == '[[seat]]\nid = "a"'
    assert tomllib.loads(new)["seat"] == [{"id": "b"}]
    assert without_row(new, ("seat", 0))[0].endswith("# [[seat]]\n")


def test_an_older_edition_is_brought_along_whatever_its_title_is_made_of() -> None:
    text = '# "name" = 1\n"name" = "6\\" name = \\\\" # name = "x"\nformat = 0 # format = 0\n[vehicle]\nname = "format = 0"\n'
    new = migrated(text)
    assert tomllib.loads(new) == {"title": '6" name = \\', "format": 1, "vehicle": {"name": "format = 0"}}
    assert comments(new) == comments(text)
