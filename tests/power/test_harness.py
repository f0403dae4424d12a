"""The harness: what is generated from paths, what a person's record does to it, and what the bench works from."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.notation.crossover import parse_branch
from backwave.notation.wires import parse_color
from backwave.power.harness import (
    BOOT_M,
    END_M,
    Harness,
    Lead,
    PathSpec,
    Plug,
    Wire,
    blocks_bass,
    cut_list,
    faces,
    labels,
    lead_reach,
    schedule,
)
from backwave.power.harness_build import harness_of

WOOFER = tuple(map(parse_branch, ("series L 0.39 mH 0.2 ohm", "shunt R 3.9 ohm + C 22 uF")))
TWEETER = tuple(map(parse_branch, ("series R 1.5 ohm", "series C 10 uF", "shunt L 0.27 mH 0.15 ohm")))
CAP = parse_branch("series C 4.7 uF")


def path(place: str = "front-door", side: Any = "left", channel: str = "1", **kinds: Any) -> PathSpec:
    return PathSpec("amp", channel, "demo-165", place, side, **kinds)


TWO_WAY = tuple(
    one
    for n, side in enumerate(("left", "right"))
    for one in (
        path(side=side, channel=str(n + 1), network=WOOFER, plug=Plug(f"door plug {side}"), boot=True, area_mm2=1.5),
        path("dash", side, str(n + 1), kind="tweeter", network=TWEETER, polarity=-1, area_mm2=1.5),
    )
)


def ways(harness: Harness) -> set[tuple[str, str]]:
    return {(w.from_pin, w.to_pin) for w in harness.wires}


def test_one_output_to_one_speaker() -> None:
    assert ways(harness_of((path(),))) == {("amp.1+", "front-door-left.+"), ("amp.1-", "front-door-left.-")}


def test_two_ways_on_one_output_share_a_crossover() -> None:
    made = ways(harness_of(TWO_WAY[:2]))
    # The names of the job file's own example: crossover-left.woofer+, front-door-left.+
    assert made == {
        ("amp.1+", "crossover-left.in+"),
        ("amp.1-", "crossover-left.in-"),
        ("crossover-left.woofer+", "door plug left.1 in"),
        ("crossover-left.woofer-", "door plug left.2 in"),
        ("door plug left.1 out", "front-door-left.+"),
        ("door plug left.2 out", "front-door-left.-"),
        ("crossover-left.tweeter+", "dash-left.-"),
        ("crossover-left.tweeter-", "dash-left.+"),
    }
    boot = [w for w in harness_of(TWO_WAY[:2]).wires if w.boot]
    assert {w.to_pin for w in boot} == {"door plug left.1 in", "door plug left.2 in"}


def test_a_capacitor_alone_is_a_part_in_line_behind_a_splice() -> None:
    made = ways(harness_of((path(), path("dash", kind="tweeter", network=(CAP,)))))
    assert {("splice amp 1+.3", "part dash-left.in"), ("part dash-left.out", "dash-left.+")} <= made
    assert {("amp.1+", "splice amp 1+.1"), ("splice amp 1-.2", "front-door-left.-")} <= made


def test_a_plug_before_the_passive_parts_feeds_the_box() -> None:
    plug = Plug("radio plug", "7", "8", before=True, contacts=8, rows=2)
    made = ways(harness_of((path(network=WOOFER, plug=plug), path("dash", kind="tweeter", network=TWEETER))))
    assert {("amp.1+", "radio plug.7 in"), ("radio plug.7 out", "crossover-left.in+")} <= made
    assert not any("radio plug" in end for end, _ in made if end.startswith("crossover"))


def test_a_plug_before_and_one_behind_the_same_box_both_stay() -> None:
    first = path(network=WOOFER, plug=Plug("radio plug", before=True))
    last = path("dash", kind="tweeter", network=TWEETER, plug=Plug("dash plug"))
    made = ways(harness_of((first, last)))
    assert ("radio plug.1 out", "crossover-left.in+") in made
    assert ("dash plug.1 out", "dash-left.+") in made


def test_what_hides_in_a_plug_is_in_its_route() -> None:
    harness = harness_of((path("dash", kind="tweeter", plug=Plug("dash plug", carries=CAP)),))
    (route,) = harness.routes
    assert route.plus == ("dash plug.1",)
    assert route.blocks == {"dash plug.1"}


@pytest.mark.parametrize(
    ("text", "blocks"),
    [
        ("series C 10 uF", True),
        ("series R 1 ohm + C 10 uF", True),
        ("series C 10 uF | R 100 ohm", False),  # what lies beside a capacitor passes bass
        ("series C 10 uF | C 1 uF", True),
        ("shunt C 10 uF", False),
        ("series L 1 mH", False),
    ],
)
def test_what_blocks_direct_current(text: str, blocks: bool) -> None:
    # Against the impedance itself: a branch blocks when it goes to infinity as frequency goes to nothing.
    from backwave.notation.crossover import impedance

    branch = parse_branch(text)
    assert blocks_bass(branch) is blocks
    if branch.place == "series":
        assert bool(abs(impedance(branch.what, [1e-6])[0]) > 1e6) is blocks


def test_a_record_lends_id_color_and_length_whichever_way_round() -> None:
    given_wires = (Wire("door-1", "front-door-left.+", "amp.1+", parse_color("GY/RD"), 1.2),)
    harness = harness_of((path(),), given_wires)
    assert [(w.id, w.from_pin, str(w.color or ""), w.length_m) for w in harness.wires] == [
        ("door-1", "amp.1+", "GY/RD", 1.2),
        ("front-door-left-minus", "amp.1-", "", 1.2),  # a pair runs together
    ]


def test_a_record_outranks_what_was_generated() -> None:
    wires = (Wire("a", "amp.1+", "front-door-left.-"), Wire("b", "amp.1-", "front-door-left.+"))
    assert ways(harness_of((path(),), wires)) == {("amp.1+", "front-door-left.-"), ("amp.1-", "front-door-left.+")}


def test_ids_of_records_are_not_given_out_again() -> None:
    harness = harness_of(TWO_WAY, (Wire("w3", "crossover-left.tweeter+", "dash-left.-"),))
    ids = [w.id for w in harness.wires]
    assert len(set(ids)) == len(ids)


def test_unknown_pins_are_all_named_with_the_nearest() -> None:
    wires = (Wire("w1", "amp.1+", "front-dor-left.+"), Wire("w2", "amp.9-", "front-door-left.-"))
    with pytest.raises(InputError) as error:
        harness_of((path(),), wires)
    text = str(error.value)
    assert "front-dor-left.+ (nearest: front-door-left.+" in text
    assert "amp.9-" in text


@pytest.mark.parametrize(
    "make",
    [
        lambda: Wire("w", "a.+", "a.+"),
        lambda: Wire("w", "a.+", "b.+", parse_color("grue")),
        lambda: Wire("w", "a.+", "b.+", length_m=0),
        lambda: Wire("w", "a.+", "b.+", fuse_a=float("nan")),
        lambda: Plug("p", "1", "1"),
        lambda: Plug("p", rows=3),
        lambda: Plug("p", carries=parse_branch("shunt C 1 uF")),
        lambda: harness_of((path(network=(parse_branch("series Q 3"),)),)),
        lambda: harness_of((path(plug=Plug("p")), path(side="right", channel="2", plug=Plug("p")))),
        lambda: harness_of((path(network=WOOFER, plug=Plug("p", before=True)), path("dash", network=TWEETER, plug=Plug("q", before=True)))),
        lambda: harness_of((path(),), (Wire("x", "amp.1+", "front-door-left.+"), Wire("x", "amp.1-", "front-door-left.-"))),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(make: Any) -> None:
    with pytest.raises(InputError):
        make()


def test_speakers_of_one_opening_have_names_of_their_own() -> None:
    same = (path(kind="woofer"), path(kind="tweeter", network=(CAP,)), path(kind="woofer"))
    ids = [r.speaker for r in harness_of(same).routes]
    assert ids == ["front-door-left", "front-door-left-tweeter", "front-door-left-woofer"]


LEADS = (
    Lead("block", "amp", "amp", "supply", 0.4, 10, 50, 90, parse_color("RD")),
    Lead("amp", "ground", "body", "amp", 0.4, 10, color=parse_color("BK")),
)


def test_the_schedule_says_what_was_guessed() -> None:
    rows = schedule(
        harness_of(TWO_WAY, (Wire("long", "amp.1+", "crossover-left.in+", parse_color("gray/red"), 3.2),), LEADS)
    )
    assert len(rows) == 18
    by_id = {row.id: row for row in rows}
    assert (by_id["long"].color, by_id["long"].length_m, by_id["long"].guessed) == ("GY/RD", 3.2, False)
    assert by_id["long"].length_m == by_id["crossover-left-in-minus"].length_m
    assert by_id["dash-left-plus"].guessed
    assert next(r for r in rows if r.fuse_a).fuse_a == 50


def test_the_cut_list_adds_up() -> None:
    harness = harness_of(TWO_WAY, (), LEADS)
    rows = cut_list(harness)
    assert rows[0].area_mm2 == 10
    assert sorted(i for row in rows for i, _ in row.cuts) == sorted(w.id for w in harness.wires)
    # By hand: 5 m taken for each of sixteen signal wires, 0.4 m for two leads; 50 mm an end; four through a boot.
    assert sum(r.total_m for r in rows) == pytest.approx(16 * 5 + 2 * 0.4 + 18 * 2 * END_M + 4 * BOOT_M)
    assert all(row.guessed == (row.area_mm2 == 1.5) for row in rows)
    with pytest.raises(InputError):
        cut_list(harness, -0.1)


def test_labels_at_both_ends() -> None:
    harness = harness_of(TWO_WAY)
    rows = labels(harness)
    assert len(rows) == 2 * len(harness.wires)
    assert {(r.here, r.there) for r in rows} == {(r.there, r.here) for r in rows}


def test_faces_tell_what_each_contact_carries() -> None:
    plug = Plug("door plug", "3", "5", carries=CAP, contacts=6, rows=2)
    wires = (Wire("in", "amp.1+", "door plug.3 in", parse_color("VT")),)
    (face,) = faces(harness_of((path("dash", kind="tweeter", plug=plug),), wires))
    assert (face.contacts, face.rows) == (6, 2)
    plus, minus = face.used
    assert (plus.number, plus.carries, plus.wire_in, plus.color_in) == ("3", "amp 1 +", "in", "VT")
    assert (plus.hides, minus.number, minus.hides) == ("series C 4.7 uF", "5", "")


@pytest.mark.parametrize("change", [{"contacts": 10**9}, {"plus": "999999999"}, {"minus": "4" * 90}])
def test_a_plug_of_a_billion_contacts_is_refused_before_it_is_drawn(change: dict[str, Any]) -> None:
    with pytest.raises(InputError, match="up to 1000"):
        replace(Plug("door plug", "3", "5", contacts=6, rows=2), **change)


def test_a_lead_at_the_new_thickness() -> None:
    # PRACTICE: 40 mm short at the new thickness; a 3-4-5 triangle by hand.
    reach = lead_reach(0.30, 40)
    assert (reach.needed_m, reach.short_m) == (pytest.approx(0.34), pytest.approx(0.04))
    assert reach.adapter_m == pytest.approx(0.04 + 2 * END_M)
    assert lead_reach(0.30, 30, 40, slack_mm=10).short_m == pytest.approx(0.04)
    assert lead_reach(0.30, 30, 40, slack_mm=50).adapter_m == 0
    assert lead_reach(0.30, 0.0, 5.8e301).short_m == pytest.approx(5.8e298)  # no square of it
    for wrong in ((0, 40, 0, 0), (0.3, float("nan"), 0, 0), (0.3, 40, 0, -1), (0.3, 1.7e308, 1.7e308, 0)):
        with pytest.raises(InputError):
            lead_reach(*wrong)


@given(
    st.tuples(*[st.floats(-0.3, 0.3)] * 3),
    st.tuples(*[st.floats(-0.3, 0.3)] * 3),
    st.tuples(*[st.floats(-0.3, 0.3)] * 3),
)
def test_no_lead_that_reaches_by_the_rule_is_short(plug: Any, old: Any, new: Any) -> None:
    """Wherever the plug sits, a taut lead made longer by the rule reaches (triangle inequality)."""

    def apart(a: Any, b: Any) -> float:
        return float(sum((x - y) ** 2 for x, y in zip(a, b)) ** 0.5)

    lead = apart(plug, old)
    if lead < 1e-6:
        return
    across = apart(old[:2], new[:2]) * 1e3
    assert lead_reach(lead, (new[2] - old[2]) * 1e3, across).needed_m >= apart(plug, new) - 1e-9


@given(st.permutations(range(4)))
def test_the_order_of_paths_changes_names_of_wires_only(order: list[int]) -> None:
    assert ways(harness_of([TWO_WAY[n] for n in order])) == ways(harness_of(TWO_WAY))


def test_a_harness_refuses_pins_that_are_none() -> None:
    made = harness_of((path(),))
    with pytest.raises(InputError):
        replace(made, wires=(*made.wires, Wire("x", "amp.1+", "nowhere.+")))
