"""How sure a chance is, as people say it; the number stands under Why and in JSON, and never says more than is known.

A chance counts what may go wrong as it was stated.  It knows nothing of a slip of the hand, so no number is above
`MOST`.  Ground floor.
"""

from __future__ import annotations

MOST = 0.99  # blunders are more than one in a hundred; common trade practice
_WORDS = ((0.95, "sure"), (0.6, "likely"), (0.4, "even"))


def in_a_word(chance_share: float) -> str:
    """sure, likely, even or unlikely."""
    return next((word for least, word in _WORDS if chance_share >= least), "unlikely")


def capped(chance_share: float) -> float:
    """The chance, `MOST` at most."""
    return min(chance_share, MOST)


def percent(chance_share: float) -> str:
    """The number in whole percent, for who asks why."""
    return "99 % or more" if chance_share >= MOST else f"{100.0 * chance_share:.0f} %"
