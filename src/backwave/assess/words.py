"""A text with its quantities filled in, in the system a person reads in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backwave.units import show

if TYPE_CHECKING:
    from backwave.finding import Text

__all__ = ["words"]


def words(text: Text | None, system: str = "metric") -> str | None:
    """A template with its quantities filled in; None stays None.

    Parameters
    ----------
    text : Text or None, no unit
        The template.
    system : str, no unit
        "metric" or "us".
    """
    if text is None:
        return None
    filled = {n: v if isinstance(v, str) else show(v, unit, system) for n, v, unit in text.quantities}
    return text.template.format(**filled)
