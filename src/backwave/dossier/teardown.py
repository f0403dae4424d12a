"""The chapter of the teardown: condition before, consent, how it came apart with its photographs, how it goes together."""

from __future__ import annotations

from collections.abc import Iterable

from backwave.dossier.blocks import Block, Cell, Chapter, cell, par, small, step, sub, table
from backwave.dossier.context import PageContext


def teardown(told: PageContext) -> Chapter | None:
    """What was written down on the way; None where nothing was."""
    made = told.working
    if not (made.teardown or made.condition or made.done.consents):
        return None
    chapter = Chapter("Teardown record", flow=True)
    for name, picture in told.photos.there.items():
        chapter.pictures[_file(told, name)] = picture
    if made.done.consents:
        chapter.blocks += [sub("Consent"), _consents(told)]
    if made.condition:
        chapter.blocks.append(sub("Condition before the work"))
        chapter.blocks += [
            step(str(n), one.text, _about(told, one.place, one.when, one.by), (), _pictures(told, one.photos))
            for n, one in enumerate(made.condition, 1)
        ]
        chapter.blocks += _missing(told, [p for one in made.condition for p in one.photos])
    if made.teardown:
        chapter.blocks += [
            sub("As it came apart"),
            small(
                "In order. It goes together in the reverse order, and the counts have to come out even.", sticky=True
            ),
        ]
        for n, one in enumerate(made.teardown, 1):
            counts = _counts(one.fasteners, one.clips)
            about = _about(told, one.place, one.when, one.by, counts and f"out: {counts}")
            chapter.blocks.append(step(str(n), one.text, about, (), _pictures(told, one.photos)))
        chapter.blocks += _missing(told, [p for one in made.teardown for p in one.photos])
        chapter.blocks += [sub("As it goes together"), _together(told)]
        out = sum((one.fasteners or 0) + (one.clips or 0) for one in made.teardown)
        if out:
            back = sum((one.fasteners_back or 0) + (one.clips_back or 0) for one in made.teardown)
            rest = f"gone back in so far: {back}" if back else "gone back in: ________"
            chapter.blocks.append(par(f"Screws and clips that came out: {out}; {rest}"))
    return chapter


def _consents(told: PageContext) -> Block:
    rows: list[list[Cell]] = [
        [cell(tick=one.given), one.who, one.text + ("" if one.given else " (taken back)"), _day(one.when)]
        for one in told.working.done.consents
    ]
    return table({"given": 0, "by": 0.6, "to what": 1.6, "when": 0}, rows)


def _together(told: PageContext) -> Block:
    """The reverse, with a box for each step and its counts."""
    steps = told.working.teardown
    numbers = {one.id: n for n, one in enumerate(steps, 1)}
    rows: list[list[Cell]] = [
        [
            cell(tick=one.back), str(numbers[one.id]), cell(one.text, told.name(one.place) if one.place else ""),
            _counts(one.fasteners, one.clips),
            _counts(one.fasteners_back, one.clips_back) or ("________" if one.fasteners or one.clips else ""),
        ]
        for one in told.working.reassembly
    ]  # fmt: skip
    return table({"": 0, "step": 0, "back in its place": 1, "came out": 0, "went back": 0}, rows, right=(3, 4))


def _counts(fasteners: int | None, clips: int | None) -> str:
    words = [] if fasteners is None else [f"{fasteners} fastener{'s' * (fasteners != 1)}"]
    words += [] if clips is None else [f"{clips} clip{'s' * (clips != 1)}"]
    return ", ".join(words)


def _about(told: PageContext, place: str, when: str, by: str, *more: str) -> str:
    return ", ".join(part for part in (told.name(place) if place else "", _day(when), by, *more) if part)


def _day(when: str) -> str:
    """A date and time to the minute, as it was written."""
    return when.replace("T", " ")[:16]


def _pictures(told: PageContext, names: Iterable[str]) -> list[tuple[str, str]]:
    return [(_file(told, name), name.rpartition("/")[2]) for name in names if name in told.photos.there]


def _file(told: PageContext, name: str) -> str:
    return f"photo{list(told.photos.there).index(name)}.jpg"


def _missing(told: PageContext, names: list[str]) -> list[Block]:
    lines = [f"{name}: {told.photos.lost[name]}" for name in dict.fromkeys(names) if name in told.photos.lost]
    return [small("Photographs that could not be put in: " + "; ".join(lines) + ".")] if lines else []
