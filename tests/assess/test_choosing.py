"""Turn, thread, gasket and thickness taken together: no stop is left that some candidate would not have."""

from __future__ import annotations

import random
import tomllib
from dataclasses import replace
from functools import cache, partial
from itertools import cycle, product
from typing import Any

import pytest
from tomli_w import dumps

from backwave.assess import Memo, assess
from backwave.assess.choosing import Free, lifted_by_choice, score, searched
from backwave.assess.place import TRIAL_DRAWS, assess_place, result_at
from backwave.assess.place_result import PlaceResult
from backwave.assess.size import Premises, choice_at, gasket_kinds, premises_of, thread_kinds
from backwave.finding import Check, Ledger, Message, words
from backwave.fit.types import PlaceChoice
from backwave.job import loads, places
from backwave.stock import shipped

DRAWS = 10_000


def place_text(rng: random.Random) -> str:
    """A place by chance: notches, ears, grooves, thin windows."""
    bolt = rng.uniform(76.0, 80.0)
    metal = rng.uniform(83.0, 87.0)
    start = rng.uniform(0.0, 120.0)
    flange = rng.choice(
        ['{ diameter = "192 mm" }', '{ ellipse = ["200 mm", "188 mm"] }',
         "{ corners = [[96, -40], [96, 40], [40, 96], [-40, 96], [-96, 40], [-96, -40], [-40, -96], [40, -96]] }"]
    )  # fmt: skip
    fixings = ", ".join(
        f'{{ x = "{metal * c:.2f} mm", y = "{metal * s:.2f} mm", hole = "8 mm", holds = "rivet nut" }}'
        for c, s in (_unit(start + 120.0 * k) for k in range(3))
    )
    trim = rng.uniform(21.0, 30.0)
    notch = rng.choice(("", f'notch = "{rng.randrange(0, 360, 15)} deg"\n', 'notch = "terminals"\n'))
    foam = rng.choice(("", "foam = { grooved = true }\n", ""))
    clear = rng.uniform(54.0, 62.0)
    return f"""
format = 1
title = "By chance"
[[opening]]
id = "door"
zone = "door"
skin = "0.8 mm"
hole = {{ diameter = "145 mm" }}
flange = {flange}
fixings = [{fixings}]
behind = [
  {{ what = "glass", window = "down", radius = "0 mm", clear = "{clear:.1f} mm" }},
  {{ what = "glass", window = "down", radius = "62 mm", clear = "{clear:.1f} mm" }},
]
trim = {{ clear = "{trim:.1f} mm", land = "{trim:.1f} mm" }}
[[speaker]]
id = "w"
frame = "168 mm"
cutout = "138 mm"
depth = "62 mm"
magnet = "100 mm"
rim = "5 mm"
mass = "1.2 kg"
front = {{ moving = "2 mm" }}
terminals = {{ radius = "60 mm", width = "30 mm", depth = "20 mm", angle = "{rng.randrange(360)} deg" }}
holes = {{ count = {rng.choice((3, 4, 6))}, circle = "{2 * bolt:.1f} mm", diameter = "4.6 mm", first = "{rng.randrange(90)} deg" }}
[speaker.motor]
Xmech = "6 mm"
[[adapter]]
opening = "door"
speaker = "w"
material = "ASA"
{notch}{foam}"""


def _unit(degrees: float) -> tuple[float, float]:
    from math import cos, radians, sin

    return cos(radians(degrees)), sin(radians(degrees))


@cache
def judged(text: str) -> tuple[Premises, PlaceResult]:
    job = loads(text)
    result = assess(job, Memo(), DRAWS)
    (place,), adapter, speaker = places(job), job.file.adapter[0], job.file.speaker[0]
    return premises_of(job, shipped(), place, adapter, speaker, Ledger()), result.places[0]


def stops(result: PlaceResult) -> list[str]:
    return [f"{c.code}.{c.part}" for c in result.checks if c.verdict == "stop" and lifted_by_choice(c)]


