"""Columns of numbers as people's instruments write them, and what is refused, by line."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.errors import JobError
from backwave.job.named_files import MAX_CURVE_BYTES, parse_columns, read_columns

NUMBERS = [[20.5, 80.25, -3.5], [100.0, 84.0, 2.0], [1000.0, 88.125, 0.5]]


def lines(error: pytest.ExceptionInfo[JobError]) -> list[int | None]:
    return [p.line for p in error.value.problems]


@pytest.mark.parametrize("separator", [" ", "   ", "\t", " \t ", ";", "; ", ", "])
@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("width", [2, 3])
def test_every_separator_and_either_decimal_sign(separator: str, decimal: str, width: int) -> None:
    text = "\n".join(separator.join(str(v).replace(".", decimal) for v in row[:width]) for row in NUMBERS)
    found = parse_columns(text, "a.txt")
    assert found.f_hz.tolist() == [20.5, 100.0, 1000.0]
    assert found.value.tolist() == [80.25, 84.0, 88.125]
    assert (found.phase_deg is None) == (width == 2)
    if found.phase_deg is not None:
        assert found.phase_deg.tolist() == [-3.5, 2.0, 0.5]
    assert ("commas read as decimal signs" in found.notes) == (decimal == ",")


def test_commas_alone_part_columns() -> None:
    found = parse_columns("20,80.1,3\n30,81,2.5\n40,82,1\n", "a.csv")
    assert found.value.tolist() == [80.1, 81, 82]
    assert parse_columns("20,80\n30,81\n40,82", "a.csv").value.tolist() == [80, 81, 82]
    said = parse_columns("20,8,45\n30,9,40\n40,9,30", "a.csv")
    assert said.phase_deg is not None
    assert said.notes == ("no decimals anywhere: commas read as parting three columns",)
    with pytest.raises(JobError, match="both parts the columns and marks the decimals"):
        parse_columns("20,5,80,1\n30,5,81,2\n40,5,82,3", "a.csv")


@given(
    st.lists(st.tuples(st.floats(-200, 200), st.floats(-180, 180)), min_size=3, max_size=30),
    st.sampled_from(["\t", ";", ",", " "]),
    st.sampled_from(["\n", "\r\n", "\r"]),
)
@settings(deadline=None)
def test_what_the_standard_library_writes_is_read(rows: list[tuple[float, float]], sep: str, end: str) -> None:
    out = io.StringIO()
    table = [(10.5 * (n + 1), *row) for n, row in enumerate(rows)]
    csv.writer(out, delimiter=sep, lineterminator=end).writerows(table)
    found = parse_columns(out.getvalue(), "a.csv")
    assert found.phase_deg is not None
    assert np.array_equal(np.column_stack([found.f_hz, found.value, found.phase_deg]), table)


def test_remarks_and_headings() -> None:
    text = '* made in a garage\n\n"Freq(Hz)"\t"SPL(dB)"\n# 24 an octave\n20\t80\n; note\n30\t81\n! x\n// y\n40\t82\n'
    found = parse_columns(text, "a.txt")
    assert found.f_hz.tolist() == [20, 30, 40]
    assert found.notes == ("line 3 passed over as a heading: Freq(Hz)\tSPL(dB)",)
    assert parse_columns('"20","80"\n"30","81"\n"40","82"\n', "a.txt").value.tolist() == [80, 81, 82]
    with pytest.raises(JobError, match="another unit") as error:
        parse_columns("Freq [kHz] Z [ohm]\n0.1 4\n0.2 5\n0.3 6\n", "a.txt")
    assert lines(error) == [1]


def test_falling_throughout_is_turned_round_and_said() -> None:
    found = parse_columns("40 1 10\n30 2 20\n20 3 30\n", "a.txt")
    assert found.f_hz.tolist() == [20, 30, 40]
    assert found.value.tolist() == [3, 2, 1]
    assert found.phase_deg is not None
    assert found.phase_deg.tolist() == [30, 20, 10]
    assert "turned round" in found.notes[0]


@pytest.mark.parametrize(
    ("text", "at", "words"),
    [
        ("20 1\n30 2\n25 3\n40 4", [3], "comes after 30 Hz"),
        ("20 1\n30 2\n30 3\n40 4", [3], "repeats"),
        ("# a\n20 1\n\n30 x\n40 4\n50 5", [4], "'x' is not a number"),
        ("20 1\n3O 2\n40 4", [2], "'3O' is not a number"),
        ("20 1\n30 NaN\n40 4", [2], "NaN is no number"),
        ("nan 1\n30 2\n40 4\n50 5", [1], "nan is no number"),
        ("20 1\n30 -inf\n40 4", [2], "-inf is no number"),
        ("20 1\n30 1e999\n40 4", [2], "too large"),
        ("20 1\n30 2 3\n40 4", [2], "3 columns where the rows above have 2"),
        ("20 1 2\n30 2\n40 4 5", [2], "2 columns where the rows above have 3"),
        ("20 1 2 3\n30 2 3 4\n40 4 5 6", [1], "4 columns"),
        ("20\n30\n40", [1], "1 column"),
        ("20;1\n30;\n;2\n40;4", [2], "1 column where"),
        ("20;1;5\n30;;5\n40;4;5", [2], "an empty column"),
        ("0 1\n30 2\n40 4", [1], "not above 0"),
        ("-20 1\n-10 2\n40 4", [1, 2], "not above 0"),
        ("40 1\n30 2\n0 4", [3], "not above 0"),
        ("20 1\n30 2", [None], "only 2 rows"),
        ("", [None], "only 0 rows"),
        ("20,5 80.1\n30,5 81\n40 82", [1, 2], "decimal comma where other numbers have points"),
        ("1 234,5\t80\n2 000\t81\n3 000\t82", [1, 2, 3], "'1 234,5' is not a number"),
        ("900 80\n1,000 81\n1,100 82", [2], "comes after 900 Hz"),
        ("20 1\nend of data\n30 2\n40 3", [2], "3 columns|not a number"),
    ],
)  # fmt: skip
def test_refused_with_its_line(text: str, at: list[int | None], words: str) -> None:
    with pytest.raises(JobError, match=words) as error:
        parse_columns(text, "photos/a.txt")
    assert [line for line in lines(error) if line in at] == at
    assert "photos/a.txt" in str(error.value)


def test_all_problems_at_once_but_no_flood() -> None:
    with pytest.raises(JobError) as error:
        parse_columns("20 1\n30 x\n40 y\n40 3\n40 4", "a.txt")
    assert lines(error) == [2, 3, 5]
    with pytest.raises(JobError, match="40 more lines like these"):
        parse_columns("20 1\n" + "x y\n" * 50, "a.txt")


def test_bounds(tmp_path: Path) -> None:
    file = tmp_path / "a.txt"
    with pytest.raises(JobError, match="cannot be read"):
        read_columns(file)
    file.write_bytes(b"20 1\n" * (MAX_CURVE_BYTES // 5 + 1))
    with pytest.raises(JobError, match="too large"):
        read_columns(file)
    with pytest.raises(JobError, match="too many rows") as error:
        parse_columns("20 1\n" * 200_001, "a.txt")
    assert lines(error) == [200_001]
    file.write_bytes(b"\x89PNG\0\0\0\1 20 30")
    with pytest.raises(JobError, match="not text"):
        read_columns(file, "photos/a.txt")


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_codings(tmp_path: Path, coding: str) -> None:
    file = tmp_path / "a.txt"
    file.write_bytes("Frequency Phase in °\n20 1\n30 2\n40 3\n".encode(coding))
    assert read_columns(file).value.tolist() == [1, 2, 3]


@given(st.text(alphabet="0123456789.,;-+eE \t\n#naif", max_size=60))
@settings(max_examples=60, deadline=None)
def test_whatever_comes_is_read_or_refused(text: str) -> None:
    try:
        found = parse_columns(text, "a.txt")
    except JobError as error:
        assert error.problems  # noqa: PT017
    else:
        assert (np.diff(found.f_hz) > 0).all()
        assert found.f_hz[0] > 0
        assert np.isfinite(found.value).all()
