"""The outcome of one check, before and after anyone knows whose it is.

A room returns `Check`s and does not know what they are about; `assess` adds the subject and makes `Finding`s
(`fit.glass@front-door.left`).  Titles and remedies are templates with quantities in them; only faces format.
All codes stand in finding_codes.csv.  What nobody gave is noted where a default is used (`Ledger`).  Ground floor: pure values."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from csv import reader
from dataclasses import dataclass, field, replace
from itertools import islice
from math import floor
from pathlib import Path
from typing import Literal, cast, overload

from backwave.errors import InputError
from backwave.notation.measures import wire_size
from backwave.units import convert, show

Verdict = Literal["ok", "caution", "stop"]
PRACTICE = "common trade practice"  # the source of what is done so in the trade and nobody published
VERDICTS: tuple[Verdict, ...] = ("ok", "caution", "stop")

Answer = Literal["", "confirm", "measure", "enter", "change", "print", "buy", "know"]


def _codes() -> Iterator[list[str]]:
    with Path(__file__).with_name("finding_codes.csv").open(encoding="utf-8", newline="") as table:
        yield from islice(reader(table), 1, None)


_ROWS = tuple(_codes())
CODES: dict[str, str] = {code: about for code, *_, about in _ROWS}
# what answers a finding ("" where that follows from the check), and how many minutes a person is busy with that: common
# trade practice, as the times of the plan's tasks
ANSWERS: dict[str, tuple[Answer, float]] = {
    code: (cast("Answer", answer), float(minutes or 0.0)) for code, answer, minutes, *_ in _ROWS
}
# what a person calls a check that waits; others wait without being named
WAITING: dict[str, str] = {code: waiting for code, _, _, waiting, _ in _ROWS if waiting}

Quantities = tuple[tuple[str, float | str, str], ...]  # name in a template, value, unit


@dataclass(frozen=True)
class Message:
    """Words with quantities in them: a template such as "clears by {gap}" and what stands in its places."""

    template: str  # text with `{name}` places; `{name:0}` shows a number with so many decimals in metric units
    # unit as given, numbers with the unit they are in ("mm"), formatted by the face that shows them; a value may
    # also be plain text, with unit ""
    quantities: Quantities = ()


@dataclass(frozen=True)
class _Shown:
    """A number on its way into a template, which may say how many decimals it wants."""

    value: float
    unit: str
    system: str

    def __format__(self, places: str) -> str:
        return show(self.value, self.unit, self.system, int(places) if places else None)


@overload
def words(text: Message, system: str = "metric") -> str: ...
@overload
def words(text: Message | None, system: str = "metric") -> str | None: ...
def words(text: Message | None, system: str = "metric") -> str | None:
    """A template with its quantities filled in, in the system a person reads in; None stays None."""
    if text is None:
        return None
    return text.template.format(
        **{
            n: wire_size(v, system) if unit == "size" else v if isinstance(v, str) else _Shown(v, unit, system)
            for n, v, unit in text.quantities
        }
    )


@dataclass(frozen=True)
class CalculationLine:
    """One line of a working."""

    symbol: str  # the symbol used in the formula, and what it stands for (or the formula itself)
    meaning: str
    value: float | None  # unit as given, the number that went in or came out
    unit: str
    source: str = ""  # the reading, table row or published formula it is from


@dataclass(frozen=True)
class Check:
    """What one check found."""

    code: str
    verdict: Verdict  # `stop` is for harm or a part that cannot be used
    title: Message  # what was found, in a sentence a fitter would say
    value: float | None = None  # in `unit`, the number judged, and what it was judged against
    limit: float | None = None  # in `unit`
    unit: str = ""  # unit of value, limit, low and high
    chance: float | None = None
    low: float | None = None  # in `unit`, its 2.5 and 97.5 % points where it is uncertain
    high: float | None = None  # in `unit`
    remedy: Message | None = None  # what to change, or what to read again; never None at `stop`
    working: tuple[CalculationLine, ...] = ()  # every number that went in
    sources: tuple[str, ...] = ()  # published sources, or PRACTICE
    key: str = ""  # the job key that answers it, relative to the subject, or ""
    part: str = ""  # tells apart several checks of one code on one subject ("fixing-2"); "" where there is one
    tries: tuple[tuple[str, str], ...] = ()  # changes of the part's table that may lift it: key and what to write there
    waits: tuple[str, ...] = ()  # findings ("fit.assumed.front") to be answered before this is more than a caution

    @property
    def name(self) -> str:
        """Code and part: "fit.assumed.front"."""
        return f"{self.code}.{self.part}" if self.part else self.code

    def __post_init__(self) -> None:
        if self.code not in CODES:
            raise InputError("check code", self.code, "one of backwave.finding.CODES")
        if self.verdict == "stop" and self.remedy is None:
            raise InputError(f"{self.code}: a stop", "no remedy", "a remedy that says what to change")


# codes whose value is room in millimeters, the more the safer: no hand measures it to a tenth
ROOM = ("fit.glass", "fit.behind", "fit.grille", "fit.hole", "fit.terminals", "fit.screw-tails", "fit.vent", "fit.flat",
        "fit.clocking", "fit.assumed", "mount.")  # fmt: skip


def verdict_line(check: Check, system: str = "metric") -> str:
    """A check's title as verdicts are read: room in steps of 0.5 mm or 0.02 in; Why and JSON have the exact number."""
    title, room = check.title, _in_steps(check, system)
    if room:
        value = check.value or 0.0
        as_said = {-value: room.lstrip("-"), value: room}  # "too wide by 8" of -8; what is told as -8 keeps its sign
        shown = tuple(
            (n, as_said[v], "") if not isinstance(v, str) and unit == "mm" and v in as_said else (n, v, unit)
            for n, v, unit in title.quantities
        )
        title = replace(title, quantities=shown)
    return words(title, system)


