"""A job with more than one source: what hangs on which, what each device gets, what stays live."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from backwave.assess import Assessment, Memo, assess, wires_json
from backwave.assess.power.extra_sources import supplies
from backwave.assess.power.results import harness_json
from backwave.drawing.harness import harness_svg
from backwave.errors import JobError
from backwave.finding import words
from backwave.job import loads
from backwave.power.protection import Installation, PowerSource, short_a

TEXT = (Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job/job.toml").read_text(encoding="utf-8")
MEMO = Memo()
SECOND = """
[[battery]]
id = "second"
kind = "lithium"
voltage = "13.3 V"
resistance = "4 mohm"
place = "cabin"
fuse = "60 A"
feed = { length = "3.5 m", fuse = "60 A", style = "class T" }
charged_through = "charger"
strapped = true
cold_stop = true

[[converter]]
id = "charger"
input = "12 V"
output = "14.4 V"
current = "30 A"
fuse = "60 A"
lithium = true
feed = { length = "0.5 m", fuse = "60 A" }
"""
TWO = (
    TEXT.replace('id         = "bass-amp"\nfrom       = "block"', 'id         = "bass-amp"\nfrom       = "second"')
    + SECOND
)


def assessed(text: str) -> Assessment:
    return assess(loads(text), MEMO, draws=300)


def verdicts(made: Assessment, *codes: str) -> dict[str, str]:
    return {f.id: f.check.verdict for f in made.findings if f.check.code in codes and f.check.verdict != "ok"}


def test_two_sources_are_two_supplies() -> None:
    made = assessed(TWO)
    assert verdicts(made, "power.source", "power.voltage", "power.fuse", "power.cable") == {}
    assert made.verdict == "caution"  # as the demo itself
    own = {f.id for f in assessed(TEXT).findings if f.check.verdict != "ok"}
    new = {f.id for f in made.findings if f.check.verdict != "ok"} - own
    # the charger at its limit is more than the alternator spares at idle; nothing else is made up
    assert new <= {"power.budget@vehicle", "power.reserve@vehicle"}, new
    assert made.wires is not None
    rows = {c["id"]: c for c in wires_json(made.wires)["cables"]}
    assert {name: row["from"] for name, row in rows.items()} == {
        "block": "", "amp": "block", "charger": "", "bass-amp": "second", "second": "charger",
    }  # fmt: skip
    # the converter takes what it gives over its efficiency: 14.4 V * 30 A / (12 V * 0.9) = 40 A
    assert rows["charger"]["current_a"] == pytest.approx(40)
    assert rows["block"]["current_a"] == pytest.approx(50)  # the bass amplifier hangs on the other one now
    assert made.harness is not None
    ends = {(w.from_pin, w.to_pin) for w in made.harness.harness.wires}
    assert {("battery.to charger", "charger.supply"), ("charger.to second", "second.supply"), ("second.to bass-amp", "bass-amp.supply")} <= ends  # fmt: skip
    live = [words(f.check.title) for f in made.cautions if f.id == "safe.battery.every@vehicle"]
    assert live == ["With the starter battery off these stay live: second, charger"]
    assert not [f for f in assessed(TEXT).cautions if f.check.part == "every"]


def test_24_v_into_a_12_v_amplifier_is_a_stop_and_the_converter_its_remedy() -> None:
    truck = TEXT.replace("[supply]\n", '[supply]\nsystem = "24 V"\n').replace('voltage = "12.6 V", ', "")
    assert verdicts(assessed(truck), "power.voltage") == dict.fromkeys(
        ("power.voltage@amp", "power.voltage@bass-amp"), "stop"
    )
    stands = truck.replace('"10.5 to 16 V"', '"20 to 32 V"')
    assert verdicts(assessed(stands), "power.voltage") == {}
    fed = truck.replace('from       = "block"', 'from       = "down"').replace("[[distribution]]\n", '[[converter]]\nid = "down"\nfrom = "block"\ninput = "24 V"\noutput = "13.8 V"\ncurrent = "90 A"\nfuse = "100 A"\nfeed = { length = "0.5 m", fuse = "80 A" }\n\n[[distribution]]\n')  # fmt: skip
    assert verdicts(assessed(fed), "power.voltage", "power.source") == {}
    unread = re.sub(r'voltage    = "10.5 to 16 V".*\n', "", truck)
    assert set(verdicts(assessed(unread), "power.voltage").values()) == {
        "stop"
    }  # nobody read it: what 12 V devices stand
    half = truck.replace("efficiency = 0.", "half = true\nefficiency = 0.")
    assert set(verdicts(assessed(half), "power.voltage").values()) == {"stop"}


def test_a_supply_cable_through_a_hinge() -> None:
    door = TEXT.replace('feed       = { length = "0.5 m"', 'feed       = { hinge = "door", length = "0.5 m"')
    assert verdicts(assessed(door), "power.hinge") == {"power.hinge@bass-amp": "stop"}
    tail = door.replace('hinge = "door"', 'hinge = "tailgate", fine_strand = true, guarded = true, fuse = "40 A"')
    assert verdicts(assessed(tail), "power.hinge") == {}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('from       = "second"', 'from       = "third"', "no distribution or battery or converter of that id"),
        ('charged_through = "charger"', 'charged_through = "magic"', "nothing of that name charges it"),
        ('id = "charger"\n', 'id = "charger"\nfrom = "second"\n', "hangs on itself"),
        ('"10.5 to 16 V"', '"16 to 10 V"', "not a span of supply voltages"),
    ],
)
def test_bad_input_is_named(old: str, new: str, said: str) -> None:
    with pytest.raises(JobError, match=said):
        loads(TWO.replace(old, new, 1))


def test_short_circuit_currents_of_two_batteries_add_up() -> None:
    joined = TEXT.replace('id         = "bass-amp"\nfrom       = "block"', 'id         = "bass-amp"\nfrom       = "second"') + (
        '[[battery]]\nid = "second"\nkind = "AGM"\nvoltage = "12.8 V"\nresistance = "4 mohm"\nplace = "cargo"\ncharged_through = "isolator"\n'
        'vented = true\nboxed = true\nstrapped = true\nfuse = "80 A"\nfeed = { length = "4 m", fuse = "80 A", style = "strip", size = "35 mm2", insulation = "105 degC" }\n'
    )  # fmt: skip
    job = loads(joined)
    main, others = supplies(job)
    made = assess(job, MEMO, draws=300)
    assert made.wires is not None
    (cable,) = [one.conductor for one in made.wires.protected if one.conductor.id == "second"]
    assert (cable.fuse and cable.fuse.rating_a, cable.end_fuse and cable.end_fuse.rating_a) == (80.0, 80.0)
    graph = Installation(
        (PowerSource("battery", 12.8, 8e-3), PowerSource("second", 12.8, 4e-3)),
        tuple(one.conductor for one in made.wires.protected),
    )
    # a short at the second battery's post: its own 12.8 V / 4 mohm, and the starter battery's through 4 m of 35 mm2
    copper = 4 / 58 / 35
    cold = {c.id: c.length_m / 58 / float(c.size.split()[0]) for c in graph.conductors}
    assert short_a(graph, "second", cold) == pytest.approx(12.8 / 4e-3 + 12.8 / (8e-3 + copper), rel=0.01)
    assert verdicts(made, "power.source") == {}
    assert len(others) == 1
    assert [load.id for load in main.file.load] == ["amp", "second"]


AUX = """
[[battery]]
id = "aux"
kind = "AGM"
place = "cargo"
sealed = true
strapped = true
vented = true
boxed = true
charged_through = "isolator"
fuse = "200 A"
feed = { length = "4 m", insulation = "105 degC", size = "4 mm2", fuse = "30 A" }
"""


def by_id(made: Assessment) -> dict[str, tuple[str, float | None]]:
    return {f.id: (f.check.verdict, f.check.value) for f in made.findings if f.check.code.startswith("power.")}


@pytest.mark.parametrize("joined", ["isolator", "cable", ""])
def test_a_battery_that_feeds_nothing_is_a_source_all_the_same(joined: str) -> None:
    text = TEXT + AUX.replace('"isolator"', f'"{joined}"')
    made = assessed(text)
    assert made.wires is not None
    (cable,) = [one for one in made.wires.protected if one.conductor.id == "aux"]
    # 200 A from the bank's end, 30 A from the other
    assert (cable.fuse_a, by_id(made)["power.protection@aux"][0]) == (200, "stop")
    # a short behind its own fuse: 12.8 V over 4 mohm
    assert by_id(made)["power.fuse-breaking.end@aux"] == ("ok", pytest.approx(3200, rel=1e-3))
    sound = assessed(text.replace('"200 A"', '"30 A"'))
    assert {by_id(sound)[f"power.{code}@aux"][0] for code in ("protection", "fuse-breaking", "fuse-breaking.end")} == {"ok"}  # fmt: skip


def test_a_bank_of_capacitors_that_feeds_nothing_is_one_too() -> None:
    bank = TEXT + AUX.replace("AGM", "capacitors").replace('"200 A"', '"40 A"\nstyle = "blade"')
    assert by_id(assessed(bank))["power.fuse-breaking.end@aux"] == ("stop", pytest.approx(14400))  # 14.4 V over 1 mohm
    assert by_id(assessed(bank.replace('"blade"', '"class T"')))["power.fuse-breaking.end@aux"][0] == "ok"


def test_a_style_nobody_gave_is_one_that_breaks_what_all_sources_drive() -> None:
    open_ = TWO.replace(', style = "class T"', "")
    found = {f.id: f.check for f in assessed(open_).findings if f.check.code == "power.fuse-breaking"}
    assert {check.verdict for check in found.values()} == {"ok"}
    assert (found["power.fuse-breaking@second"].value or 0) > 1000  # A, more than a blade breaks
    blade = {f.id: f.check.verdict for f in assessed(TWO.replace("class T", "large blade")).findings}
    assert blade["power.fuse-breaking@second"] == "stop"  # somebody gave it


@pytest.mark.parametrize(("measured", "verdict"), [("17 V", "stop"), ("14.2 V", "ok")])
def test_what_a_device_stands_is_judged_by_what_was_measured(measured: str, verdict: str) -> None:
    text = f'{TEXT}\n[supply_test]\nrunning = "{measured}"\n'
    most = 17 if verdict == "stop" else 14.4
    found = by_id(assessed(text))
    assert {found[f"power.voltage@{name}"] for name in ("amp", "bass-amp")} == {(verdict, most)}
    extra = by_id(assessed(text + AUX.replace('"200 A"', '"30 A"') + '\n[[load]]\nid = "small"\nfrom = "aux"\ncurrent = "5 A"\nvoltage = "10.5 to 16 V"\n'))  # fmt: skip
    assert extra["power.voltage@small"] == (verdict, most)  # through the isolator too


def test_what_a_second_battery_draws_on_the_first() -> None:
    own = assessed(TEXT)
    assert own.wires is not None
    plain = own.wires.budget
    thick = AUX.replace('"200 A"', '"60 A"').replace('"30 A"', '"60 A"').replace("4 mm2", "25 mm2")
    small = '\n[[load]]\nid = "small"\nfrom = "aux"\ncurrent = "5 A"\nvoltage = "10.5 to 16 V"\n'

    def spare(text: str) -> tuple[float, float]:
        made = assessed(text)
        assert made.wires is not None
        budget = made.wires.budget
        assert budget.idle_spare_a is not None
        assert budget.off_min is not None
        assert plain.idle_spare_a is not None
        return plain.idle_spare_a - budget.idle_spare_a, budget.off_min

    off_a = plain.musical_a + 3.0

    def minutes(amps: float) -> float:  # Peukert 1897: 60 Ah at 20 h, 30 % of it
        return 60 * 0.3 * 20 * (60 / (amps * 20)) ** 1.15

    assert spare(TEXT + thick) == pytest.approx((0, minutes(off_a)))
    assert verdicts(assessed(TEXT + thick), "power.budget", "power.reserve", "power.sag") == {}
    assert spare(TEXT + thick + small) == pytest.approx((5, minutes(off_a)))  # the isolator is open
    cable = (TEXT + thick + small).replace('"isolator"', '"cable"')
    assert spare(cable) == pytest.approx((5, minutes(off_a + 5)))
    bank = (TEXT + thick).replace("AGM", "capacitors").replace('"isolator"', '"cable"')
    assert spare(bank) == pytest.approx((0, minutes(off_a)))
    # a charger of 30 A at 14.4 V takes 40 A of 12 V with the engine running, and nothing for its battery without it
    drawn, off_min = spare(TWO)
    bass = next(one.musical_a for one in plain.loads if one.name == "bass-amp")
    assert (drawn, off_min) == pytest.approx((40 - bass, minutes(off_a - bass)))


@pytest.mark.parametrize(("fuse", "verdict"), [("100 A", "stop"), ("20 A", "ok")])
def test_a_block_nothing_hangs_on_is_a_conductor_all_the_same(fuse: str, verdict: str) -> None:
    spare = f'\n[[distribution]]\nid = "spare"\nfeed = {{ length = "3 m", size = "4 mm2", insulation = "105 degC", fuse = "{fuse}" }}\n'
    found, own = by_id(assessed(TEXT + spare)), by_id(assessed(TEXT))
    assert {id_: one for id_, one in found.items() if "spare" not in id_} == own  # the rest is judged as ever
    assert found["power.load.spare@vehicle"][0] == "caution"
    assert found["power.protection@spare"][0] == verdict
    unread = by_id(assessed(TEXT + spare.replace(f', fuse = "{fuse}"', "")))
    assert unread["power.load.spare@vehicle"][0] == "caution"
    assert "power.protection@spare" not in unread
    alone = re.sub(r"(?ms)^\[\[(load|wire)\]\]\n.*?(?=^\[|\Z)", "", TEXT) + spare
    assert "[[load]]" not in alone
    assert by_id(assessed(alone))["power.protection@spare"][0] == verdict


BARE = re.sub(
    r"(?ms)^\[\[?(stage|wire|pair|reading|tune|factory_output|hand_over|factory_system)(\.\w+)?\]\]?\n.*?(?=^\[|\Z)",
    "",
    TEXT,
)
ODD = '\n[[wire]]\nid = "odd"\nfrom = "{}"\nto = "{}"\nlength = "2 m"\nsize = "{} mm2"\n'


@pytest.mark.parametrize(
    ("start", "end", "size", "stops"),
    [
        ("battery.to block", "block.supply", 35, set()),
        ("battery.to block", "block.supply", 1.5, {"wire.thin.odd@harness"}),
        ("battery.to block", "amp.supply", 1.5, {"wire.feed.battery.to block@harness", "wire.feed.amp.supply@harness"}),
        ("amp.supply", "ground.amp", 1.5, {"wire.feed.amp.supply@harness", "wire.feed.amp.ground@harness"}),
    ],
)
def test_wires_of_the_supply_are_judged_without_a_stage(start: str, end: str, size: float, stops: set[str]) -> None:
    made = assessed(BARE + ODD.format(start, end, size))
    mine = [f for f in made.findings if f.subject == "harness"]
    assert {f.id for f in mine if f.check.verdict == "stop"} == stops
    assert not {f.check.code for f in mine} & {"wire.tweeter", "wire.poles", "wire.sides"}  # of no path nothing is said
    assert made.harness is not None
    assert "<svg" in harness_svg(made.harness, "", "paper")
    assert {"from": start, "to": end}.items() <= {w["id"]: w for w in harness_json(made.harness)["wires"]}[
        "odd"
    ].items()


def test_pins_that_are_none_are_refused_without_a_stage() -> None:
    assert assessed(BARE).harness is None
    with pytest.raises(JobError, match=r"no such pin(?s:.)*amp\.suply"):
        assessed(BARE + ODD.format("amp.suply", "ground.amp", 4))
    with pytest.raises(JobError, match=r"batery\.to block"):
        assessed(BARE + ODD.format("batery.to block", "amp.supply", 4))
