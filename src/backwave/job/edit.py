"""Changing a job file: one key at a time, comments kept, the old file whole until the new one is."""

from __future__ import annotations

import os
import re
import tempfile
from pathlib import Path
from typing import Any

from backwave.errors import InputError
from backwave.job.lines import Lines
from backwave.job.load import FILE, Job, edition_of, load, loads, read_text
from backwave.job.migrate import migrated
from backwave.job.model import FORMAT

__all__ = ["edited", "save", "update", "upgrade", "write_whole"]


def edited(text: str, key: str, value: Any) -> str:
    """The text with one key set, or taken out where the value is None; comments and order stay.

    Parameters
    ----------
    text : str, no unit
        A job file.
    key : str, no unit
        "opening.front-door.hole.diameter" or "adapter[0].thickness": tables by their id or their position.
    value : object, no unit
        Text, number, list or table as it should stand in the file; None takes the key out.

    Raises
    ------
    InputError
        No such place in the file.
    """
    import tomlkit
    from tomlkit.items import AoT, InlineTable, Table

    Lines(text, FILE)  # a text that is no TOML is refused with its line
    document = tomlkit.parse(text)
    steps = _steps(key)
    node: Any = document
    for depth, step in enumerate(steps[:-1]):
        following = steps[depth + 1]
        if isinstance(node, (AoT, list)):
            node = node[_position(node, step, key)]
        elif step in node:
            node = node[step]
        elif isinstance(following, int):
            raise InputError("no such place in the job", key, "a key of a table that is there")
        else:
            node[step] = tomlkit.inline_table() if isinstance(node, (InlineTable, Table)) else tomlkit.table()
            node = node[step]
    last = steps[-1]
    if isinstance(node, (AoT, list)):
        node[_position(node, last, key)] = value
    elif value is None:
        if last not in node:
            raise InputError("no such key to take out", key, ", ".join(node))
        del node[last]
    elif last in node and hasattr(node[last], "trivia") and not isinstance(value, (dict, list)):
        item = tomlkit.item(value)
        item.trivia.indent, item.trivia.comment_ws, item.trivia.comment, item.trivia.trail = (
            node[last].trivia.indent,
            node[last].trivia.comment_ws,
            node[last].trivia.comment,
            node[last].trivia.trail,
        )
        node[last] = item
    else:
        node[last] = value
    return tomlkit.dumps(document)


def _steps(key: str) -> list[str | int]:
    steps: list[str | int] = []
    for part in key.split("."):
        match = re.fullmatch(r"([^\[\]]+)((?:\[\d+\])*)", part)
        if match is None:
            raise InputError("not a key", key, "such as opening.front-door.hole.diameter")
        steps.append(match[1])
        steps += [int(n) for n in re.findall(r"\d+", match[2])]
    return steps


def _position(rows: Any, step: str | int, key: str) -> int:
    if isinstance(step, int):
        if step < len(rows):
            return step
    else:
        for i, row in enumerate(rows):
            if isinstance(row, dict) and row.get("id") == step:
                return i
    ids = [str(row.get("id", i)) if isinstance(row, dict) else str(i) for i, row in enumerate(rows)]
    raise InputError(f"no {step!r} in the job", key, "one of " + ", ".join(ids))


def save(folder: Path, text: str) -> None:
    """Write the job file; the old one stays whole until the new one is.

    Parameters
    ----------
    folder : Path, no unit
        The job folder.
    text : str, no unit
        What it shall hold.
    """
    write_whole(folder / FILE, text.encode())


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is never seen half written: beside it first, then in its place.

    Parameters
    ----------
    path : Path, no unit
        The file.
    content : bytes, no unit
        What it shall hold.
    """
    handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(beside, path.stat().st_mode & 0o777 if path.exists() else 0o644)
        os.replace(beside, path)
    except BaseException:  # also when interrupted: leave nothing behind, then go on as if not caught
        Path(beside).unlink(missing_ok=True)
        raise


def update(folder: Path, key: str, value: Any) -> Job:
    """Set one key of a job on disk, if the job is right afterwards.

    Parameters
    ----------
    folder : Path, no unit
        The job folder.
    key : str, no unit
        As for `edited`.
    value : object, no unit
        As for `edited`.

    Raises
    ------
    JobError
        The job would be wrong; nothing was written.
    """
    before = read_text(folder)
    edition_of(before)
    text = edited(migrated(before), key, value)
    job = loads(text, folder)
    _keep_older(folder, before)
    save(folder, text)
    return job


def upgrade(folder: Path) -> bool:
    """Bring a job of an older edition to this one on disk; the old file is kept beside it.

    Parameters
    ----------
    folder : Path, no unit
        The job folder.

    Returns
    -------
    bool
        Whether there was anything to do.
    """
    load(folder)  # refuses what is wrong or newer before anything is touched
    text = read_text(folder)
    if not _keep_older(folder, text):
        return False
    save(folder, migrated(text))
    return True


def _keep_older(folder: Path, text: str) -> bool:
    """Keep the file beside itself if it is of an older edition."""
    edition = edition_of(text)
    if edition < FORMAT:
        write_whole(folder / f"{FILE}.format{edition}", text.encode())
    return edition < FORMAT