@pytest.mark.parametrize("seed", range(8))
def test_no_stop_is_left_that_a_candidate_would_not_have(seed: int) -> None:
    premises, taken = judged(place_text(random.Random(seed)))
    if not stops(taken):
        return  # nothing can be better
    memo = Memo()
    for threads, grooved, turn in product(thread_kinds(premises), gasket_kinds(premises), range(0, 360, 30)):
        choice, why = choice_at(premises, memo, threads, grooved, float(turn))
        other = result_at(premises, choice, why, Ledger(), memo, TRIAL_DRAWS)
        assert stops(other), f"{choice} has no stop; taken was {taken.taken} with {stops(taken)}"


def thin(adapter: str = "", trim: float = 23.0) -> str:
    """A window that the usual insert is too long for."""
    text = place_text(random.Random(3))
    table: dict[str, Any] = tomllib.loads(text)
    opening, speaker = table["opening"][0], table["speaker"][0]
    opening["flange"] = {"diameter": "192 mm"}
    opening["trim"] = {"clear": f"{trim} mm", "land": f"{trim} mm"}
    opening["behind"] = [{"what": "glass", "window": "down", "radius": r, "clear": "60 mm"} for r in ("0 mm", "62 mm")]
    speaker["holes"] = {"count": 4, "circle": "156 mm", "diameter": "4.6 mm", "first": "45 deg"}
    table["adapter"] = [{"opening": "door", "speaker": "w", "material": "ASA", **tomllib.loads(adapter)}]
    return dumps(table)


def place_of(text: str) -> PlaceResult:
    return judged(text)[1]


def test_a_shorter_insert_where_the_usual_one_is_too_long_for_the_window() -> None:
    fixed = place_of(thin('threads = "insert M4"'))
    assert fixed.taken.thickness_mm == pytest.approx(12.2)
    assert "fit.grille." in stops(fixed)
    assert fixed.fit.chance_margin == pytest.approx(0.0, abs=0.02)
    free = place_of(thin())
    assert free.taken.threads == "insert M4 short"
    assert stops(free) == []
    assert free.fit.chance_margin is not None
    assert free.fit.chance_margin > 0.9
    (why,) = [c for c in free.checks if c.code == "fit.choice"]
    assert "insert M4 short instead of insert M4" in words(why.title)
    helps = [one for one in fixed.remedies if one.key == "threads"]
    assert "insert M4 short" in {one.value for one in helps}


def test_what_a_person_fixed_stays() -> None:
    for key, value in (("threads", "insert M4"), ("turn", "12 deg"), ("thickness", "14.2 mm")):
        place = place_of(thin(f'{key} = "{value}"'))
        if key == "threads":
            assert place.taken.threads == value
        if key == "turn":
            assert place.turn_deg == pytest.approx(12.0)
        if key == "thickness":
            assert place.taken.thickness_mm == pytest.approx(14.2)


def test_where_nothing_helps_nothing_is_offered_but_the_trim_and_another_speaker() -> None:
    place = place_of(thin(trim=19.0))
    grille = next(c for c in place.checks if c.code == "fit.grille")
    assert grille.verdict == "stop"
    assert "No single change of the part is enough" in words(grille.remedy or grille.title)
    assert not [one for one in place.remedies if one.key and "fit.grille" in one.lifts]


def changed(text: str, key: str, value: str) -> str:
    table: dict[str, Any] = tomllib.loads(text)
    adapter = table["adapter"][0]
    if key.startswith("foam."):
        foam = adapter.setdefault("foam", {})
        foam.pop("closed", None)
        foam[key.removeprefix("foam.")] = True if value == "true" else value
    elif value:
        adapter[key] = value
    else:
        del adapter[key]
    return dumps(table)


FIXED = ('threads = "insert M4"', 'thickness = "16 mm"', 'turn = "3 deg"',
         'recess = "4 mm"', 'notch = "300 deg"\nturn = "75 deg"')  # fmt: skip


