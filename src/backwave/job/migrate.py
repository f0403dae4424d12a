"""Older editions of the job file, brought to this one: a key changed where it must be, all else to the letter."""

from __future__ import annotations

from collections.abc import Callable

from backwave.job.model import FORMAT
from backwave.job.toml_edit import renamed, with_value
from backwave.job.toml_spans import lines_of


def _from_0(text: str) -> str:
    """Edition 0, the drafts before the first release, called the title `name`."""
    return renamed(text, "name", "title")


_STEPS: dict[int, Callable[[str], str]] = {0: _from_0}


def migrated(text: str) -> str:
    """The same job in this edition; comments, order and line ends stay."""
    for edition in range(lines_of(text).data["format"], FORMAT):
        text = with_value(_STEPS[edition](text), ("format",), edition + 1)
    return text
