"""Changing a job file on disk: the old file stays whole until the new one is."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from backwave.atomic_write import write_whole
from backwave.job.load import FILE, Job, edition_of, load, loads, read_text
from backwave.job.migrate import migrated
from backwave.job.model import FORMAT
from backwave.job.rewrite import edited

__all__ = ["edited", "save", "update", "upgrade"]


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
