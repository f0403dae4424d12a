"""From the job to the harness: plugs that are kept, runs to the speakers, boots, stable names; the factory's record."""

from __future__ import annotations

from functools import cache

import pytest
from assess.test_harness_result import BARE, MEMO, TEXT, wire

from backwave.assess import Assessment, assess
from backwave.assess.inputs.factory import factory_json
from backwave.assess.power.results import harness_json
from backwave.errors import JobError
from backwave.finding import Finding
from backwave.job import loads
from tests.confirmed import confirmed


def assessed(text: str) -> Assessment:
    return assess(confirmed(loads(text)), MEMO, draws=500)


@cache
def demo() -> Assessment:
    return assessed(TEXT)


def found(result: Assessment, code: str, subject: str = "") -> list[Finding]:
    return [f for f in result.findings if f.check.code == code and subject in ("", f.subject)]


def plug(id_: str = "p", opening: str = "dash", lines: str = "", pins: str = "") -> str:
    pins = pins or '{ number = "1", carries = "+", color = "VT" }, { number = "2", carries = "-", color = "BK" }'
    return f'\n[[plug]]\nid = "{id_}"\nopening = "{opening}"\n{lines}\npin = [{pins}]\n'


# -- plugs ----------------------------------------------------------------------------------------------------------


def test_a_plug_without_a_side_stands_on_each_and_one_with_a_side_outranks_it() -> None:
    text = BARE + plug() + plug("q", lines='side = "right"')
    made = assessed(text).harness
    assert made is not None
    assert {p.id for p in made.plugs} == {"p-left", "q"}
    ends = {(w["from"], w["to"]) for w in harness_json(made)["wires"]}
    assert ("crossover-left.tweeter+", "p-left.1 in") in ends
    assert ("p-left.1 out", "dash-left.-") in ends  # the demo turns its tweeters over
    assert ("q.1 out", "dash-right.-") in ends
    there = {w["id"]: w["there_already"] for w in harness_json(made)["wires"]}
    assert there["p-left-1-in"]
    assert not there["dash-left-minus"]
    assert not any(wire_ == "p-left-1-in" for cut in made.cuts for wire_, _ in cut.cuts)  # nothing is cut there


def test_what_hides_in_a_plug_is_said_and_bridged_is_gone() -> None:
    pins = '{{ number = "1", carries = "+", color = "VT", hides = "series C 4.7 uF"{} }}, {{ number = "2", carries = "-", color = "BK" }}'
    hides = assessed(BARE + plug(pins=pins.format("")))
    assert {f.check.verdict for f in found(hides, "wire.hidden")} == {"caution"}
    bridged = assessed(BARE + plug(pins=pins.format(", bridged = true")))
    assert not found(bridged, "wire.hidden")
    assert bridged.harness is not None
    assert any("(bridged)" in pin.words for face in bridged.harness.plugs for pin in face.pins)


@pytest.mark.parametrize(
    ("pins", "words"),
    [
        ('{ number = "1", carries = "+", color = "YE" }, { number = "2", carries = "-", color = "BK" }', "is yellow"),
        (
            '{ number = "1", carries = "+", color = "VT" }, { number = "2", carries = "-", color = "BK" }, '
            '{ number = "3", carries = "side airbag sensor" }',
            "carries side airbag sensor",
        ),
    ],
)
def test_a_plug_that_may_be_an_airbags_is_a_stop(pins: str, words: str) -> None:
    result = assessed(BARE + plug(pins=pins))
    stops = [f for f in found(result, "wire.plug") if f.check.verdict == "stop"]
    assert stops
    said = stops[0].check.title
    assert words in said.template.format(**{name: value for name, value, _ in said.quantities})
    assert result.verdict == "stop"


