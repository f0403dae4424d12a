"""Text on its way out: judged by the character database of Python and by an XML parser, not by the pattern that cleans."""

from __future__ import annotations

import unicodedata
from xml.etree import ElementTree
from xml.sax.saxutils import escape

from hypothesis import given
from hypothesis import strategies as st

from backwave.plain_text import file_stem, plain_text

ANY = st.text(st.characters(exclude_categories=()))
ODD = st.text(st.sampled_from('ab/\\:*?"<>|. -\x00\x07\x1b\n\r\x85\x9b\u2028\u202e\u2067\ud83d\ufffeÄé.')) | ANY
OVERTURNS = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}  # UAX #9, explicit directional formatting


def obeyed(text: str) -> list[str]:
    """Letters that a terminal, a file format or a reader's eye takes for more than letters."""
    return [
        c
        for c in text
        if unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp") or unicodedata.bidirectional(c) in OVERTURNS
    ]


@given(ODD)
def test_nothing_is_left_that_is_obeyed_and_xml_can_hold_it(text: str) -> None:
    one, lines = plain_text(text), plain_text(text, lines=True)
    assert obeyed(one) == []
    assert set(obeyed(lines)) <= {"\n"}
    assert ElementTree.fromstring(f"<t>{escape(lines)}</t>").text == (lines or None)
    assert plain_text(one) == one
    assert plain_text(lines, lines=True) == lines


def test_ordinary_text_of_any_language_stays_as_it_is() -> None:
    for text in ("Front door, left", "Tür hinten \u2013 190 mm ± 1", "דלת\u200f ימין", "前ドア", "👩\u200d🔧"):
        assert plain_text(text) == text
    assert plain_text("a\r\nb\tc\rd", lines=True) == "a\nb c\nd"


@given(ODD, ODD)
def test_a_file_name_is_one_that_every_system_takes(name: str, other: str) -> None:
    stem = file_stem(name, [other])
    assert stem
    assert not set(stem) & set('<>:"/\\|?*') | set(obeyed(stem))  # Microsoft, "Naming Files, Paths, and Namespaces"
    assert not stem.startswith((".", "-"))
    assert stem[-1] not in ". "
    assert len(stem.encode()) <= 100
    assert stem.partition(".")[0].upper() not in {"CON", "PRN", "AUX", "NUL", "COM1", "LPT9"}
    if name != other:
        assert stem.casefold() != file_stem(other, [name]).casefold()


def test_ordinary_names_stay_and_odd_ones_are_told_apart() -> None:
    assert file_stem("front-door-woofer") == "front-door-woofer"
    assert file_stem("Tür_2.5") == "Tür_2.5"
    stems = {
        file_stem(name)
        for name in ("a/b", "a\\b", "a b", "a-b", "../a-b", "a-b.", "NUL", "nul.step", "x" * 300, "x" * 301)
    }
    assert len(stems) == 10
    assert "a-b" in stems
