"""Gates as they were confirmed: dated words in the job's log, each bound to what it is about; no reading counts without them.

A word says yes or no to one line of a gate, for one pair, output or amplifier line, as that was described then (`about`).
It holds for one visit.  A line of the vehicle (the battery is off) is said once for all of them.  A no always counts, for
whatever the thing is called by then; so does an edit, a new name or a copy, which voids what was confirmed before it.
Rows are only ever added.  `Session` calls `refused` before an edit is taken, and `followed` once it is on disk."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from hashlib import blake2b
from pathlib import Path
from typing import TYPE_CHECKING, Any

from backwave.errors import JobError
from backwave.job import log
from backwave.notation.wires import GATES, HOLDS_S, OF_THE_VEHICLE

if TYPE_CHECKING:
    from backwave.job.model import JobFile
    from backwave.job.wiring import FactoryOutputTable, PairTable


WORDS, TAKEN = "confirmed", "taken"
EVERY = "every line"
_OTHERWISE = {"live": "battery_off", "battery_off": "live"}  # lines that cannot both be so
TABLES_OF = {"pair": "pair", "output": "factory_output"}  # gate, and the table of the job whose rows it guards
# what is read behind each gate; of a pair the last three only say how
READINGS = {
    "pair": ("resistance", "cone", "leads", "cell", "held"),
    "output": ("loudest", "offset", "polarity", "phase", "quiet", "loud"),
}
_IDENTITY = {"pair": ("id", "opening", "side", "colors", "ends_at"), "output": ("id", "opening", "side", "group")}
_SLACK_S = 300.0  # two machines' clocks


@dataclass(frozen=True)
class GateWord:
    """One word: a line said yes or no to, or (line "") a reading taken."""

    gate: str  # "pair", "output", "gain", or "vehicle"
    of: str  # the pair's id, the amplifier line; "" for the vehicle
    line: str
    yes: bool
    about: str  # digest of what it was said about
    when: datetime

    @property
    def order(self) -> tuple[datetime, bool]:
        """Its place in time; of two words of one moment the no is the later."""
        return self.when, not self.yes


@dataclass(frozen=True)
class Gates:
    """All that was confirmed for a job."""

    words: tuple[GateWord, ...] = ()  # in the order of time
    taken: tuple[GateWord, ...] = field(default=(), repr=False)

    def held(self, gate: str, of: str, what: str, at: datetime) -> dict[str, datetime]:
        """Lines of a gate that hold at a moment for a thing described by `what`, and since when."""
        found: dict[str, datetime] = {}
        for word in self.words:
            if word.when > at:
                continue
            if word.yes and word.line in _OTHERWISE:  # the battery is on: it is not off any more; and the reverse
                found.pop(_OTHERWISE[word.line], None)
            if not self._meant(word, gate, of):
                continue
            lines = GATES[gate] if word.line == EVERY else (word.line,)
            fresh = (at - word.when).total_seconds() <= HOLDS_S
            for line in lines:
                if line not in GATES[gate] or (word.line == EVERY and line in OF_THE_VEHICLE):
                    continue
                if word.yes and fresh and word.about == ("" if line in OF_THE_VEHICLE else what):
                    found[line] = word.when
                else:
                    found.pop(line, None)
        return found

    def missing(self, gate: str, of: str, what: str, at: datetime) -> tuple[str, ...]:
        """Lines of a gate that do not hold at a moment."""
        held = self.held(gate, of, what, at)
        return tuple(line for line in GATES[gate] if line not in held)

    def counts(self, gate: str, of: str, what: str, read: str) -> bool:
        """Whether a reading was taken behind its gate and nothing has voided that since. That the battery is on again
        voids no reading taken before."""
        rows = [one for one in self.taken if (one.gate, one.of, one.about) == (gate, of, read)]
        return any(
            not self.missing(gate, of, what, row.when)
            and not any(
                word.when >= row.when
                and not word.yes
                and (word.gate, word.of) == (gate, of)
                and word.line not in OF_THE_VEHICLE
                for word in self.words
            )
            for row in rows
        )

    def unvouched(self, gate: str, row: PairTable | FactoryOutputTable) -> str:
        """Digest of a reading that stands on a row and does not count; "" where none stands, or it counts."""
        if not has_reading(gate, row):
            return ""
        read = reading(gate, row)
        return "" if self.counts(gate, row.id, about(gate, row), read) else read

    def counted(self, row: FactoryOutputTable) -> FactoryOutputTable:
        """A factory output as far as its readings count: without them where no gate vouches for them."""
        if not self.unvouched("output", row):
            return row
        return row.model_copy(update={key: () if key in ("quiet", "loud") else None for key in READINGS["output"]})

    @staticmethod
    def _meant(word: GateWord, gate: str, of: str) -> bool:
        return (word.gate, word.of) == (gate, of) or (word.gate == "vehicle" and word.line in GATES[gate])


NONE = Gates()


def about(gate: str, row: PairTable | FactoryOutputTable) -> str:
    """Digest of what a row is: its id, whose it is, its colors."""
    return _digest([str(getattr(row, key)) for key in _IDENTITY[gate]])


def reading(gate: str, row: PairTable | FactoryOutputTable) -> str:
    """Digest of a row with what was read on it."""
    return _digest([about(gate, row), *(str(getattr(row, key)) for key in READINGS[gate])])


def has_reading(gate: str, row: PairTable | FactoryOutputTable) -> bool:
    """Whether anything was read on it."""
    keys = READINGS[gate][:2] if gate == "pair" else READINGS[gate]
    return any(getattr(row, key) not in (None, ()) for key in keys)


def rows(file: JobFile) -> Iterable[tuple[str, PairTable | FactoryOutputTable]]:
    """Every row of a job that stands behind a gate."""
    for gate, table in TABLES_OF.items():
        for row in getattr(file, table):
            yield gate, row


def gates_of(folder: Path | None) -> Gates:
    """What a job's log says of its gates; nothing where there is no log that can be read (which the work's page tells)."""
    if folder is None or not (folder / log.LOG).is_file():
        return NONE
    try:
        held = log.look(folder)
    except JobError:
        return NONE
    sections = held.sections
    mark = (held.epoch, len(_list(sections, WORDS)), len(_list(sections, TAKEN)))
    kept = _KEPT.get(folder)
    if kept is None or kept[0] != mark:
        _KEPT.clear()  # one job is open at a time; a second one only reads its log again
        words = _ordered(_word(row) for row in _list(sections, WORDS))
        taken = _ordered(_word(row | {"line": "", "yes": True}) for row in _list(sections, TAKEN))
        kept = _KEPT[folder] = mark, Gates(words, taken)
    return kept[1]


_KEPT: dict[Path, tuple[Any, Gates]] = {}


def add(folder: Path, gate: str, of: str, what: str, said: Mapping[str, bool], read: str = "") -> None:
    """Add words to the log: what was said to each line, or, with `read`, that this reading was taken. JobError,
    OSError: the log cannot be read or written: nothing was added."""
    when = datetime.now(UTC).isoformat(timespec="milliseconds")
    found: list[log.Row] = []
    for line, yes in said.items():
        whose = ("vehicle", "", "") if line in OF_THE_VEHICLE else (gate, of, what)
        found.append((WORDS, dict(zip(("gate", "of", "about"), whose)) | {"line": line, "yes": yes}))
    if read:
        found.append((TAKEN, {"gate": gate, "of": of, "about": read}))
    day = when[:10].replace("-", "")
    rows = [(name, {"key": f"{day}-{secrets.token_hex(6)}", **row, "when": when}) for name, row in found]
    log.add(folder, lambda _: rows)


def _list(sections: Mapping[str, Any], name: str) -> list[Any]:
    found = sections.get(name, [])
    return [row for row in found if isinstance(row, dict)] if isinstance(found, list) else []


def _word(row: Mapping[str, Any]) -> GateWord | None:
    """A row as a word; None where it is none: then nothing is confirmed by it."""
    yes, now = row.get("yes"), datetime.now(UTC)
    if yes is False:  # a no counts however it was written down, from now where it has no date
        row = {"of": "", "about": "", "when": now.isoformat()} | dict(row)
    said = [row.get(key) for key in ("gate", "of", "line", "about", "when")]
    if not all(isinstance(one, str) for one in said) or not isinstance(yes, bool):
        return None
    gate, of, line, what, moment = map(str, said)
    try:
        when = datetime.fromisoformat(moment)
        when = when if when.tzinfo else when.replace(tzinfo=UTC)
    except ValueError:
        when = datetime.max.replace(tzinfo=UTC)
    # no date, or a clock that was wrong: its yes is none, its no counts from now
    if when > now + timedelta(seconds=_SLACK_S):
        if yes:
            return None
        when = now
    return GateWord(gate, of, line, yes, what, when)


def _ordered(words: Iterable[GateWord | None]) -> tuple[GateWord, ...]:
    return tuple(sorted((word for word in words if word is not None), key=lambda word: word.order))


def _digest(texts: Iterable[str]) -> str:
    return blake2b("\x1f".join(texts).encode(), digest_size=9).hexdigest()


def refused(before: JobFile, after: JobFile, gates: Gates) -> tuple[tuple[str | int, ...], str, object, str] | None:
    """What an edit reads that may not be read now, as its gate does not hold; to take a reading out is always allowed.
    Returns where, what is wrong, what was found, what is accepted."""
    now = datetime.now(UTC)
    for gate, table in TABLES_OF.items():
        old, new = getattr(before, table), getattr(after, table)
        by_id = {row.id: row for row in old}
        for number, row in enumerate(new):
            was = by_id.get(row.id, old[number] if number < len(old) else None)  # or it has a new name
            if was is row:
                continue
            read = [k for k in READINGS[gate] if getattr(row, k) not in (None, (), getattr(was, k, None))]
            missing = gates.missing(gate, row.id, about(gate, row), now) if read else ()
            if missing:
                accepted = "a reading after: " + "; ".join(GATES[gate][line] for line in missing)
                what = "not confirmed: nothing may be read here yet"
                return (table, number, read[0]), what, getattr(row, read[0]), accepted
    return None


def followed(folder: Path, before: JobFile, after: JobFile, gates: Gates) -> None:
    """Put into the log what a saved edit means for the gates. What was confirmed for a row that is now another, or
    gone, is void; a reading entered while every line holds was taken. JobError, OSError: the log cannot be read or
    written."""
    was = {(gate, row.id): row for gate, row in rows(before)}
    now = {(gate, row.id): row for gate, row in rows(after)}
    for (gate, of), row in was.items():
        new = now.get((gate, of))
        if new is row:
            continue
        known = any((w.gate, w.of) == (gate, of) and w.yes for w in gates.words)
        if known and (new is None or about(gate, new) != about(gate, row)):
            add(folder, gate, of, about(gate, row), {EVERY: False})
    moment = datetime.now(UTC)
    for (gate, of), row in now.items():
        old = was.get((gate, of))
        if old is row or not has_reading(gate, row):
            continue
        read = reading(gate, row)
        fresh = old is None or reading(gate, old) != read
        if fresh and not gates.missing(gate, of, about(gate, row), moment):
            add(folder, gate, of, about(gate, row), {}, read)
