"""What is measured on cable against densities and resistivities of the metals, and what that changes in the job."""

from __future__ import annotations

from pathlib import Path

import pytest

from backwave.assess import Memo, wires_json
from backwave.assess.power.supply import wires_of
from backwave.errors import JobError
from backwave.finding import Ledger
from backwave.job import loads
from backwave.power import Supply
from backwave.power.hand_over import CableReading, judge_cable, supply_checks

TEXT = (Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job/job.toml").read_text(encoding="utf-8")
# g/cm3 and ohm mm2/m: copper IEC 60028; copper-clad aluminum of 10 % copper by volume: 0.1 x 8.89 + 0.9 x 2.70 = 3.32,
# and two conductors side by side: 1/(0.1 x 58 + 0.9 x 35.4) = 0.0266 (aluminum IEC 60889: 0.028264)
COPPER, CLAD = (8.89, 1 / 58), (3.32, 1 / (0.1 * 58 + 0.9 / 0.028264))
JOINTS = 2 * 0.5e-3


def reading(metal: tuple[float, float], area_mm2: float, size: str = "16 mm2", length_m: float = 5.0) -> CableReading:
    """A meter of strand, and 10 A through the run at 35 degC, of a metal and an area."""
    density, rho = metal
    ohm = rho / area_mm2 * length_m * (1 + 0.00393 * 15) + JOINTS
    return CableReading(size, length_m, "copper", "feed", 1.0, density * area_mm2 * 1e-3, 10.0, 10 * ohm)


def test_copper_of_its_size_is_ok() -> None:
    for area in (15.2, 16.0, 16.5):
        found = judge_cable(reading(COPPER, area))
        assert {c.verdict for c in found.checks} == {"ok"}
        assert found.mohm_m is None
        assert found.metal == "copper"
        assert found.copper_mm2 == pytest.approx(area)


def test_clad_aluminum_of_full_size_shows_by_either_and_is_named() -> None:
    found = judge_cable(reading(CLAD, 16.0))
    assert [c.verdict for c in found.checks] == ["caution", "caution"]
    assert found.metal == "copper-clad aluminum"
    # a meter of it has 1000 x 0.0266/16 = 1.66 mohm
    assert found.mohm_m == pytest.approx(1e3 * CLAD[1] / 16, rel=0.02)
    light = judge_cable(CableReading("16 mm2", 5.0, "copper", "feed", 1.0, CLAD[0] * 16e-3))
    assert light.metal == "copper-clad aluminum"
    assert light.mohm_m == pytest.approx(1e3 * CLAD[1] / 16, rel=0.2)


def test_undersized_copper_shows_and_is_not_called_aluminum() -> None:
    found = judge_cable(reading(COPPER, 9.0))
    assert [c.verdict for c in found.checks] == ["caution", "caution"]
    assert found.metal == "copper"
    assert found.mohm_m == pytest.approx(1e3 / 58 / 9, rel=0.02)


def test_joints_are_not_taken_for_the_cable() -> None:
    # 0.4 m of 25 mm2 is 0.31 mohm, its two good joints 1 mohm; a joint of 5 mohm is said, the cable stays what it is
    good = judge_cable(CableReading("25 mm2", 0.4, current_a=20, drop_v=20 * (0.31e-3 + JOINTS)))
    bad = judge_cable(CableReading("25 mm2", 0.4, current_a=20, drop_v=20 * (0.31e-3 + JOINTS + 5e-3)))
    assert [good.checks[0].verdict, bad.checks[0].verdict] == ["ok", "caution"]
    assert bad.mohm_m is None


def test_a_ground_path_with_paint_under_it_shows() -> None:
    for ohm, verdict in ((3e-3, "ok"), (30e-3, "caution")):
        path = CableReading("25 mm2", 0.4, part="path", current_a=20, drop_v=20 * ohm)
        assert judge_cable(path).checks[0].verdict == verdict


def test_the_finished_supply() -> None:
    def verdicts(*read: float | bool | None) -> list[str]:
        return [c.verdict for c in supply_checks(Supply(), *read)]  # type: ignore[arg-type]

    assert verdicts(12.6, 14.2, True) == ["ok", "ok", "ok"]
    assert verdicts(11.9, 15.8, None) == ["caution", "caution", "caution"]
    assert [c.verdict for c in supply_checks(Supply(system=24), 25.3, 28.2, True)] == ["ok", "ok", "ok"]


def test_what_was_measured_takes_the_place_of_the_table_in_the_job() -> None:
    # the block's 35 mm2 weighs and conducts like 6 mm2 of copper: 80 A of fuse are too much for that
    ohm = 4.2 / 58 / 6 * 1.06 + JOINTS
    test = f'\n[[cable_test]]\nid = "t"\nrun = "block"\nstrand_length = "1 m"\nstrand_mass = "53 g"\ncurrent = "10 A"\ndrop = "{10 * ohm:.5f} V"\n[supply_test]\nrest = "12.7 V"\n'
    plain, tested = (wires_of(loads(text), Ledger(), Memo()) for text in (TEXT, TEXT + test))
    assert plain is not None
    assert tested is not None
    before, after = (next(c for c in wires_json(made)["cables"] if c["id"] == "block") for made in (plain, tested))
    assert after["designed"]["size"] == before["size"]
    assert after["drop_v"] > 3 * before["drop_v"]
    assert after["protection"]["rating_degc"] > before["protection"]["rating_degc"] + 30
    found = {f.id: f.check.verdict for f in tested.findings}
    assert found["power.cable-test.feed-mass@block"] == "caution"
    assert found["power.protection@block"] == "stop"
    assert found["power.supply-test.main-fuse@vehicle"] == "caution"


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ('[[cable_test]]\nid = "t"\nrun = "blok"\ncurrent = "10 A"\ndrop = "0.1 V"\n', "no distribution or load of that id"),
        ('[[cable_test]]\nid = "t"\nrun = "block"\ncurrent = "10 A"\n', "both current and drop"),
    ],
)  # fmt: skip
def test_a_test_that_cannot_be_is_refused(table: str, words: str) -> None:
    with pytest.raises(JobError, match=words):
        loads(TEXT + "\n" + table)