def sentences(check: Check, system: str = "metric") -> str:
    """What was found and what to do, each as a sentence."""
    texts = (words(check.title, system), words(check.remedy, system))
    return " ".join(f"{text.rstrip('.')}." for text in texts if text)


def figures(check: Check, system: str = "metric") -> tuple[str, str, str]:
    """A verdict line's value, its 95 % ends and its limit, each "" where there is none; room stands in steps."""
    value, limit = ("" if v is None else show(v, check.unit, system) for v in (check.value, check.limit))
    if room := _in_steps(check, system):
        return room, "", limit
    if check.low is None or check.high is None:
        return value, "", limit
    return value, " … ".join(show(v, check.unit, system, bare=True) for v in (check.low, check.high)), limit


def is_room(check: Check) -> bool:
    return check.unit == "mm" and check.code.startswith(ROOM)


def _in_steps(check: Check, system: str) -> str:
    """Room rounded down to the step, but never across its limit; "" for any other check."""
    if check.value is None or not is_room(check):
        return ""
    unit, step, places = ("in", 0.02, 2) if system == "us" else ("mm", 0.5, 1)
    value = convert(check.value, "mm", unit)
    down, least = step * floor(value / step + 1e-6), step
    if check.limit is not None:
        limit = float(show(check.limit, "mm", system, bare=True))  # as it stands beside the value
        if check.value < check.limit:
            down, least = down if down < limit else down - step, min(step, limit)
        elif down < limit:
            down, places = limit, places if unit == "mm" else 3
    if abs(down) < 1e-9:
        return f"under {least:g} {unit}" if value > 0.0 else f"{0.0:.{places}f} {unit}"
    return f"{down:.{places}f} {unit}"


def figure(check: Check, system: str = "metric") -> str:
    """Value, ends and limit in a few words, where the verdict line does not say them; else ""."""
    value, ends, limit = figures(check, system)
    if not value or (value in verdict_line(check, system) and not ends):
        return ""
    return value + (ends and f", {ends}") + (limit and f" against {limit}")


def check_of(
    code: str,
    verdict: Verdict,
    title: str,
    remedy: str = "",
    quantities: Quantities = (),
    value: tuple[float | None, float | None, str] = (None, None, ""),
    working: tuple[CalculationLine, ...] = (),
    sources: tuple[str, ...] = (PRACTICE,),
    key: str = "",
    part: str = "",
) -> Check:
    """A check whose title and remedy ("" for none) share their quantities. `value`: what was judged, its limit, and the
    unit of both."""
    number, limit, unit = value
    do = Message(remedy, quantities) if remedy else None
    return Check(
        code, verdict, Message(title, quantities), number, limit, unit, remedy=do, working=working, sources=sources, key=key, part=part,
    )  # fmt: skip


@dataclass(frozen=True)
class Finding:
    """A check with its subject."""

    check: Check
    subject: str  # whose it is: "front-door.left", "vehicle"

    @property
    def id(self) -> str:
        """Stable name: `code@subject`, with the check's part between where there are several."""
        return f"{self.check.name}@{self.subject}"

    @property
    def topic(self) -> str:
        """The first word of the code: "fit", "part", "job", "safe"."""
        return self.check.code.partition(".")[0]


def worst(verdicts: list[Verdict]) -> Verdict:
    """The worst of several verdicts; `ok` for none."""
    return max(verdicts, key=VERDICTS.index, default="ok")


# A chance counts what may go wrong as it was stated, and knows nothing of a slip of the hand: more than one in a hundred.
MAX_CHANCE = 0.99  # common trade practice
_CHANCE_WORDS = ((0.95, "sure"), (0.6, "likely"), (0.4, "even"))


def in_a_word(chance_share: float) -> str:
    """sure, likely, even or unlikely."""
    return next((word for least, word in _CHANCE_WORDS if chance_share >= least), "unlikely")


def capped(chance_share: float) -> float:
    """The chance, `MAX_CHANCE` at most."""
    return min(chance_share, MAX_CHANCE)


def percent(chance_share: float) -> str:
    """The number in whole percent, for who asks why."""
    return "99 % or more" if chance_share >= MAX_CHANCE else f"{100.0 * chance_share:.0f} %"


@dataclass(frozen=True)
class Assumed:
    """A value nobody gave, and what was taken for it."""

    key: str  # what was not given: its key in the job, or as its owner names it ("feed.insulation")
    # `unit`, what was taken; a Text where words stand with the number, or where there are several ("{value} ±
    # {half}")
    value: float | str | Message
    unit: str
    why: str
    places: int | None = None  # decimals of the metric display; None shows up to six figures


@dataclass
class Ledger:
    """What was assumed on the way, each thing once."""

    assumed: dict[str, Assumed] = field(default_factory=dict)

    def note(self, key: str, value: float | str | Message, unit: str, why: str, places: int | None = None) -> None:
        """Note a default that was used."""
        self.take([Assumed(key, value, unit, why, places)])

    def take(self, others: Iterable[Assumed], owner: str = "") -> None:
        """Note what a room assumed, or all that another ledger holds."""
        for one in others:
            self.assumed.setdefault(owner + one.key, replace(one, key=owner + one.key) if owner else one)


def value_words(one: Assumed, system: str | None = None) -> str:
    """What was taken, as a text."""
    if isinstance(one.value, str):
        return one.value
    if isinstance(one.value, Message):
        return words(one.value, system or "metric")
    plain = f"{one.value:g}" if one.places is None else f"{one.value:.{one.places}f}"
    if system is None or "e" in plain:
        return f"{plain} {one.unit}".strip()
    return show(one.value, one.unit, system, len(plain.partition(".")[2]))
