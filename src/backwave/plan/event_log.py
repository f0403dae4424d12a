"""What was said about the work: words that are never changed afterwards, so that two lists of them merge without a loser.

A word has a key of its own, a time, and names the words it was said over, which are those its speaker knew.  Lists
merge as sets.  Of each thing the words that nobody spoke over count; where several are left, the later wins, and
where those differ, both stay to be seen."""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cached_property
from operator import attrgetter
from typing import Any

BACK = "back"
_order = attrgetter("order")
Value = str | bool | int | float | tuple[str, ...]
Subject = tuple[str, str, str]


@dataclass(frozen=True)
class Word:
    """One thing said about the work."""

    # what it is about: "tick" and the task's id, "note" and the note's; "back" takes back the word of key `id`
    kind: str
    id: str
    key: str  # its own name; no other word has it
    fields: tuple[tuple[str, Value], ...] = ()
    part: str = ""  # which of several things of one id: a gate's words, a stretch of time
    when: str = ""  # date and time, ISO 8601; without an offset it is taken as UTC
    by: str = ""
    over: tuple[str, ...] = ()  # keys of the words it was said over

    @property
    def subject(self) -> Subject:
        """What it is about."""
        return self.kind, self.id, self.part

    @cached_property
    def order(self) -> tuple[float, str]:
        """Its place in time; words of one moment are in the order of their keys."""
        return moment(self.when), self.key


@dataclass(frozen=True)
class Fact:
    """What counts of one field."""

    value: Value
    word: Word
    others: tuple[Word, ...] = ()  # words nobody spoke over that say something else, the latest first


@dataclass(frozen=True)
class Said:
    """All that counts of one subject."""

    words: tuple[Word, ...]  # those not taken back, in the order of time
    facts: Mapping[str, Fact] = field(default_factory=dict)
    heads: tuple[str, ...] = ()  # keys of the words nobody spoke over: what the next word is said over

    def get(self, name: str, default: Any = None) -> Any:
        """What counts of a field."""
        return self.facts[name].value if name in self.facts else default

    def told(self, name: str) -> Word:
        """The word that counts of a field; the last of all where none says it."""
        return self.facts[name].word if name in self.facts else self.words[-1]


def moment(when: str) -> float:
    """A date and time as seconds since 1970, UTC; the beginning of time where it is none."""
    try:
        at = datetime.fromisoformat(when)
    except ValueError:
        return float("-inf")
    return (at if at.tzinfo else at.replace(tzinfo=UTC)).timestamp()


def merged(*lists: Iterable[Word]) -> tuple[Word, ...]:
    """Lists of words as one, in the order of time; in whatever order they come and however often."""
    held: dict[str, Word] = {}
    for words in lists:
        for word in words:
            old = held.get(word.key)
            held[word.key] = word if old is None else max(old, word, key=_claim)
    return tuple(sorted(held.values(), key=_order))


class Record:
    """Words as they come in, and what counts of each subject: only what is spoken of anew is worked out again."""

    def __init__(self, words: Iterable[Word] = ()) -> None:
        self._known: dict[str, Word] = {}
        self._sorted: list[Word] = []
        self._groups: dict[Subject, list[Word]] = {}
        self._said: dict[Subject, Said] = {}
        self._changed: set[Subject] = set()
        self.add(words)

    def __contains__(self, key: str) -> bool:
        """Whether a word of this key is known."""
        return key in self._known

    @property
    def words(self) -> tuple[Word, ...]:
        """All of them, in the order of time."""
        return tuple(self._sorted)

    def add(self, words: Iterable[Word]) -> None:
        """Take in more words."""
        for word in merged(words):
            old = self._known.get(word.key)
            if old is not None:
                # One key is one word; where two claim it all the same, everybody keeps the same one.
                if max(old, word, key=_claim) == old:
                    continue
                self._sorted.remove(old)
                self._groups[old.subject].remove(old)
                self._touch(old)
            self._known[word.key] = word
            insort(self._sorted, word, key=_order)
            insort(self._groups.setdefault(word.subject, []), word, key=_order)
            self._touch(word)

    def _touch(self, word: Word) -> None:
        self._changed.add(word.subject)
        if word.kind == BACK and word.id in self._known:
            self._changed.add(self._known[word.id].subject)

    def said(self) -> dict[Subject, Said]:
        """What counts of each subject, in the order in which it was first spoken of."""
        backs = [subject for subject in self._changed if subject[0] == BACK]
        for subject in (*backs, *(s for s in self._changed if s[0] != BACK)):
            group = self._groups[subject]
            if subject[0] != BACK:
                group = [word for word in group if not self._gone(word.key)]
            if group:
                self._said[subject] = _said(group, self._known)
            else:
                self._said.pop(subject, None)
        self._changed.clear()
        return dict(sorted(self._said.items(), key=lambda one: one[1].words[0].order))

    def _gone(self, key: str) -> bool:
        held = self._said.get((BACK, key, ""))
        return held is not None and "done" in held.facts and bool(held.facts["done"].value)


def said(words: Iterable[Word]) -> dict[Subject, Said]:
    """What counts of each subject, in the order in which it was first spoken of."""
    return Record(words).said()


def spoken(
    words: Iterable[Word], subject: Subject, fields: Mapping[str, Value], key: str, when: str, by: str = ""
) -> Word:
    """A new word over all that is known of its subject."""
    kind, name, part = subject
    held = said(words).get(subject)
    return Word(kind, name, key, tuple(fields.items()), part, when, by, () if held is None else held.heads)


def device(word: Word) -> str:
    """Where a word was spoken: the first part of its key."""
    return word.key.partition("-")[0]


def undone(words: Iterable[Word], at: str) -> Word | None:
    """The word that was spoken last at a device and still stands: the next to be taken back; None for none."""
    return next((word for word, stands in reversed(own(words, at)) if stands), None)


def own(words: Iterable[Word], at: str, held: Mapping[Subject, Said] | None = None) -> list[tuple[Word, bool]]:
    """The words spoken at a device in the order of time, and whether each still stands."""
    known = [word for word in merged(w for w in words if device(w) == at) if word.kind != BACK]
    held = said(words) if held is None else held
    standing = {word.key for subject in {w.subject for w in known} & held.keys() for word in held[subject].words}
    return [(word, word.key in standing) for word in known]


def _claim(word: Word) -> tuple[tuple[float, str], str]:
    return word.order, repr(word)


def _below(word: Word, known: Mapping[str, Word]) -> set[str]:
    """Keys of all it was said over, through others; a word taken back still hands on what it was said over."""
    found: set[str] = set()
    left = list(word.over)
    while left:
        key = left.pop()
        if key not in found and key != word.key:
            found.add(key)
            left += known[key].over if key in known and known[key].subject == word.subject else ()
    return found


def _said(group: list[Word], known: Mapping[str, Word]) -> Said:
    """What counts of one subject; the words in the order of time."""
    below = {word.key: _below(word, known) for word in group}
    facts = {}
    for name in dict.fromkeys(name for word in group for name, _ in word.fields):
        saying = [word for word in group if any(n == name for n, _ in word.fields)]
        spoken_over = set().union(*(below[word.key] for word in saying))
        heads = [word for word in saying if word.key not in spoken_over] or saying
        *rest, last = sorted(heads, key=_order)
        value = dict(last.fields)[name]
        others = tuple(word for word in reversed(rest) if dict(word.fields)[name] != value)
        facts[name] = Fact(value, last, others)
    all_below = set().union(*below.values())
    heads_of_all = tuple(word.key for word in group if word.key not in all_below) or tuple(w.key for w in group)
    return Said(tuple(group), facts, heads_of_all)
