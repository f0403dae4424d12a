"""Older editions of the job file, brought to this one with their comments kept."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from backwave.job.model import FORMAT

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

__all__ = ["migrated"]


def _from_0(document: TOMLDocument) -> None:
    """Edition 0 called the title `name` and had no `[margins]` for what is fixed."""
    if "name" in document and "title" not in document:
        document["title"] = document["name"]
        del document["name"]


_STEPS: dict[int, Callable[[TOMLDocument], None]] = {0: _from_0}


def migrated(text: str) -> str:
    """The same job in this edition; comments and order stay.

    Parameters
    ----------
    text : str, no unit
        A job file of an older edition.
    """
    import tomlkit

    document = tomlkit.parse(text)
    for edition in range(int(str(document["format"])), FORMAT):
        _STEPS[edition](document)
        document["format"] = edition + 1
    return tomlkit.dumps(document)
