"""What `backwave help` and the page's "?" say: of every key, true, from what is installed."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Annotated, Any

import pytest
from pydantic import BaseModel, TypeAdapter
from pydantic.fields import FieldInfo

from backwave.finding import CODES
from backwave.job import key_help
from backwave.job.fields import keys_of, table_in
from backwave.job.model import JobFile


def keys(model: type[BaseModel], at: str, above: tuple[type[BaseModel], ...]) -> Iterator[tuple[str, str, FieldInfo]]:
    for key, info in keys_of(model).items():
        below = table_in(info.annotation)
        if below in above or (at == "opening" and key in ("left", "right")):
            continue
        name = f"{at}.{key}" if at else key
        yield name, key, info
        if below is not None:
            yield from keys(below, name, (*above, below))


ALL = list(keys(JobFile, "", (JobFile,)))


def test_every_key_says_what_it_means_and_its_example_is_one_that_the_model_takes() -> None:
    assert len(ALL) > 400
    for name, key, info in ALL:
        told = key_help.of(tuple(name.split(".")))
        assert told is not None, name
        assert told.meaning, name
        assert told.accepted, name
        assert told.example, f"{name} has no example: give it a line in job/key_help.toml"
        if told.example.startswith("[") or name == "speaker.front":  # a header; a table or one length, read before
            continue
        held: Any = tomllib.loads(told.example)[key]
        TypeAdapter(Annotated[info.annotation, *info.metadata] if info.metadata else info.annotation).validate_python(
            held
        )


def test_a_field_is_found_by_its_path_whatever_its_row_or_side() -> None:
    there = key_help.of(("opening", 0, "right", "behind", 2, "clear"))
    assert there is not None
    assert there.name == "opening.behind.clear"
    assert "0 mm to 3 m" in there.accepted
    glass = key_help.of(("margins", "glass"))
    assert glass is not None
    assert (glass.default, glass.ground) == ("5 mm", "common trade practice")
    assert key_help.of(("opening", 0, "nothing")) is None


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("opening.behind.clear", ["opening.behind.clear"]), ("clear", ["opening.behind.clear", "opening.trim.clear"]),
        ("behind", ["opening.behind", "fit.behind"]), ("xmax", ["speaker.motor.Xmax"]),
        ("opening[0].right.behind[2].clear", ["opening.behind.clear"]), ("fit.glass@front-door.left", ["fit.glass"]),
        ("fit.coverage.up-half@front-door.right", ["fit.coverage"]), ("fit.flat.inner@cargo-wall", ["fit.flat"]),
        ("front-door.right.behind[1].clear", ["opening.behind.clear"]), ("cargo-wall.trim.clear", ["opening.trim.clear"]),
        ("wire.hidden.dash-left@harness", ["wire.hidden"]), ("pair.door-left.resistance", ["pair.resistance"]),
        ("stand-off", ["stand-off"]), ("Seat height", ["stand-off"]), ("adapter", ["adapter", "adapter"]),
    ],
)  # fmt: skip
def test_what_goes_by_a_name(said: str, found: list[str]) -> None:
    told, near = key_help.look_up(said)
    assert [one.name for one in told] == found
    assert near == ()


@pytest.mark.parametrize(
    ("said", "near"), [("glas", "margins.glass"), ("thicknes", "adapter.thickness"), ("ratle", "measure.rattle")]
)
def test_what_goes_by_no_name_is_told_what_is_near(said: str, near: str) -> None:
    told, names = key_help.look_up(said)
    assert told == ()
    assert near in names


def test_what_is_nowhere_near_is_told_nothing() -> None:
    assert key_help.look_up("qqqqzz") == ((), ())


def test_every_code_is_explained() -> None:
    for code, said in CODES.items():  # some are names of keys too
        assert said in [one.meaning for one in key_help.look_up(code)[0]], code
