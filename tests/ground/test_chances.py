"""Chances in words, and numbers that never say more than is known."""

from __future__ import annotations

import pytest

from backwave.finding import capped, in_a_word, percent


@pytest.mark.parametrize(
    ("share", "word", "number"),
    [(0.0, "unlikely", "0 %"), (0.399, "unlikely", "40 %"), (0.4, "even", "40 %"), (0.6, "likely", "60 %"),
     (0.949, "likely", "95 %"), (0.95, "sure", "95 %"), (0.99, "sure", "99 % or more"), (1.0, "sure", "99 % or more")],
)  # fmt: skip
def test_a_chance_is_a_word_and_no_number_is_above_99_percent(share: float, word: str, number: str) -> None:
    assert in_a_word(share) == word
    assert percent(share) == number
    assert capped(share) == min(share, 0.99)
