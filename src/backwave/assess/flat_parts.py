"""What of a part goes onto paper at 1:1: its face or its layers, the foam ring, the stand-in's card."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

from backwave.errors import BuildError, InputError
from backwave.part.order import PartOrder

if TYPE_CHECKING:
    from backwave.part.flat_patterns import FlatPart

__all__ = ["flat_parts"]


def flat_parts(part: PartOrder) -> tuple[FlatPart, ...]:
    """The flat patterns of a part, as `make` writes them on its own paper.

    Parameters
    ----------
    part : PartOrder, mm
        The part.
    """
    from backwave.part.fit_gauge import card
    from backwave.part.flat_patterns import flat_ring, sheet_layers
    from backwave.part.process import SheetStock

    found: list[FlatPart] = []
    if isinstance(part.how, SheetStock):
        with suppress(BuildError, InputError):  # the part's own finding says so
            found += sheet_layers(part.spec, part.how)
    else:
        found.append(flat_ring(part.check_ring))
    if part.ring is not None:
        found.append(flat_ring(part.ring))
    if part.stand_in is not None:
        with suppress(BuildError):
            found.append(card(part.stand_in))
    return tuple(found)
