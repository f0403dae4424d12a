"""What was said: lists merge in any order and however often; what counts, what contradicts, what is taken back."""

from __future__ import annotations

import random
from collections.abc import Iterable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.plan import Record, Word, merged, moment, own, said, spoken, undone

# Three phones, one of them without network at a time, speaking of few things so that they often meet.
TURN = st.tuples(
    st.integers(0, 2),  # who
    st.sampled_from(["say", "hear", "undo", "redo"]),
    st.sampled_from([("tick", "a", ""), ("tick", "b", ""), ("gate", "a", "so"), ("item", "x", "")]),
    st.sampled_from([True, False, 7]),
    st.integers(-90, 90),  # a clock that is out, s
)
PLAYS = st.lists(TURN, max_size=14)


def again(words: Iterable[Word], at: str) -> Word | None:
    """The word to be said again: the first taken back since the last that stands; None for none."""
    spoken_here = own(words, at)
    last = max((n for n, (_, stands) in enumerate(spoken_here) if stands), default=-1)
    return spoken_here[last + 1][0] if last + 1 < len(spoken_here) else None


def play(turns: list[tuple[int, str, tuple[str, str, str], object, int]]) -> list[tuple[Word, ...]]:
    """What three phones know after such turns; `hear`: a phone meets the bench, which knows what all have sent."""
    phones: list[tuple[Word, ...]] = [(), (), ()]
    bench: tuple[Word, ...] = ()
    for n, (who, turn, subject, value, out) in enumerate(turns):
        known, key = phones[who], f"p{who}-{n:04d}"
        when = f"2026-03-14T10:{30 + n:02d}:{abs(out) % 60:02d}+00:00"
        word = undone(known, f"p{who}") if turn == "undo" else again(known, f"p{who}") if turn == "redo" else None
        if turn == "hear":
            bench = merged(bench, known)
            phones[who] = bench
        elif turn == "say":
            phones[who] = (*known, spoken(known, subject, {"done": value}, key, when, f"p{who}"))  # type: ignore[dict-item]
        elif word is not None:
            phones[who] = (*known, spoken(known, ("back", word.key, ""), {"done": turn == "undo"}, key, when))
    return phones


