"""Older editions of the job file, brought to this one: a line changed where it must be, all else to the letter."""

from __future__ import annotations

import re
from collections.abc import Callable

from backwave.job.lines import Lines
from backwave.job.model import FORMAT

__all__ = ["migrated"]


def _on_line(text: str, key: str, pattern: str, new: str) -> str:
    """The text with a pattern replaced on the line of a key at the top of the file; unchanged without that key."""
    line = Lines(text, "job.toml").line((key,))
    if line is None:
        return text
    lines = text.split("\n")
    lines[line - 1] = re.sub(pattern, new, lines[line - 1], count=1)
    return "\n".join(lines)


def _from_0(text: str) -> str:
    """Edition 0, the drafts before the first release, called the title `name`."""
    return _on_line(text, "name", r"^(\s*)[\"']?name[\"']?(\s*=)", r"\1title\2")


_STEPS: dict[int, Callable[[str], str]] = {0: _from_0}


def migrated(text: str) -> str:
    """The same job in this edition; comments, order and line ends stay.

    Parameters
    ----------
    text : str, no unit
        A job file of this edition or an older one.
    """
    for edition in range(Lines(text, "job.toml").data["format"], FORMAT):
        text = _on_line(_STEPS[edition](text), "format", r"(=\s*)\S+", rf"\g<1>{edition + 1}")
    return text