@pytest.mark.parametrize(("adapter", "trim"), list(zip(FIXED, cycle((21.0, 23.0)), strict=False)))
def test_what_is_offered_works_when_it_is_written_into_the_job(adapter: str, trim: float) -> None:
    text = thin(adapter, trim)
    before = place_of(text)
    for one in before.remedies:
        if not one.key:
            continue
        after = place_of(changed(text, one.key, one.value))
        rank = ("ok", "caution", "stop").index
        now = {f"{c.code}.{c.part}" if c.part else c.code: c.verdict for c in after.checks}
        was = {f"{c.code}.{c.part}" if c.part else c.code: c.verdict for c in before.checks}
        assert all(rank(now.get(name, "ok")) < rank(was[name]) for name in one.lifts), (one, now)
        assert len([v for v in now.values() if v == "stop"]) <= len([v for v in was.values() if v == "stop"])


def test_a_notch_follows_the_terminals_or_is_mirrored() -> None:
    follows = place_of(thin('notch = "terminals"', 26.0))
    assert follows.clocking is not None
    assert follows.clocking.terminals_deg is not None
    (notch,) = follows.spec.notches
    off = abs((notch.angle_deg - follows.clocking.terminals_deg + 180.0) % 360.0 - 180.0)
    assert off <= 45.0  # beside them where a thread is in the way
    text = thin('notch = "300 deg"', 26.0).replace('id = "door"', 'id = "door"\nsides = ["left", "right"]')
    left, right = assess(loads(text), Memo(), 4_000, whole=False).places
    assert [p.spec.notches[0].angle_deg for p in (left, right)] == pytest.approx([300.0, 240.0])
    assert not [name for p in (left, right) for name in stops(p) if "insert-wall" in name]


def test_both_sides_take_one_kind_of_thread_where_it_serves_both() -> None:
    sides = 'sides = ["left", "right"]\nright = { trim = { clear = "32 mm", land = "32 mm", inner = "140 mm" } }'
    text = thin().replace('id = "door"', f'id = "door"\n{sides}').replace('"1.2 kg"', '"0.8 kg"')
    left, right = assess(loads(text), Memo(), 4_000, whole=False).places
    assert left.taken.threads == "insert M4 short"  # the usual one is too long for its window
    assert right.taken.kinds == left.taken.kinds  # though the usual would do here
    assert stops(left) == stops(right) == []
    alone = (
        thin()
        .replace('clear = "23.0 mm"', 'clear = "32 mm"')
        .replace('land = "23.0 mm"', 'land = "32 mm"\ninner = "140 mm"')
    )
    assert place_of(alone).taken.threads == "insert M4"


def test_the_thickness_keeps_the_screws_heads_below_the_trims_flat() -> None:
    """Any height from the threads' least up is as good behind and before; only lower ones clear the flat."""
    base = thin(trim=40.0)
    near = base.replace('land = "40.0 mm"', 'land = "27.0 mm"\ninner = "138 mm"')
    assert near != base
    place = place_of(near)
    assert {c.verdict for c in place.checks if c.code == "fit.flat"} == {"ok"}
    free = place_of(base.replace('land = "40.0 mm"', 'land = "40.0 mm"\ninner = "138 mm"'))
    assert free.taken.thickness_mm > place.taken.thickness_mm


def test_a_narrower_strip_comes_before_a_groove_where_a_flange_lifts() -> None:
    part = 'thickness = "11 mm"\nthreads = "insert M4 short"\n'
    wide = place_of(thin(part + 'foam = { back_width = "8 mm", grooved = false }', 34.0))
    assert {c.verdict for c in wide.checks if c.code == "fit.flange"} == {"caution"}
    place = place_of(thin(part, 34.0))
    assert {c.verdict for c in place.checks if c.code == "fit.flange"} == {"ok"}
    assert (place.taken.grooved, place.taken.gasket.width_mm) == (False, 6.0)
    (why,) = [c for c in place.checks if c.code == "fit.choice"]
    assert "a back gasket 6.0 mm wide" in words(why.title)


