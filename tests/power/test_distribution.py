"""Distribution: shape, coordination of cable and fuse, and voltages against the network room."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backwave.errors import InputError
from backwave.network import Network
from backwave.power import CableRun, Supply, SupplyBranch, SupplyLoad, peak_voltage, supply_tree
from backwave.power.distribution import JOINT_OHM, Peak
from backwave.power.types import SupplyTree

VAN = Supply(12.6, 60, 0.008, 90, 45, 32)
HOT = CableRun(4.0, 0.5, insulation_degc=105, ambient_degc=60)
FOUR = SupplyLoad("four", 60, 4, 4)
SUB = SupplyLoad("sub", 300, 1, 2, fuses_a=(40,))
BRANCHES = (
    SupplyBranch("four", replace(HOT, length_m=0.6), FOUR, "main"),
    SupplyBranch("main", HOT),
    SupplyBranch("sub", replace(HOT, length_m=1.0), SUB, "main"),
    SupplyBranch("fan", replace(HOT, length_m=0.8), SupplyLoad("fan", current_a=1.5), "main"),
)


def random_tree(rng: np.random.Generator) -> list[SupplyBranch]:
    """A few levels of distribution with loads at the ends."""
    branches: list[SupplyBranch] = []

    def run() -> CableRun:
        return CableRun(rng.uniform(0.2, 3), 0.5, insulation_degc=105, ambient_degc=rng.uniform(20, 60))

    def grow(parent: str, depth: int) -> None:
        for _ in range(int(rng.integers(1, 4))):
            name = f"b{len(branches)}"
            if depth < 2 and rng.random() < 0.35:
                branches.append(SupplyBranch(name, run(), None, parent))
                grow(name, depth + 1)
            else:
                load = SupplyLoad(
                    name, rng.uniform(5, 60), int(rng.integers(1, 5)), 4, klass=str(rng.choice(["D", "AB"]))
                )  # type: ignore[arg-type]
                branches.append(SupplyBranch(name, run(), load, parent))

    grow("", 0)
    return branches


def test_the_sums_and_the_steps() -> None:
    tree = supply_tree(BRANCHES, VAN)
    assert [n.id for n in tree.nodes] == ["main", "four", "sub", "fan"]
    main, sub, fan = tree.node("main"), tree.node("sub"), tree.node("fan")
    assert main.fuse.continuous_a == pytest.approx(240 / 0.85 / 14.4 + 300 / 0.85 / 14.4 + 1.5)
    assert (main.depth, main.fitted, main.prospective_a) == (0, True, pytest.approx(12.8 / 0.008 + 90))
    assert main.fuse.style == "strip"
    assert sub.fuse.rating_a is not None
    assert sub.fuse.rating_a >= 40
    # A full battery rests at 12.8 V (2.13 V a cell), and the alternator adds its 90 A.
    # The cable to the distribution point lowers what a short draws there.
    assert main.cable.cold_ohm is not None
    assert sub.prospective_a == pytest.approx(12.8 / (0.008 + main.cable.cold_ohm) + 90)
    # A thin cable behind a big fuse needs its own.
    assert fan.fitted
    assert fan.cable.ampacity_a is not None
    assert main.fuse.rating_a is not None
    assert fan.cable.ampacity_a < main.fuse.rating_a


def test_what_was_taken_is_listed() -> None:
    keys = {a.key for a in supply_tree(BRANCHES, Supply()).assumed}
    assert keys >= {"battery.voltage", "battery.resistance", "running voltage", "drop", "four.efficiency", "four.crest"}
    # A battery of unknown resistance is taken on the low side: 12.8 V/5 mohm; strip fuses are advised for it all the same.
    main = supply_tree(BRANCHES, Supply()).node("main")
    assert main.prospective_a == pytest.approx(2560)
    assert main.fuse.style == "strip"


def way_of(tree: SupplyTree, branches: list[SupplyBranch], id_: str) -> list[str]:
    """Ids from the battery to a branch, by the branches alone."""
    found = [id_]
    while parent := next(b.parent for b in branches if b.id == found[-1]):
        found.append(parent)
    return found


def test_random_trees_are_coordinated() -> None:
    rng = np.random.default_rng(11)
    checked = spared = 0
    for _ in range(60):
        branches = random_tree(rng)
        tree = supply_tree(branches, VAN)
        assert len(tree.nodes) == len(branches)
        for node in tree.nodes:
            if node.cable.area_mm2 is None or node.fuse.rating_a is None:
                continue
            assert node.cable.ampacity_a is not None
            assert node.fuse.breaking_a >= node.prospective_a
            # The least fuse that is fitted on the way from the battery; one that is "not needed" is none.
            fitted = [n.fuse.rating_a for n in map(tree.node, way_of(tree, branches, node.id)) if n.fitted]
            least = min(rating for rating in fitted if rating is not None)
            if "fuse" not in {f for t in node.cable.tried if t.name == node.cable.size for f in t.fails}:
                checked += 1
                spared += not node.fitted
                assert least <= node.cable.ampacity_a
            # A trunk is sized for no less than the sum of its branches.
            behind = sum(n.cable.current_a for n in tree.nodes if n.parent == node.id)
            assert node.cable.current_a >= behind * (1 - 1e-9)
        # Along each way, the shares of the drop add up to no more than the limit.
        for node in tree.nodes:
            way = [tree.node(at) for at in way_of(tree, branches, node.id)]
            if node.load and all(w.cable.size and w.cable.checks[0].verdict == "ok" for w in way):
                assert sum(w.cable.drop_v or 0 for w in way) <= 0.03 * 12.6 * (1 + 1e-9)
    assert checked > 200
    assert spared > 5


def test_a_fuse_that_is_not_fitted_protects_nothing() -> None:
    # battery - 3 m - block - 0.3 m - second block - processor of 5 A; an amplifier of 4 x 75 W on the first block
    run = CableRun(0.3)
    branches = [
        SupplyBranch("block", CableRun(3.0)),
        SupplyBranch("second", run, None, "block"),
        SupplyBranch("dsp", run, SupplyLoad("dsp", current_a=5), "second"),
        SupplyBranch("amp", run, SupplyLoad("amp", 75, 4, 4), "block"),
    ]
    tree = supply_tree(branches, Supply())
    for name in ("second", "dsp"):
        way = [tree.node(at) for at in way_of(tree, branches, name)]
        held = min(n.fuse.rating_a or 1e9 for n in way if n.fitted)
        assert 1.35 * held <= (tree.node(name).cable.ampacity_a or 0)


def test_the_body_never_takes_more_than_the_stated_limit_unsaid() -> None:
    # 400 A through 1 mohm of body is 0.4 V, more than 3 % of 12.6 V: no cable keeps that, and it is said.
    hot = CableRun(2.0, 0.3, insulation_degc=125, ambient_degc=30)
    tree = supply_tree([SupplyBranch("amp", hot, SupplyLoad("amp", current_a=330))], VAN)
    cable = tree.nodes[0].cable
    assert cable.drop_v is not None
    assert cable.drop_v > 0.378
    assert cable.checks[0].verdict != "ok"


def test_a_plastic_body_gives_every_cable_its_return() -> None:
    steel, plastic = (
        supply_tree([SupplyBranch("amp", CableRun(5.0, size="25 mm2", insulation_degc=105, body=body), SupplyLoad("amp", current_a=60))], VAN)
        for body in (True, False)
    )  # fmt: skip
    # two conductors of 5 m of class 5, 0.78 mohm/m, at 60 A: 0.468 V cold, and hotter by 0.00393 1/K
    cable = plastic.nodes[0].cable
    assert cable.drop_v == pytest.approx(2 * 5 * 0.78e-3 * 60 * (1 + 0.00393 * (cable.conductor_degc - 20)))  # type: ignore[operator]
    assert cable.drop_v > 1.5 * (steel.nodes[0].cable.drop_v or 0)


def test_a_thin_ground_is_in_the_drop() -> None:
    # 16 mm2 out, 0.5 m of 1.5 mm2 back (13.3 mohm/m, class 5) and 1 mohm of body, 60 A: at least 0.4 V of ground alone
    run = CableRun(4.0, 0.5, size="16 mm2", insulation_degc=105, ground_size="1.5 mm2")
    cable = supply_tree([SupplyBranch("amp", run, SupplyLoad("amp", current_a=60))], VAN).nodes[0].cable
    assert cable.drop_v is not None
    assert cable.drop_v > 60 * (4 * 1.21e-3 + 0.5 * 13.3e-3 + 1e-3)


def test_a_small_load_on_the_battery_is_told_where_to_go_and_a_rating_above_its_fuses_is_said() -> None:
    tree = supply_tree([SupplyBranch("relay", HOT, SupplyLoad("relay", current_a=0.01))], VAN)
    (check,) = tree.checks
    assert (check.code, check.verdict) == ("power.tap", "caution")
    assert "fuse tap" in check.remedy.template  # type: ignore[union-attr]
    block = [SupplyBranch("main", HOT), SupplyBranch("relay", HOT, SupplyLoad("relay", current_a=0.01), "main")]
    assert "power.tap" not in {c.code for c in supply_tree(block, VAN).checks}
    amp = SupplyLoad("amp", 318, 4, 4, fuses_a=(25, 25))  # 4 x 318 W / 0.85 / 14.4 V = 104 A behind 50 A
    (check,) = supply_tree([SupplyBranch("amp", HOT, amp)], VAN).checks
    assert (check.code, check.value, check.limit) == ("power.rating", pytest.approx(103.9, abs=0.1), 50)


def by_network(tree: SupplyTree, found: Peak) -> dict[str, complex]:
    """The same ladder by nodal analysis, each load as the resistance it came to."""
    n = Network()
    n.voltage("source", "emf", "0", found.source_v)
    n.resistor("battery", "emf", "post", max(found.source_ohm, 1e-12))
    loads = {a.name: a for a in found.loads}
    for node in tree.nodes:
        assert node.cable.loop_ohm is not None
        n.resistor(f"cable-{node.id}", node.parent or "post", node.id, node.cable.loop_ohm + 4 * JOINT_OHM)
        if node.load:
            n.resistor(f"load-{node.id}", node.id, "0", loads[node.load].volts / loads[node.load].current_a)
    solved = n.solve(1.0)
    return {node.load: complex(np.squeeze(solved.v(node.id))) for node in tree.nodes if node.load}


def test_ladder_voltages_are_those_of_the_network_room() -> None:
    rng = np.random.default_rng(4)
    for _ in range(30):
        branches = random_tree(rng)
        tree = supply_tree(branches, VAN)
        if any(n.cable.loop_ohm is None for n in tree.nodes):
            continue
        found = peak_voltage(tree, branches, VAN)
        for name, volts in by_network(tree, found).items():
            assert next(a.volts for a in found.loads if a.name == name) == pytest.approx(volts.real, rel=1e-9)


def test_one_load_is_the_closed_form() -> None:
    branches = [SupplyBranch("amp", HOT, FOUR)]
    tree = supply_tree(branches, VAN)
    at = peak_voltage(tree, branches, VAN).loads[0]
    ohm = 14.4 / (240 / 0.85 / 14.4)
    series = 0.008 + tree.node("amp").cable.loop_ohm + 4 * JOINT_OHM
    assert at.volts == pytest.approx(12.6 * ohm / (ohm + series))
    assert at.power_fraction == pytest.approx((at.volts / 14.4) ** 2)
    assert sum(s[2] for s in at.shares) == pytest.approx(12.6 - at.volts)
    # A regulated one: V^2 - E V + P R = 0, the larger root.
    branches = [SupplyBranch("amp", HOT, replace(FOUR, regulated=True))]
    tree = supply_tree(branches, VAN)
    at = peak_voltage(tree, branches, VAN).loads[0]
    series = 0.008 + tree.node("amp").cable.loop_ohm + 4 * JOINT_OHM
    power = 240 / 0.85
    assert at.volts == pytest.approx((12.6 + np.sqrt(12.6**2 - 4 * power * series)) / 2, rel=1e-9)
    assert at.power_fraction == 1


@pytest.mark.parametrize("length_m", [1e6, 1e30, 1e300])
def test_a_way_that_lets_nothing_through_is_a_number_too(length_m: float) -> None:
    branches = [SupplyBranch("amp", CableRun(length_m, 0.5), FOUR)]
    tree = supply_tree(branches, VAN)
    for engine in ("off", "running"):
        for at in peak_voltage(tree, branches, VAN, engine).loads:  # type: ignore[arg-type]
            assert at.volts == pytest.approx(0.0, abs=0.1)
            assert np.isfinite(at.power_db)


def test_the_alternator_holds_its_voltage_while_it_can() -> None:
    branches = [SupplyBranch("amp", HOT, FOUR)]
    tree = supply_tree(branches, VAN)
    off, running = (peak_voltage(tree, branches, VAN, engine) for engine in ("off", "running"))
    assert (running.source_v, running.source_ohm) == (14.4, 0)
    assert running.loads[0].volts > off.loads[0].volts
    weak = replace(VAN, alternator_a=40)
    assert peak_voltage(tree, branches, weak, "running").source_v == 12.6


def test_more_than_the_supply_can_give_is_said() -> None:
    # V^2 - U V + P R = 0 has a root up to R = U^2/(4 P) = 0.1406 ohm.
    for ohm, holds in ((0.12, True), (0.15, False)):
        poor = replace(VAN, resistance_ohm=ohm)
        branches = [SupplyBranch("amp", HOT, replace(FOUR, regulated=True))]
        found = peak_voltage(supply_tree(branches, poor), branches, poor)
        assert bool(found.loads) is holds
        assert found.checks[0].verdict == "caution"


def test_without_a_cable_there_is_no_voltage() -> None:
    branches = [SupplyBranch("amp", replace(HOT, ambient_degc=110), FOUR)]
    tree = supply_tree(branches, VAN)
    assert tree.nodes[0].cable.checks[0].verdict == "stop"
    assert peak_voltage(tree, branches, VAN).loads == ()


def test_a_load_nobody_knows_is_left_out_and_asked_for() -> None:
    tree = supply_tree([*BRANCHES, SupplyBranch("x", HOT, SupplyLoad("mystery"), "main")], VAN)
    assert [c.code for c in tree.checks] == ["power.load"]
    assert "x" not in {n.id for n in tree.nodes}


def test_a_block_nothing_hangs_on_leaves_the_rest_as_it_is() -> None:
    whole, own = supply_tree([*BRANCHES, SupplyBranch("spare", HOT)], VAN), supply_tree(BRANCHES, VAN)
    assert whole.nodes == own.nodes
    assert [(c.code, c.verdict, c.part) for c in whole.checks if c not in own.checks] == [
        ("power.load", "caution", "spare")
    ]


@pytest.mark.parametrize(
    ("branches", "message"),
    [
        ([SupplyBranch("a", HOT, FOUR), SupplyBranch("a", HOT, SUB)], "once"),
        ([SupplyBranch("a", HOT, FOUR, "nowhere")], "parent"),
        ([SupplyBranch("a", HOT, FOUR), SupplyBranch("b", HOT, SUB, "a")], "ends at no load"),
        ([SupplyBranch("a", HOT, None, "b"), SupplyBranch("b", HOT, None, "a")], "circle"),
    ],
)
def test_a_tree_that_cannot_be_is_refused(branches: list[SupplyBranch], message: str) -> None:
    with pytest.raises(InputError, match=message):
        supply_tree(branches, VAN)


def test_a_fuse_already_there_sets_its_cable() -> None:
    big = supply_tree([SupplyBranch("amp", HOT, FOUR, fuse_a=150)], VAN).nodes[0]
    own = supply_tree([SupplyBranch("amp", HOT, FOUR)], VAN).nodes[0]
    assert big.fuse.rating_a == 150
    assert big.cable.area_mm2 is not None
    assert own.cable.area_mm2 is not None
    assert big.cable.area_mm2 > own.cable.area_mm2
