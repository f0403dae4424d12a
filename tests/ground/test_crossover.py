"""Passive parts as written: the grammar, its refusals, impedances by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.notation.crossover import Branch, CrossoverPart, Group, impedance, parse_branch, parts_of, write_branch

F = np.array([50.0, 1000.0, 8000.0])
JW = 2j * np.pi * F


def test_the_texts_of_the_job_file() -> None:
    coil = parse_branch("series L 0.40 mH 0.15 ohm")
    assert coil == Branch("series", CrossoverPart("L", 0.40e-3, 0.15))
    shunt = parse_branch("shunt R 3.3 ohm + C 26 uF")
    assert shunt == Branch("shunt", Group("series", (CrossoverPart("R", 3.3), CrossoverPart("C", 26e-6))))
    np.testing.assert_allclose(impedance(coil.what, F), 0.15 + JW * 0.4e-3)
    np.testing.assert_allclose(impedance(shunt.what, F), 3.3 + 1 / (JW * 26e-6))


def test_parallel_binds_tighter_and_parentheses_say_otherwise() -> None:
    r, c, big = 2.0, 1 / (JW * 10e-6), 8.0
    plain = parse_branch("series R 2 ohm + C 10 uF | R 8 ohm")
    np.testing.assert_allclose(impedance(plain.what, F), r + 1 / (1 / c + 1 / big))
    grouped = parse_branch("series (R 2 ohm + C 10 uF) | R 8 ohm")
    np.testing.assert_allclose(impedance(grouped.what, F), 1 / (1 / (r + c) + 1 / big))
    assert len(parts_of(grouped.what)) == 3


@pytest.mark.parametrize(
    "text",
    [
        "", "series", "parallel R 1 ohm", "series X 1 ohm", "series R 1", "series R 1 ohm 2 ohm", "series R 1 uF",
        "shunt R 1 ohm +", "shunt + R 1 ohm", "shunt (R 1 ohm", "shunt R 1 ohm)", "shunt R 1 ohm C 2 uF", "series C 0 uF",
        "series L 1 mH -1 ohm", "shunt ()", "shunt " + "(" * 3000 + "R 1 ohm" + ")" * 3000,
    ],
)  # fmt: skip
def test_what_is_no_branch_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_branch(text)


part = st.one_of(
    st.builds(CrossoverPart, st.just("R"), st.floats(0.1, 1000)),
    st.builds(CrossoverPart, st.just("C"), st.floats(0.1e-6, 500e-6)),
    st.builds(CrossoverPart, st.just("L"), st.floats(0.01e-3, 20e-3), st.floats(0.0, 3.0)),
)


def group(how: str, inner: st.SearchStrategy[object]) -> st.SearchStrategy[Group]:
    return st.lists(inner, min_size=2, max_size=3).map(lambda parts: Group(how, tuple(parts)))  # type: ignore[arg-type]


tree = st.one_of(
    part,
    group("series", st.one_of(part, group("parallel", part))),
    group("parallel", st.one_of(part, group("series", part))),
)


@given(st.sampled_from(["series", "shunt"]), tree)
def test_written_and_read_again_it_is_the_same(place: str, what: CrossoverPart | Group) -> None:
    branch = Branch(place, what)  # type: ignore[arg-type]
    again = parse_branch(write_branch(branch))
    assert again.place == place
    np.testing.assert_allclose(impedance(again.what, F), impedance(what, F), rtol=1e-5)
    assert (impedance(what, F).real >= 0).all()