def test_a_hit_that_is_only_a_caution_is_worse_than_two_cautions_that_hit_nothing() -> None:
    result, said = place_of(thin()), Message("")
    hit = Check("fit.flat", "caution", said, value=-6.0, limit=3.0, unit="mm", part="moving", remedy=said)
    other = Check("fit.fixing", "caution", said, value=600.0, limit=500.0, unit="N", remedy=said)
    deep = replace(result, fit_checks=(*result.fit_checks, hit))
    light = replace(result, fit_checks=(*result.fit_checks, other, replace(other, part="edge")))
    assert score(light) < score(deep)
    assert score(result) < score(light)
    scrape = replace(hit, value=2.9)  # less than an eighth of a margin: the cautions decide
    assert score(replace(result, fit_checks=(*result.fit_checks, scrape))) < score(light)
    ask = replace(hit, part="inner")  # where the flat begins was not read: a question, and no hit
    assert score(replace(result, fit_checks=(*result.fit_checks, ask))) < score(light)


def test_the_back_gaskets_grade_is_chosen_with_the_rest() -> None:
    """Grades from soft to firm are tried while a stop is left; the softest is taken unless a firmer one leaves fewer."""
    premises, _ = judged(thin('threads = "insert M4"'))
    grades = [kind.grade for kind in gasket_kinds(premises)]
    assert [grade for grade in grades if grade] == ["2A1", "2A2"]
    told = judged(thin('threads = "insert M4"\nfoam = { back_grade = "2A1" }'))
    assert not [kind.grade for kind in gasket_kinds(told[0]) if kind.grade]
    assert told[1].foam.back is not None
    assert told[1].foam.back.grade == "2A1"
    usual = result_at(premises, *choice_at(premises, Memo()), Ledger(), Memo(), TRIAL_DRAWS)
    stop = next(check for check in usual.checks if check.code == "fit.grille" and check.verdict == "stop")

    def tried(choice: PlaceChoice, why: Message | None) -> PlaceResult:
        """A world in which the middle grade lifts the one stop that there is."""
        found = result_at(premises, choice, why, Ledger(), Memo(), TRIAL_DRAWS)
        kept = tuple(c for c in found.fit_checks if c.code != "fit.grille")
        return replace(found, fit_checks=kept if choice.gasket.grade == "2A1" else (*kept, stop), part_checks=())

    free = Free(("insert M4",), gasket_kinds(premises), turn=False)
    taken, why = searched(usual, free, partial(choice_at, premises, Memo()), tried)
    assert taken.gasket.grade == "2A1"
    assert why is not None
    assert "a back gasket of grade 2A1" in words(why)
    made = result_at(premises, taken, why, Ledger(), Memo(), TRIAL_DRAWS)
    assert made.foam.back is not None
    assert made.foam.back.grade == "2A1"


def two_sided(seed: int) -> str:
    """A place of which the right side was read only in part: its trim, or what is behind it; the rest is mirrored."""
    rng = random.Random(seed)
    trim, clear = rng.uniform(15.0, 26.0), rng.uniform(46.0, 62.0)
    own = rng.choice((
        f'trim = {{ clear = "{trim:.1f} mm", land = "{trim:.1f} mm" }}',
        f'behind = [{{ what = "glass", window = "down", radius = "0 mm", clear = "{clear:.1f} mm" }}]', "",
    ))  # fmt: skip
    sides = (
        f'id = "door"\nsides = ["left", "right"]\nright = {{ {own} }}'
        if own
        else 'id = "door"\nsides = ["left", "right"]'
    )
    return place_text(random.Random(seed)).replace('id = "door"', sides, 1)


SHARED = (1, 4, 5, 13)  # with other kinds by themselves, with and without a stop


@pytest.mark.parametrize("seed", SHARED)
def test_what_both_sides_share_stops_neither(seed: int) -> None:
    """Each side by itself, with its own choice, has every stop that it has with the kinds that both share."""
    job, memo = loads(two_sided(seed)), Memo()
    shared = assess(job, memo, 2_000, whole=False).places
    adapter, speaker = job.file.adapter[0], job.file.speaker[0]
    for place, result in zip(places(job), shared, strict=True):
        alone = assess_place(job, shipped(), place, adapter, speaker, Ledger(), memo, 2_000)
        assert {c.name for c in result.part.stopped} <= {c.name for c in alone.part.stopped}
