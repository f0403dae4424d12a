"""What a finding says would do is entered as a person would, and does: what it does not name, no other number helps."""

from __future__ import annotations

from dataclasses import replace

from assess.unmountable import Edit, edited, fixings, metal

from backwave.assess import Assessment, Memo, assess
from backwave.assess.next_steps import next_steps
from backwave.assess.place_result import Remedy
from backwave.finding import Check, Message, words
from backwave.fit import judge
from backwave.job import loads

MEMO = Memo()
MASS = 'mass      = "1.15 kg"\n'


def judged(edits: tuple[Edit, ...]) -> Assessment:
    return assess(loads(edited(edits)), MEMO, draws=2_000)


def check(edits: tuple[Edit, ...], name: str) -> Check:
    return next(f.check for f in judged(edits).findings if f.check.name == name)


def told(found: Check) -> dict[str, float]:
    assert found.remedy is not None
    return {name: value for name, value, _ in found.remedy.quantities if not isinstance(value, str)}


def test_the_mass_that_is_said_to_hold_holds_and_a_little_more_does_not() -> None:
    most = told(check(((MASS, ""),), "fit.fixing.mass"))
    for name, kg in (("fit.hold", most["own"]), ("fit.fixing", most["most"])):
        for more, verdict in ((0.0, "ok"), (0.03, "caution")):
            assert check(((MASS, f'mass = "{kg + more:.2f} kg"\n'),), name).verdict == verdict, (name, kg + more)


def stud(stands: str) -> tuple[Edit, ...]:
    return fixings(87.0, "stud", f', stands = "{stands}"')


def test_studs_are_cut_to_what_is_said_and_a_thicker_part_is_offered_only_where_it_helps() -> None:
    long = check(stud("40 mm"), "fit.screw.metal")
    assert long.verdict == "stop"
    assert "thick" not in (words(long.remedy) or "")  # 20 mm more would stop the driver at the grille
    assert check(stud(f"{told(long)['high']:g} mm"), "fit.screw.metal").verdict == "ok"


def test_what_may_stand_behind_the_metal_is_said_and_no_screw_is_offered_that_there_is_none_of() -> None:
    result = judged(metal(87.0, 11.0))
    found = {f.check.name: f.check for f in result.findings}
    tail, again = found["fit.screw-tails.metal"], found["fit.read-again"]
    said = told(tail)
    assert said["tail"] == 9.0  # a rivet nut M5, whatever screw is in it
    (place,) = result.places

    def with_tail(mm: float) -> str:
        tails = tuple(replace(t, length=replace(t.length, value=mm)) for t in place.screws.tails("door"))
        fit = judge(place.opening, place.driver, place.stack, place.margins, tails=tails)
        return next(c.verdict for c in fit.checks if c.name == "fit.screw-tails.metal")

    assert (with_tail(said["most"]), with_tail(said["most"] + 0.2)) == ("ok", "caution")
    # The advice is no step of its own: it is answered where the screw's end is.
    assert [id_.partition("@")[0] for id_ in again.waits] == ["fit.screw-tails.metal"]
    assert "screw tails to metal" in words(again.title)
    assert not [step for step in next_steps(result.findings, {}, {}) if words(step.do) == "Enter it"]
    none = next(f.check for f in judged(metal(87.0, 3.0)).findings if f.check.code == "fit.screw-tails")
    assert "nothing may stand behind the metal" in (words(none.remedy) or "")


def test_the_piston_area_is_asked_for_where_the_cone_clears_the_flat_by_it() -> None:
    flat = ('land = "32 mm", grille = "150 mm"', 'land = "24 mm", inner = "140 mm"')
    no_ring, no_sd = ('ring = "auto"', 'ring = "none"'), (', Sd = "133 cm2"', "")
    asked = check((flat, no_ring, no_sd), "fit.flat.moving")
    assert (asked.verdict, asked.key) == ("caution", "speaker.demo-165.motor.Sd")
    assert "piston area" in (words(asked.remedy) or "")
    known = {f.check.name: f.check for f in judged((flat, no_ring)).findings}  # 133 cm2: a radius of 65 mm
    assert "fit.flat.moving" not in known or known["fit.flat.moving"].verdict == "ok"


def test_a_gasket_wider_than_there_is_room_for_is_said_with_what_it_gets() -> None:
    for width, said in ((6, False), (80, True)):
        flat = ("grooved = true, ", f'closed = "1.5 mm", back_width = "{width} mm", ')
        result = judged((flat,))
        whys = [f"{a}" for a in result.assumed if "no room for the width" in f"{a}"]
        assert bool(whys) == said, width


def test_a_change_for_a_load_says_what_is_allowed_then() -> None:
    one = Remedy("thickness", "17.6 mm", Message("make it thicker"), ("fit.hold",), ((220.0, "N", False),), 0)
    assert words(one.words(1, "fit.hold")) == "make it thicker: 220 N allowed then"
