"""Drawings kept while the process lives: what did not change is not drawn again."""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar

from backwave.assess import Memo

P = ParamSpec("P")
T = TypeVar("T")
_DRAWN = Memo(1024)


def kept(function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """What a function drew of these very values, drawn once."""
    return _DRAWN.call(function, *args, **kwargs)
