"""Colors of wires: IEC 60757:2021 Table 1 (codes as transcribed in two public copies of the table)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.notation.wires import LETTERS, WireColor, parse_color

# IEC 60757:2021 Table 1, in its order.
TABLE = "BK BN RD OG YE GN BU VT GY WH PK GD TQ SR"


def test_the_letters_are_the_standards() -> None:
    assert " ".join(LETTERS) == TABLE


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("GY/RD", "GY/RD", "gray with a red stripe"),
        ("gy/rd", "GY/RD", "gray with a red stripe"),
        ("grey/red", "GY/RD", "gray with a red stripe"),
        ("gray with an orange stripe", "GY/OG", "gray with an orange stripe"),
        ("purple white", "VT/WH", "violet with a white stripe"),
        ("BK", "BK", "black"),
        ("GNYE", "GNYE", "green-and-yellow"),
    ],
)
def test_letters_and_words(text: str, code: str, words: str) -> None:
    color = parse_color(text)
    assert (color.code, color.words) == (code, words)


def test_joined_as_the_standard_joins() -> None:
    # In the order of the table; green and yellow only as GNYE.
    assert parse_color("RD/BK").joined == "BKRD"
    assert parse_color("YE/GN").joined == parse_color("GN/YE").joined == "GNYE"


@given(st.sampled_from(TABLE.split()), st.sampled_from(["", *TABLE.split()]))
def test_what_is_written_is_read(base: str, stripe: str) -> None:
    if base == stripe:
        with pytest.raises(InputError):
            parse_color(f"{base}/{stripe}")
        return
    color = WireColor(base, stripe)
    assert parse_color(color.code) == parse_color(color.words) == color


@pytest.mark.parametrize("text", ["", "GR", "GY/RD/BK", "grey/red/black", "sw", "GNYE/RD", "stripe"])
def test_what_is_no_color_is_refused(text: str) -> None:
    with pytest.raises(InputError) as error:
        parse_color(text)
    assert error.value.accepted


def test_the_nearest_is_named() -> None:
    with pytest.raises(InputError, match=r"nearest: OG \(orange\)"):
        parse_color("ornge")
