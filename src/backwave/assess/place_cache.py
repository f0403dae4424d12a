"""A place that was worked out before, and that no edit has touched since, is not worked out again.

What a place follows from is frozen tables of the job, so they themselves are the name its result is kept under.
"""

from __future__ import annotations

from collections.abc import Hashable

from backwave.assess.budgets import fit_budget
from backwave.assess.choosing import worth_changing
from backwave.assess.memo import Memo
from backwave.assess.place import assess_place, with_remedies
from backwave.assess.place_result import PlaceResult
from backwave.assumptions import Ledger
from backwave.budget import within
from backwave.errors import TooMuchError
from backwave.fit.types import GasketKind
from backwave.job import Job, Place
from backwave.job.model import TABLES, JobFile
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.stock import Stock

# What every fit follows from; its own rows a place is given by themselves, and of all other tables no fit hears.
_SHARED = tuple(key for key, table in TABLES.items() if table.topic.subject == "fit")


def kept_place(
    job: Job,
    stock: Stock,
    place: Place,
    adapter: AdapterTable,
    speaker: SpeakerTable,
    ledger: Ledger,
    memo: Memo,
    draws: int,
    like: tuple[str, GasketKind] | None = None,
) -> PlaceResult:
    """One place, worked out unless it is kept; what was assumed for it is noted either way."""

    def make() -> tuple[PlaceResult, Ledger]:
        own = Ledger()
        return assess_place(job, stock, place, adapter, speaker, own, memo, draws, like), own

    worked, own = memo.keep(("place", _shared(job.file), place, adapter, speaker, draws, like), make)
    ledger.take(own.assumed.values())
    return worked


def kept_remedies(
    worked: PlaceResult,
    job: Job,
    stock: Stock,
    place: Place,
    adapter: AdapterTable,
    speaker: SpeakerTable,
    memo: Memo,
    draws: int,
) -> PlaceResult:
    """The same place with the single changes that lift what stops it; without any where that takes too long."""

    if not any(worth_changing(check) for check in worked.checks):
        return worked

    def make() -> PlaceResult:
        return with_remedies(worked, job, stock, place, adapter, speaker, memo, draws)

    try:
        with within(fit_budget(place, adapter, speaker)):
            return memo.keep(("remedies", _shared(job.file), place, adapter, speaker, draws, worked.taken), make)
    except TooMuchError:
        return worked


class _Named:
    """A value whose hash is worked out once."""

    __slots__ = ("_hash", "value")

    def __init__(self, value: Hashable) -> None:
        self.value, self._hash = value, hash(value)

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        return self is other or (isinstance(other, _Named) and self.value == other.value)


_latest: list[tuple[JobFile, _Named]] = []  # the file whose shared tables were named last


def _shared(file: JobFile) -> _Named:
    """The tables that belong to no single place; those that are free in form by their text."""
    for held, named in _latest:  # as it is at this moment: another thread may put in its own
        if held is file:
            return named
    values = ((name, getattr(file, name)) for name in _SHARED)
    named = _Named(tuple((name, repr(value) if isinstance(value, dict) else value) for name, value in values))
    _latest[:] = [(file, named)]
    return named
