"""Shopping list and checklist against the model they follow from."""

from __future__ import annotations

from collections import Counter

import pytest

from backwave.assess.work.log_codec import added, done_of, words_of
from backwave.assess.work.work_plan import working, working_json
from backwave.dossier.context import PageContext
from backwave.errors import InputError, JobError
from backwave.job import loads
from backwave.plan import spoken
from tests.dossier.conftest import TEXT, many, tell


def bought(told: PageContext, what: str) -> Counter[str]:
    found: Counter[str] = Counter()
    for item in told.working.items:
        if item.what == what:
            found[item.size] += int(item.quantity or 0)
    return found


def test_inserts_screws_and_fixings_are_as_many_as_the_parts_have(told: PageContext) -> None:
    specs = [part.spec for part in told.result.parts]
    inserts = sum(t.kind == "insert" for spec in specs for t in spec.threads)
    assert bought(told, "heat-set insert").total() == inserts == 12
    screws = bought(told, "button head screw")
    # one a thread, one a fixing of the factory's: rivet nuts and sheet nuts all take one
    assert screws.total() == sum(len(spec.threads) + len(spec.fixings) for spec in specs) == 22
    # by the findings' own words: the same sizes and lengths
    said: Counter[str] = Counter()
    for f in told.result.findings:
        if f.check.code == "fit.screw" and f.check.part in ("driver", "metal"):
            held = {name: value for name, value, _ in f.check.title.quantities}
            part = next(p for p in told.result.parts if p.subject == f.subject)
            count = len(part.spec.threads if f.check.part == "driver" else part.spec.fixings)
            said[f"{held['size']} × {held['length']:g}"] += count
    assert screws == said


def test_networks_are_bought_for_what_stays_and_once_a_side(told: PageContext) -> None:
    # by hand from the demo's last stage: doors 0.39 mH, 3.9 ohm, 22 uF; dash 1.5 ohm, 10 uF, 0.27 mH; two sides each
    wanted = {"0.39 mH, at most 0.2 Ω": 2, "0.27 mH, at most 0.15 Ω": 2}
    assert bought(told, "coil") == wanted
    assert bought(told, "resistor") == {"3.9 Ω": 2, "1.5 Ω": 2}
    assert bought(told, "capacitor") == {"22 µF": 2, "10 µF": 2}  # not the factory's 4.7 uF


def test_drivers_that_were_there_are_not_bought(told: PageContext) -> None:
    names = {item.what: item.quantity for item in told.working.items if item.group == "Speakers and devices"}
    assert "Factory woofer" not in names
    assert names["Demo 165 mm woofer"] == 2
    assert names["Demo 250 mm subwoofer"] == 1
    assert names["amplifier"] == 1


def test_cables_and_fuses_are_those_of_the_supply(told: PageContext) -> None:
    assert told.result.wires is not None
    nodes = told.result.wires.tree.nodes
    lengths = sum(i.quantity or 0 for i in told.working.items if i.what.startswith("supply cable"))
    assert lengths == pytest.approx(sum(n.cable.length_m for n in nodes))
    fuses = sum(int(i.quantity or 0) for i in told.working.items if i.what.startswith("fuse, "))
    assert fuses == sum(n.fitted for n in nodes)


def test_filament_is_the_parts_mass(told: PageContext) -> None:
    kept = {}
    from backwave.assess import part_digest

    for n, part in enumerate(told.result.parts, 1):
        kept[part.id] = {
            "digest": part_digest(part),
            "entry": {"mass_kg": 0.1 * n, "print": {"estimated_time_s": 3600.0 * n}},
        }
    made = working(told.job, told.result, kept)
    grams = {i.what: i.quantity for i in made.items if i.what.endswith("filament")}
    assert grams == {"ASA filament": pytest.approx(600.0)}
    hours = [t.machine_min for t in made.tasks if t.id.startswith("print-")]
    assert sorted(hours) == [60.0, 120.0, 180.0]


def test_a_sheet_part_buys_its_layers() -> None:
    text = TEXT.replace('process   = "print"\nmaterial  = "ASA"', 'process   = "sheet"\nmaterial  = "birch plywood"')
    told = tell(loads(text))
    layers = [p.how.layers_mm for p in told.result.parts if hasattr(p.how, "layers_mm")]
    assert layers
    count = sum(int(i.quantity or 0) for i in told.working.items if i.what == "birch plywood sheet")
    assert count == sum(len(one) for one in layers)
    assert any(t.id.startswith("cut-") for t in told.working.tasks)


def test_every_opening_has_its_tasks() -> None:
    told = tell(many(12))
    names = [t.id for t in told.working.tasks]
    assert sum(n.startswith("fit-") for n in names) == 12
    assert sum(n.startswith("print-") for n in names) == 12
    assert len(set(names)) == len(names)


def test_the_log_is_read_and_written_back(told: PageContext) -> None:
    log: dict[str, object] = {"format": 1, "tick": [{"id": "shop", "done": False, "seen": "elsewhere"}], "undo": []}
    said = [
        ("tick", "consent", {"done": True, "minutes": 12.5}, "2026-03-14T10:00"),
        ("tick", "consent", {"done": False}, "2026-03-14T11:00"),
        ("task", "fetch", {"title": "Fetch it", "minutes": 20.0, "after": ("consent",)}, "2026-03-14T11:05"),
        (
            "note",
            "n1",
            {"text": "A screw under the handle", "place": "front-door.left", "count": 1},
            "2026-03-14T11:10",
        ),
    ]
    for n, (kind, name, fields, when) in enumerate(said):
        words = words_of(log)
        for section, row in added(log, [spoken(words, (kind, name, ""), fields, f"k{n}", when, "Ada")]):
            log.setdefault(section, []).append(row)
    assert isinstance(log["tick"], list)
    assert log["tick"][0]["seen"] == "elsewhere"  # another's key is left alone
    done = done_of(log)
    tick = done.ticks["consent"]
    assert (tick.done, tick.when, tick.by, tick.minutes) == (False, "2026-03-14T11:00", "Ada", 12.5)
    made = working(told.job, told.result, None, done)
    assert next(t for t in made.tasks if t.id == "fetch").after == ("consent",)
    assert [step.fasteners for step in made.teardown] == [1]
    held = working_json(made)
    assert next(t for t in held["tasks"] if t["id"] == "consent")["done"] is False


def test_rows_that_cannot_be_are_all_named() -> None:
    log = {
        "tick": [{"done": True}, {"id": "a", "minutes": "long"}],
        "item": [{"id": "x", "price": "1,234"}, {"id": "y", "price": float("nan")}],
        "note": "no list",
        "task": [{"id": "b", "after": "a"}],
    }
    with pytest.raises(JobError) as caught:
        done_of(log)
    keys = [problem.key for problem in caught.value.problems]
    assert keys == ["tick[0].id", "tick[1].minutes", "task[0].after", "item[0].price", "item[1].price", "note"]
    assert "two ways" in caught.value.problems[3].message


def test_a_task_that_waits_for_itself_is_named(told: PageContext) -> None:
    done = done_of({"task": [{"id": "shop", "after": ["shop"]}]})
    with pytest.raises(InputError, match="shop waits for shop"):
        working(told.job, told.result, None, done)