@given(PLAYS, st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_heard_word_by_word_it_counts_as_heard_at_once(
    turns: list[tuple[int, str, tuple[str, str, str], object, int]], chance: random.Random
) -> None:
    words = list(merged(*play(turns)))
    record, order = Record(), [*words, *words[::3]]
    chance.shuffle(order)
    for word in order:
        record.add([word])
        if chance.random() < 0.5:
            record.said()
    assert list(record.said().items()) == list(said(words).items())
    assert record.words == merged(words)


@given(PLAYS)
@settings(max_examples=60, deadline=None)
def test_lists_merge_as_sets(turns: list[tuple[int, str, tuple[str, str, str], object, int]]) -> None:
    a, b, c = play(turns)
    assert merged(a, b) == merged(b, a)
    assert merged(merged(a, b), c) == merged(a, merged(b, c))
    assert merged(a, a) == merged(a) == merged(merged(a))
    assert merged(merged(a, b), b, a) == merged(a, b)
    assert set(a) | set(b) | set(c) == set(merged(a, b, c))  # nothing is lost


@given(PLAYS, st.randoms(use_true_random=False))
@settings(max_examples=50, deadline=None)
def test_what_counts_hangs_on_what_was_said_and_not_on_how_it_arrived(
    turns: list[tuple[int, str, tuple[str, str, str], object, int]], chance: random.Random
) -> None:
    words = list(merged(*play(turns)))
    first = said(words)
    chance.shuffle(words)
    assert said([*words, *words[: len(words) // 2]]) == first
    for subject, one in first.items():
        assert one.heads or subject[0] == "back"
        for fact in one.facts.values():
            assert fact.word in one.words
            assert all(dict(other.fields) != dict(fact.word.fields) for other in fact.others)


@given(PLAYS)
@settings(max_examples=50, deadline=None)
def test_a_word_over_all_that_is_known_counts_alone(
    turns: list[tuple[int, str, tuple[str, str, str], object, int]],
) -> None:
    known = merged(*play(turns))
    # even of a phone whose clock is years behind
    last = spoken(known, ("tick", "a", ""), {"done": "settled"}, "z-0", "2001-01-01T00:00:00Z", "z")
    fact = said((*known, last))["tick", "a", ""].facts["done"]
    assert (fact.value, fact.others) == ("settled", ())


def test_of_two_who_did_not_know_of_each_other_the_later_counts_and_both_stay() -> None:
    first = spoken((), ("tick", "a", ""), {"done": True}, "p0-1", "2026-03-14T10:00:00Z", "Ada")
    other = spoken((), ("tick", "a", ""), {"done": False}, "p1-1", "2026-03-14T10:05:00Z", "Ben")
    fact = said([other, first])["tick", "a", ""].facts["done"]
    assert (fact.value, fact.word.by, [w.by for w in fact.others]) == (False, "Ben", ["Ada"])
    # the same said twice is no contradiction
    same = spoken((), ("tick", "a", ""), {"done": True}, "p2-1", "2026-03-14T10:09:00Z", "Cy")
    assert said([first, same])["tick", "a", ""].facts["done"].others == ()
    # each field by itself: a price does not contradict a tick beside it
    have = spoken((), ("item", "x", ""), {"have": True}, "p0-2", "2026-03-14T10:00:00Z")
    price = spoken((), ("item", "x", ""), {"price": 3.5}, "p1-2", "2026-03-14T10:01:00Z")
    facts = said([have, price])["item", "x", ""].facts
    assert {name: fact.value for name, fact in facts.items()} == {"have": True, "price": 3.5}


def test_taken_back_is_what_was_before_and_only_ones_own() -> None:
    one = spoken((), ("tick", "a", ""), {"done": True}, "p0-1", "2026-03-14T10:00:00Z")
    two = spoken([one], ("tick", "a", ""), {"done": False}, "p1-1", "2026-03-14T10:01:00Z")
    assert undone([one, two], "p1") == two
    assert undone([one, two], "p0") == one
    back = spoken([one, two], ("back", two.key, ""), {"done": True}, "p1-2", "2026-03-14T10:02:00Z")
    words = [one, two, back]
    assert said(words)["tick", "a", ""].facts["done"].value is True
    assert (undone(words, "p1"), again(words, "p1")) == (None, two)
    forth = spoken(words, ("back", two.key, ""), {"done": False}, "p1-3", "2026-03-14T10:03:00Z")
    assert said([*words, forth])["tick", "a", ""].facts["done"].value is False
    assert [stands for _, stands in own([*words, forth], "p1")] == [True]


@pytest.mark.parametrize(
    ("when", "seconds"),
    [("1970-01-01T00:00:10Z", 10.0), ("1970-01-01T01:00:10+01:00", 10.0), ("1970-01-01T00:00:10", 10.0), ("soon", float("-inf"))],
)  # fmt: skip
def test_a_moment(when: str, seconds: float) -> None:
    assert moment(when) == seconds


def test_one_key_is_one_word_whoever_claims_it() -> None:
    a = Word("tick", "a", "k-1", (("done", True),), when="2026-03-14T10:00:00Z")
    b = Word("tick", "b", "k-1", (("done", False),), when="2026-03-14T10:00:00Z")
    assert merged([a], [b]) == merged([b], [a])
    assert len(merged([a], [b])) == 1


def test_what_was_spoken_over_stays_so_when_the_word_between_is_taken_back() -> None:
    one = spoken((), ("tick", "a", ""), {"done": 1}, "p0-1", "2026-03-14T10:00:00Z")
    two = spoken([one], ("tick", "a", ""), {"done": 2}, "p0-2", "2026-03-14T10:01:00Z")
    three = spoken([one, two], ("tick", "a", ""), {"done": 3}, "p1-1", "2026-03-14T09:00:00Z")  # its clock is behind
    back = spoken([one, two, three], ("back", two.key, ""), {"done": True}, "p0-3", "2026-03-14T10:02:00Z")
    fact = said([one, two, three, back])["tick", "a", ""].facts["done"]
    assert (fact.value, fact.others) == (3, ())
