"""What a loaded job is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from backwave.errors import InputError

if TYPE_CHECKING:
    from backwave.job.model import JobFile
    from backwave.job.model.adapter import Adapter
    from backwave.job.model.opening import Opening
    from backwave.job.model.speaker import Speaker

__all__ = ["Assumed", "Job"]


@dataclass(frozen=True)
class Assumed:
    """A number or word that nobody gave.

    Parameters
    ----------
    key, value, why : str, no unit
        The job key it would stand at, what stands in, and on what ground.
    """

    key: str
    value: str
    why: str


@dataclass(frozen=True)
class Job:
    """A job, read, checked and completed with its defaults.

    Parameters
    ----------
    folder, file : Path, no unit
        The job folder and the file in it.
    text, digest : str, no unit
        The file as it stands, and a digest of it and of every traced file it names.
    model : JobFile, no unit
        Every table, completed: what was missing and has a default is filled in.
    assumed : tuple of Assumed, no unit
        Every default that stands in for something nobody wrote.
    assumed_keys : frozenset of str, no unit
        The keys of quantities that were filled in, so that a reading of one says so.
    not_used : tuple of str, no unit
        Keys that are present and that nothing computes with yet.
    trade_sizes : tuple of str, no unit
        Keys at which a fraction of an inch stands where a measurement is meant.
    lines : mapping of str to int, no unit
        The line of each key, counted from 1.
    """

    folder: Path
    file: Path
    text: str
    digest: str
    model: JobFile
    assumed: tuple[Assumed, ...] = ()
    assumed_keys: frozenset[str] = frozenset()
    not_used: tuple[str, ...] = ()
    trade_sizes: tuple[str, ...] = ()
    lines: Mapping[str, int] = field(default_factory=dict, compare=False, repr=False)

    @property
    def title(self) -> str:
        """What the job is called."""
        return self.model.title or self.folder.resolve().name

    def opening(self, id_: str) -> Opening:
        """The opening of that id.

        Parameters
        ----------
        id_ : str, no unit
            Its id.
        """
        return _pick("opening", id_, {o.id: o for o in self.model.opening})

    def speaker(self, id_: str) -> Speaker:
        """The speaker of that id.

        Parameters
        ----------
        id_ : str, no unit
            Its id.
        """
        return _pick("speaker", id_, {s.id: s for s in self.model.speaker})

    def adapter(self, name: str) -> Adapter:
        """The adapter of that name.

        Parameters
        ----------
        name : str, no unit
            Its id, or its opening's.
        """
        return _pick("adapter", name, {a.name: a for a in self.model.adapter})


T = TypeVar("T")


def _pick(what: str, id_: str, rows: Mapping[str, T]) -> T:
    if id_ not in rows:
        raise InputError(f"no {what} of that id", id_, ", ".join(rows) or f"a job that has a table [[{what}]]")
    return rows[id_]
