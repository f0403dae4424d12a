"""The shopping list: rows merged, nothing lost, prices as they may be written."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.plan import Want, price, shopping

WANTS = st.lists(
    st.builds(
        Want,
        st.sampled_from(["Fasteners", "Foam"]),
        st.sampled_from(["screw", "insert"]),
        st.sampled_from(["M4 × 16", "M5 × 16", "M5"]),
        st.integers(0, 40),
        st.just(""),
        st.sampled_from(["left", "right", ""]),
    ),
    max_size=30,
)


@given(WANTS)
def test_counts_add_up_and_each_size_stands_once(wants: list[Want]) -> None:
    rows = shopping(wants)
    wanted: Counter[tuple[str, str]] = Counter()
    for want in wants:
        wanted[want.what, want.size] += int(want.quantity or 0)
    assert {(r.what, r.size): r.quantity for r in rows} == {k: v for k, v in wanted.items() if v}
    assert len({r.id for r in rows}) == len(rows)
    groups = [r.group for r in rows]
    assert groups == sorted(groups, key=groups.index)  # a group stands together


def test_what_is_had_and_what_it_costs_is_found_by_its_row() -> None:
    (row,) = shopping([Want("F", "screw", "M4 × 16", 4, "", "left")], ["screw-m4-16"], {"screw-m4-16": 2.5})
    assert (row.have, row.price, row.why) == (True, 2.5, ("left",))


def test_as_much_as_it_takes_stays_so() -> None:
    (row,) = shopping([Want("U", "tape", "", None), Want("U", "tape", "", None)])
    assert row.quantity is None


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("3.50", 3.5), (" 12 ", 12.0), ("1234.5", 1234.5), ("0", 0.0), ("3,50", 3.5), ("1,234.50", 1234.5),
        ("1.234,50", 1234.5), ("1 234,50", 1234.5), ("1\u202f234,50", 1234.5), ("1’234.50", 1234.5),
        ("1,234,567", 1234567.0), ("0,125", 0.125), ("0.5000", 0.5),
    ],
)  # fmt: skip
def test_a_price(text: str, value: float) -> None:
    # Point or comma is the decimal sign (ISO 80000-1, 7.3.2), and people group thousands by either.
    assert price(text) == value


@pytest.mark.parametrize("text", ["1,234", "1.234", "12,500"])
def test_a_price_that_may_be_read_in_two_ways_is_asked_back(text: str) -> None:
    with pytest.raises(InputError, match="two ways") as caught:
        price(text)
    low, high = sorted(float(word) for word in caught.value.accepted.split(" or "))
    assert high == 1000 * low  # both readings are named, and each can be typed as it stands
    assert [price(word) for word in caught.value.accepted.split(" or ")] == [high, low]


@pytest.mark.parametrize("text", ["€ 3", "-1", "", "nan", "1e3", "3.50.1", "1,23,456", "3.", ".5"])
def test_no_price(text: str) -> None:
    with pytest.raises(InputError, match="not a price"):
        price(text)


@given(st.integers(0, 99_999_999), st.sampled_from([(",", "."), (".", ","), (" ", ","), ("", ".")]))
def test_a_price_reads_as_it_was_written(cents: int, marks: tuple[str, str]) -> None:
    group, decimal = marks
    whole = f"{cents // 100:,}".replace(",", group)
    assert price(f"{whole}{decimal}{cents % 100:02d}") == cents / 100
