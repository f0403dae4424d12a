"""Factory plugs: contacts, colors and lengths in, the harness's plug and what is found of its lead out."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from assess.tables import table_job, the_places

from backwave.assess.inputs.factory import KeptPlug, area_of, plug_at, plug_checks
from backwave.finding import Ledger
from backwave.fit import Stack
from backwave.job import Job
from backwave.notation.crossover import Branch, CrossoverPart
from backwave.notation.wires import WireColor
from backwave.uncertainty import exact

PINS = [{"number": "3", "carries": "+", "color": "GY/RD"}, {"number": "5", "carries": "-", "color": "brown"}]


def plug(**keys: Any) -> dict[str, Any]:
    return {"id": "p", "opening": "door", "pin": PINS, **keys}


def job_of(*plugs: dict[str, Any]) -> Job:
    return table_job(opening=[{"id": "door", "sides": ["left", "right"]}], plug=list(plugs))


def kept(
    job: Job, side: str = "left", before: bool = False, fit: Any = None, ledger: Ledger | None = None
) -> KeptPlug | None:
    return plug_at(job, the_places(job)[f"door.{side}"], before, fit, "woofer", ledger or Ledger())


def made(*args: Any, **more: Any) -> KeptPlug:
    found = kept(*args, **more)
    assert found is not None
    return found


def test_contacts_colors_and_size_are_the_harnesss() -> None:
    ledger = Ledger()
    one = made(job_of(plug(size="0.75 mm2", rows=2, keyed="a rib")), ledger=ledger).plug
    assert (one.id, one.plus, one.minus, one.contacts, one.rows) == ("p-left", "3", "5", 5, 2)
    assert (one.color_plus, one.color_minus) == (WireColor("GY", "RD"), WireColor("BN"))
    assert (one.area_mm2, one.there, one.before, one.carries) == (0.75, True, False, None)
    assert (one.adapter_m, one.words) == (0.1, "keyed: a rib")
    assert {key: (a.value, a.unit) for key, a in ledger.assumed.items()} == {"plug.p: adapter": (100.0, "mm")}
    assert not made(job_of(plug(wires="new"))).plug.there


def test_the_one_that_names_its_side_goes_before_the_one_for_each() -> None:
    job = job_of(plug(), plug(id="q", side="right", pin=[PINS[0] | {"number": "1"}, PINS[1] | {"number": "2"}]))
    left, right = made(job, "left").plug, made(job, "right").plug
    assert (left.id, left.plus) == ("p-left", "3")
    assert (right.id, right.plus) == ("q", "1")
    assert kept(job, "left", before=True) is None
    entry = made(job_of(plug(before=True)), before=True).plug
    assert (entry.before, entry.adapter_m) == (True, None)


def test_a_plug_may_serve_several_by_what_its_pins_say() -> None:
    pins = [{**pin, "opening": "door", "side": "left"} for pin in PINS]
    pins += [{"number": n, "carries": c, "opening": "door", "side": "right"} for n, c in (("7", "+"), ("8", "-"))]
    job = job_of({"id": "radio", "pin": pins})
    assert [(made(job, side).plug.plus, made(job, side).plug.minus) for side in ("left", "right")] == [("3", "5"), ("7", "8")]  # fmt: skip


def test_what_hides_in_it_is_a_branch_in_its_leg_unless_it_is_bridged() -> None:
    hiding = [PINS[0], PINS[1] | {"hides": "series C 4.7 uF"}]
    one = made(job_of(plug(pin=hiding))).plug
    assert (one.carries, one.at, one.hidden) == (Branch("series", CrossoverPart("C", pytest.approx(4.7e-6))), "-", "5")  # type: ignore[arg-type]
    bridged = made(job_of(plug(pin=[PINS[0], hiding[1] | {"bridged": True}]))).plug
    assert (bridged.carries, bridged.hidden, bridged.words) == (None, "", "C 4.7 uF in it is bridged")


def fitted(stack_mm: float, depth_mm: float, radius_mm: float, turned_deg: float | None = None) -> Any:
    """A new driver as it sits: its rim so far off the metal, its terminals there."""
    stack = Stack(exact("gasket", 0.0), exact("thickness", stack_mm), exact("recess", 0.0), exact("driver", 0.0))
    terminals = SimpleNamespace(depth=exact("depth", depth_mm), radius=exact("radius", radius_mm))
    turned = None if turned_deg is None else SimpleNamespace(terminals_deg=turned_deg)
    return SimpleNamespace(driver=SimpleNamespace(terminals=terminals), stack=stack, clocking=turned)


def lead(**terminals: str) -> dict[str, Any]:
    return plug(lead="300 mm", terminals={"depth": "30 mm", "radius": "40 mm", **terminals})


def test_terminals_that_move_make_a_lead_short_by_pythagoras() -> None:
    # out of the metal by 90 - 80 + 30 = 40 mm, across by nothing: the old at 90 degrees and 40 mm, the new there too
    straight = made(job_of(lead(angle="90 deg")), fit=fitted(90, 80, 40, 90.0))
    (check,) = straight.checks
    assert (check.code, check.verdict, check.value) == ("wire.reach", "caution", pytest.approx(40.0))
    # opposite of each other, 40 + 40 mm across at the worst where nobody said: sqrt(60^2 + 80^2) = 100
    (worst,) = made(job_of(lead()), fit=fitted(110, 80, 40)).checks
    assert worst.value == pytest.approx(100.0)
    (slack,) = made(job_of(lead() | {"slack": "25 mm"}), fit=fitted(110, 80, 40)).checks
    assert slack.value == pytest.approx(75.0)
    (enough,) = made(job_of(lead() | {"slack": "120 mm"}), fit=fitted(110, 80, 40)).checks
    assert (enough.verdict, enough.value) == ("ok", 0.0)


def test_an_angle_is_mirrored_with_its_side() -> None:
    job = job_of(lead(angle="0 deg"))
    (left,) = made(job, "left", fit=fitted(60, 60, 40, 0.0)).checks
    (right,) = made(job, "right", fit=fitted(60, 60, 40, 0.0)).checks
    assert left.value == pytest.approx(30.0)  # straight out
    assert right.value == pytest.approx((30**2 + 80**2) ** 0.5)  # the old ones sat on the other side of the axis


def test_a_short_lead_makes_the_adapter_longer_and_nothing_is_taken_for_it() -> None:
    ledger = Ledger()
    one = made(job_of(lead(radius="100 mm")), fit=fitted(110, 80, 60), ledger=ledger)
    assert one.plug.adapter_m == pytest.approx((60**2 + 160**2) ** 0.5 / 1e3)
    assert not ledger.assumed


def test_where_nobody_measured_the_old_terminals_radius_one_is_taken_and_noted() -> None:
    ledger = Ledger()
    (check,) = made(
        job_of(plug(lead="300 mm", terminals={"depth": "30 mm"})), fit=fitted(80, 80, 0), ledger=ledger
    ).checks
    assert check.value == pytest.approx((30**2 + 60**2) ** 0.5)
    noted = ledger.assumed["plug.p.terminals.radius"]
    assert (noted.value, noted.unit) == (60.0, "mm")


def test_what_nobody_measured_of_a_lead_is_asked_for() -> None:
    (check,) = made(job_of(plug(lead="300 mm")), fit=fitted(60, 60, 40)).checks
    assert check.verdict == "caution"
    assert "where the factory terminals sat" in str(check.title.quantities)
    assert made(job_of(plug())).checks == ()  # nobody fits a new driver there


@pytest.mark.parametrize(
    ("pins", "verdict", "part"),
    [
        (PINS, "ok", "p"),
        ([PINS[0] | {"color": "YE"}, PINS[1]], "stop", "p-yellow"),
        ([PINS[0] | {"color": "YE/BK"}, PINS[1]], "stop", "p-yellow"),
        ([*PINS, {"number": "9", "carries": "Seat BELT tensioner"}], "stop", "p-safety"),
        ([*PINS, {"number": "9", "carries": "Gurtstraffer"}], "stop", "p-safety"),
        ([*PINS, {"number": "9", "carries": "prétensionneur"}], "stop", "p-safety"),
        ([*PINS, {"number": "9", "carries": "HV interlock"}], "stop", "p-safety"),
        ([*PINS, {"number": "9", "carries": "buckle switch"}], "caution", "p-safety"),
        ([*PINS, {"number": "9", "carries": "SIR"}], "stop", "p-safety"),
        ([*PINS, {"number": "9", "carries": "seat occupancy mat"}], "stop", "p-safety"),
        ([*PINS, {"number": "9", "carries": "cuscino"}], "stop", "p-safety"),
        ([*PINS, {"number": "9", "carries": "A-I-R-B-A-G"}], "stop", "p-safety"),
        ([*PINS, {"number": "9", "carries": "S.R.S. left"}], "stop", "p-safety"),
        ([*PINS, {"number": "9", "carries": "siren"}], "ok", "p"),
        ([*PINS, {"number": "9", "color": "YE"}], "caution", "p-beside-yellow"),
        ([*PINS, {"number": "9", "carries": "lock", "color": "OG"}], "caution", "p-beside-orange"),
        ([*PINS, {"number": "9", "carries": "lock", "color": "GNYE"}], "caution", "p-beside-yellow"),
        ([*PINS, {"number": "9", "carries": "lock", "color": "GY/YE"}], "ok", "p"),
        ([PINS[0] | {"color": "GNYE"}, PINS[1]], "caution", "p-yellow"),
        ([PINS[0] | {"color": "OG"}, PINS[1]], "stop", "p-orange"),
        ([PINS[0] | {"color": "GY/YE"}, PINS[1]], "caution", "p-yellow"),
        (
            [PINS[0] | {"color": "GY/RD"}, PINS[1] | {"color": "GY/RD"}],
            "caution",
            "p-same-" + "-".join(p["number"] for p in PINS),
        ),
        ([*PINS, {"number": "9", "carries": "light in the door's edge"}], "ok", "p"),
        ([PINS[0], {"number": "5", "carries": "-"}], "caution", "p"),
        ([], "caution", "p"),
    ],
)
def test_what_the_contacts_say_by_themselves(pins: list[dict[str, str]], verdict: str, part: str) -> None:
    (check,) = plug_checks(job_of(plug(pin=pins)))
    assert (check.code, check.verdict, check.part) == ("wire.plug", verdict, part)


def test_sides_that_differ_are_said() -> None:
    turned = [PINS[0] | {"number": "5"}, PINS[1] | {"number": "3"}]
    checks = plug_checks(job_of(plug(side="left"), plug(id="q", side="right", pin=turned)))
    assert [c.part for c in checks if c.verdict == "caution"] == ["door-sides"]


def test_a_size_by_its_name() -> None:
    assert area_of("") is None
    assert area_of("AWG 16") == pytest.approx(1.309, abs=1e-3)  # ASTM B258
    # what nobody sells is refused when the file is read, with its line
    with pytest.raises(ValueError, match="no such size of cable"):
        job_of(plug(size="16"))