def test_a_lead_that_is_short_at_the_new_height_names_its_adapter() -> None:
    (short,) = [f for f in found(demo(), "wire.reach") if f.check.verdict == "caution"]
    assert short.subject == "front-door.left"
    # 68.9 mm moved, 20 mm of slack: the triangle inequality's worst; an adapter with 50 mm at each end
    steps = {s.symbol: s.value for s in short.check.working}
    out = (steps["h"] or 0) - (steps["z1"] or 0) + (steps["z0"] or 0)
    assert short.check.value == pytest.approx((out**2 + (steps["r"] or 0) ** 2) ** 0.5 - 20)
    assert demo().harness is not None
    said = {w["id"]: w["length_m"] for w in harness_json(demo().harness)["wires"]}  # type: ignore[arg-type]
    assert said["front-door-left-plus"] == pytest.approx(0.1, abs=0.001)
    cuts = {wire_: length for cut in demo().harness.cuts for wire_, length in cut.cuts}  # type: ignore[union-attr]
    assert short.check.remedy is not None
    told = {name: value for name, value, _ in short.check.remedy.quantities}
    assert told["cut"] == pytest.approx(1e3 * cuts["front-door-left-plus"])  # finding and list say the same
    long = assessed(TEXT.replace('slack     = "20 mm"', 'slack     = "90 mm"'))
    assert not [f for f in found(long, "wire.reach") if f.check.verdict != "ok"]


# -- runs, boots, names ---------------------------------------------------------------------------------------------


def test_runs_take_length_and_size_from_the_job_and_ask_for_what_is_missing() -> None:
    made = demo().harness
    assert made is not None
    runs = {(r.subject, r.speaker): r for r in made.runs}
    door = runs["front-door.left", "demo-165"]
    assert door.cable is not None
    assert (door.cable.length_m, door.cable.size, door.there, door.cable.guessed) == (3.4, "1 mm2", True, False)
    # 3.4 m of 1 mm2 class 5 (IEC 60228: 19.5 mohm/m) out and back into 4 ohm: 20 lg 4/4.1326
    assert door.cable.loss_db == pytest.approx(-0.2833, abs=1e-3)
    bass = runs["under-seat", "demo-250"]
    assert bass.cable is not None
    # 250 W into 4 ohm is 7.9 A: the size has to stand it, not just to lose little
    assert all(t.ampacity_a >= (250 / 4) ** 0.5 for t in bass.cable.tried if t.size == bass.cable.size)
    asked = assessed(TEXT.replace('opening = "front-door"\nlength  = "3.4 m"', 'opening = "front-door"'))
    assert found(asked, "power.length", "front-door.left")
    assert any("speaker_cable front-door.left: length" in a.key for a in asked.assumed)
    thin = assessed(
        TEXT.replace(
            'box    = "under-seat"\nlength = "0.8 m"', 'box = "under-seat"\nlength = "0.8 m"\nsize = "0.5 mm2"'
        )
    )
    (check,) = [f for f in found(thin, "power.speaker-cable", "under-seat") if f.check.verdict == "caution"]
    assert check.check.remedy is not None


def test_new_wires_through_a_boot_and_none_where_the_vehicles_own_feed_the_plug() -> None:
    right = found(demo(), "wire.boot")
    assert {f.check.verdict for f in right} == {"ok"}  # factory wires go through already
    new = TEXT.replace("rows      = 2\nkeyed", 'rows      = 2\nwires     = "new"\nkeyed')
    tight = assessed(new.replace('bore    = "22 mm"', 'bore    = "12.5 mm"'))
    assert [f.check.verdict for f in found(tight, "wire.boot")] == ["caution", "caution"]
    tried = assessed(new.replace('bore    = "22 mm"', 'room    = 4\nbore    = "12.5 mm"'))
    assert {f.check.verdict for f in found(tried, "wire.boot")} == {"ok"}


def test_names_of_wires_stay_when_paths_and_wires_are_added() -> None:
    """A wire is called after the pin it feeds; what is added later renames nothing that was there."""
    before = demo().harness
    more = TEXT.replace(
        '{ source = "bass-amp", channel = "1"',
        '{ source = "amp", channel = "3", opening = "cargo-wall", speaker = "demo-165" },\n  { source = "bass-amp", channel = "1"',
    )
    after = assessed(
        more.replace(
            '[[plug]]\nid      = "dash-plug"',
            plug("early", "cargo-wall").lstrip() + '\n[[plug]]\nid      = "dash-plug"',
        )
    ).harness
    assert before is not None
    assert after is not None
    named = {(w.from_pin, w.to_pin): w.id for w in after.harness.wires}
    assert len(named) > len(before.harness.wires)
    assert all(named.get((w.from_pin, w.to_pin)) == w.id for w in before.harness.wires)


def test_a_record_of_a_wire_changes_that_wire_alone() -> None:
    bare = assessed(BARE).harness
    one = assessed(BARE + wire(id="mine", from_="amp.1+", to="crossover-left.in+", color="WH", size="2.5 mm2")).harness
    assert bare is not None
    assert one is not None
    was = {w.to_pin: w for w in bare.harness.wires}
    changed = [w.id for w in one.harness.wires if w != was[w.to_pin]]
    assert changed == ["mine"]
    with pytest.raises(JobError, match="no such size of cable"):
        assessed(BARE + wire(id="mine", from_="amp.1+", to="crossover-left.in+", size="9 mm2"))


# -- the factory's wires and system ---------------------------------------------------------------------------------


def test_pairs_say_no_more_than_their_readings_allow() -> None:
    record = demo().factory
    assert record is not None
    said = {p["id"]: p for p in factory_json(record)["pairs"]}
    assert (said["door-left"]["found"], said["door-left"]["plus"]) == (True, "first")
    assert said["door-left"]["coil_ohm"] == pytest.approx(3.7)  # less the meter's leads
    assert (said["dash-left"]["found"], said["dash-left"]["coil"]) == (False, "capacitor in line")
    assert said["dash-right"]["gate"]
    assert said["dash-right"]["plus"] is None
    assert [f.id for f in demo().findings if f.check.code == "wire.pair" and f.check.verdict != "ok"] == [
        "wire.pair.dash-right@dash.right"
    ]


def test_a_pair_and_a_plug_that_disagree_are_told() -> None:
    result = assessed(
        TEXT.replace(
            '{ number = "1", carries = "+", color = "GY/RD" }', '{ number = "1", carries = "+", color = "GY/BK" }'
        ).replace(
            '{ number = "2", carries = "-", color = "GY/BK" }', '{ number = "2", carries = "-", color = "GY/RD" }'
        )
    )
    (odd,) = [f for f in found(result, "wire.plug") if "says that plus is" in f.check.title.template]
    assert odd.subject == "front-door.left"


def test_the_factory_system_in_the_demo() -> None:
    ids = {f.id: f.check for f in demo().findings if f.subject == "factory"}
    # 8.2 V into 4.7 ohm (E6, IEC 60063, at or above 4 ohm): 14.3 W
    assert ids["wire.load-resistor.front-left@factory"].value == pytest.approx(8.2**2 / 4.7)
    assert ids["wire.bass-cut.front-left@factory"].value == pytest.approx(6.0, abs=0.1)
    assert ids["wire.turn-on@factory"].verdict == "caution"
    assert ids["wire.input.front-left level@factory"].verdict == "ok"
    grounded = assessed(TEXT.replace("differential = true", "differential = false"))
    stops = [f for f in found(grounded, "wire.input") if f.check.verdict == "stop"]
    assert stops  # a bridge-tied output at half the supply, on an input that grounds one leg


def test_gains_know_what_their_input_takes_and_where_the_volume_stands() -> None:
    made = demo().wires
    assert made is not None
    one = next(c for c in made.channels if c.id == "amp.1")
    # 75 W into 4 ohm is 17.3205 V, from 8.2 V: 20 lg (17.3205/8.2) = 6.495 dB
    assert one.target.gain_db == pytest.approx(6.495, abs=1e-3)
    assert (one.input_v, one.loudest_v, one.clean_at) == ((0.5, 10.0), 8.2, "volume 28")
    bare = assessed(BARE).wires
    assert bare is not None
    assert bare.channels[0].loudest_v is None
    assert "not written down yet" in bare.channels[0].input_words()[-1]


def test_a_bridged_amplifier() -> None:
    """Two channels into twice their load give the sum of their powers; each sees half the load."""
    text = TEXT.replace(
        'power        = "250 W into 4 ohm"\nlowest_load  = "2 ohm"',
        'power        = "2 x 75 W into 2 ohm"\nlowest_load  = "2 ohm"\nbridged      = true',
    )
    result = assessed(text)
    assert result.wires is not None
    one = next(c for c in result.wires.channels if c.id == "bass-amp.1")
    # 2 sqrt(75 x 2) = 24.5 V, 150 W into 4 ohm; each channel sees the 2 ohm it drives
    assert one.target.test_tone_v == pytest.approx(2 * (75 * 2) ** 0.5)
    assert one.target.power_w == pytest.approx(150)
    (check,) = found(result, "power.channel")
    assert (check.check.verdict, check.check.value) == ("ok", 2.0)
    low = assessed(text.replace('lowest_load  = "2 ohm"\nbridged', 'lowest_load  = "4 ohm"\nbridged'))
    assert [f.check.verdict for f in found(low, "power.channel")] == ["stop"]
