"""Drop, size and reason against published resistances and worked values; properties over thousands of runs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backwave.errors import InputError
from backwave.power import CableRun, choose_cable, choose_cables, speaker_cable
from backwave.power.cable import BODY_OHM, DROP_LIMIT, sizes_of
from backwave.stock import ConductorRow, shipped

HOT = CableRun(4.6, 0.5, insulation_degc=105, ambient_degc=60)


@pytest.fixture(scope="module")
def random_runs() -> tuple[list[CableRun], np.ndarray, list[float | None]]:
    rng = np.random.default_rng(20)
    runs = [
        CableRun(
            rng.uniform(0.2, 8),
            rng.uniform(0, 1),
            str(rng.choice(["copper", "copper-clad aluminum"])),
            float(rng.choice([70, 90, 105, 125])),
            rng.uniform(20, 68),
            int(rng.integers(1, 6)),
            bool(rng.integers(2)),
        )
        for _ in range(3000)
    ]
    current = np.exp(rng.uniform(np.log(0.5), np.log(300), len(runs)))
    fuses = [None if k % 3 == 0 else float(c * rng.uniform(1, 2)) for k, c in enumerate(current)]
    return runs, current, fuses


def test_a_recommended_cable_never_exceeds_drop_heat_or_fuse(
    random_runs: tuple[list[CableRun], np.ndarray, list[float | None]],
) -> None:
    runs, current, fuses = random_runs
    seen = {"ok": 0, "caution": 0, "stop": 0}
    for run, choice, amps, fuse in zip(runs, choose_cables(runs, current, fuses), current, fuses, strict=True):
        verdict = choice.checks[0].verdict
        seen[verdict] += 1
        if verdict == "stop":
            assert choice.size == ""
            assert all(set(t.fails) & {"heat", "fuse"} for t in choice.tried)
            continue
        assert choice.conductor_degc is not None
        assert choice.ampacity_a is not None
        assert choice.conductor_degc <= run.insulation_degc
        assert choice.ampacity_a >= max(fuse or 0, amps * (1 - 1e-9))
        if verdict == "ok":
            assert choice.drop_fraction <= DROP_LIMIT
            # Each smaller one has its reason.
            assert all(t.fails for t in choice.tried if t.area_mm2 < choice.area_mm2)
        else:
            assert all(t.fails for t in choice.tried)
            assert "drop" in next(t for t in choice.tried if t.name == choice.size).fails
    assert min(seen.values()) > 50, seen


@pytest.mark.parametrize("series", ["metric", "awg"])
def test_more_current_never_gives_a_thinner_cable(series: str) -> None:
    rng = np.random.default_rng(7)
    area: list[np.ndarray] = []
    runs = [
        CableRun(rng.uniform(0.3, 7), 0.5, insulation_degc=105, ambient_degc=rng.uniform(20, 80), bundle=int(rng.integers(1, 4)))
        for _ in range(500)
    ]  # fmt: skip
    base = rng.uniform(1, 120, len(runs))
    for factor in (1.0, 1.1, 1.5, 2.0, 4.0):
        found = choose_cables(runs, base * factor, base * factor * 1.25, series=series)
        area.append(np.array([1e9 if c.area_mm2 is None else c.area_mm2 for c in found]))
    assert (np.diff(area, axis=0) >= 0).all()
    assert (np.diff(area, axis=0) > 0).any()


def test_drop_is_that_of_the_class_5_resistance() -> None:
    # IEC 60228 class 5: 16 mm2 is 1.21 mohm/m at 20 degC; 5 m, 50 A, one conductor: 0.3025 V.  At the conductor's
    # temperature by IEC 60028, 0.00393 1/K.
    run = CableRun(5, 0, insulation_degc=105, ambient_degc=20, body=False)
    found = choose_cable(run, 50, supply_v=12.6)
    tried = next(t for t in found.tried if t.name == "16 mm2")
    assert tried.conductor_degc is not None
    assert tried.drop_v == pytest.approx(0.3025 * (1 + 0.00393 * (tried.conductor_degc - 20)), rel=1e-12)
    assert tried.drop_v > 0.3025
    assert found.size == "16 mm2"
    # what it takes off a short: 1/58 ohm mm2/m (IEC 60028) over its nominal section
    assert found.cold_ohm == pytest.approx(5 / 58 / 16)
    # A pair is twice the run; a body adds its own.
    pair = next(t for t in choose_cable(replace(run, ground_m=None), 50).tried if t.name == "16 mm2")
    assert pair.loop_ohm == pytest.approx(2 * tried.loop_ohm)
    body = next(t for t in choose_cable(replace(run, body=True), 50).tried if t.name == "16 mm2")
    assert body.loop_ohm - tried.loop_ohm == pytest.approx(BODY_OHM)


def test_the_gauge_is_astm_b258_with_4_percent_for_stranding() -> None:
    # ASTM B258: d = 0.127 mm x 92^((36 - n)/39); areas as in its table: AWG 10 5.261, AWG 4 21.15, AWG 4/0 107.2 mm2.
    numbers = {"1/0": 0, "2/0": -1, "3/0": -2, "4/0": -3}
    for row in sizes_of(series="awg"):
        name = row.name.removeprefix("AWG ")
        d = 0.127 * 92 ** ((36 - numbers.get(name, int(name.partition("/")[0]))) / 39)
        assert row.area_mm2 == pytest.approx(np.pi * d * d / 4, rel=1e-5)
        assert row.mohm_m == pytest.approx(1.04 * 1000 / (58 * row.area_mm2), rel=1e-5)
    table = {"10": 5.261, "4": 21.15, "4/0": 107.2}
    assert {n: next(r.area_mm2 for r in sizes_of() if r.name == f"AWG {n}") for n in table} == pytest.approx(
        table, rel=5e-4
    )


def test_clad_aluminum_needs_more_and_says_so() -> None:
    copper, clad = choose_cable(HOT, 60, 80), choose_cable(replace(HOT, material="copper-clad aluminum"), 60, 80)
    assert copper.area_mm2 is not None
    assert clad.area_mm2 is not None
    assert clad.area_mm2 > copper.area_mm2
    assert [c.code for c in clad.checks] == ["power.cable", "power.clad"]
    thickest = [c.tried[-1].loop_ohm - BODY_OHM for c in (clad, copper)]  # both near the air's temperature
    assert thickest[0] / thickest[1] == pytest.approx(0.02743 * 58, rel=0.02)


def test_the_clad_conductor_of_the_tables_is_a_tenth_copper_by_volume() -> None:
    # Side by side, copper (58 S m/mm2, IEC 60028) and aluminum (0.028264 ohm mm2/m, IEC 60889, from memory) conduct in
    # proportion to their areas; ASTM B566 class 10A: 10 % copper (confirmed), its largest resistivity a little above.
    clad = next(r for r in shipped().rows("conductor") if isinstance(r, ConductorRow) and r.name != "copper")
    mixed = 1 / (0.10 * 58 + 0.90 / 0.028264)
    assert mixed < clad.resistivity_ohm_mm2_m < 1.05 * mixed
    assert 0.00393 < clad.rise_per_k <= 0.00403  # of copper (IEC 60028) and of aluminum (IEC 60889)


def test_a_missing_length_is_asked_for_and_its_guess_shown() -> None:
    found = choose_cable(replace(HOT, length_m=None), 50, 60)
    check = next(c for c in found.checks if c.code == "power.length")
    assert check.verdict == "caution"
    assert check.key == "length"
    assert {a.key for a in found.assumed} >= {"length", "body", "bundle"}
    # The length it names is where this size comes to its limit.
    assert check.limit is not None
    at = choose_cable(replace(HOT, length_m=check.limit * 0.9999), 50, 60)
    over = choose_cable(replace(HOT, length_m=check.limit * 1.0001), 50, 60)
    assert at.area_mm2 == found.area_mm2
    assert over.area_mm2 is not None
    assert found.area_mm2 is not None
    assert over.area_mm2 > found.area_mm2


def test_every_cable_carries_its_assumptions() -> None:
    bare = {a.key for a in choose_cable(CableRun(), 10).assumed}
    assert bare == {"length", "ground.length", "insulation", "ambient", "body", "bundle"}


def test_insulation_no_better_than_the_air_is_a_stop() -> None:
    check = choose_cable(CableRun(2, insulation_degc=70, ambient_degc=80), 5).checks[0]
    assert check.verdict == "stop"
    assert check.remedy is not None
    assert "insulation" in check.remedy.template


@pytest.mark.parametrize(
    ("run", "message"),
    [({"length_m": -1}, "length"), ({"material": "silver"}, "copper or"), ({"bundle": 0}, "bundle"), ({"ambient_degc": 999}, "ambient")],
)  # fmt: skip
def test_a_run_that_cannot_be_is_refused(run: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=message):
        CableRun(**run)  # type: ignore[arg-type]


def test_a_current_that_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="current"):
        choose_cable(HOT, 0)
    with pytest.raises(InputError, match="drop"):
        choose_cable(HOT, 1, drop_limit=1.0)


def test_speaker_cable_is_the_worked_value() -> None:
    # 3 m of 2.5 mm2 class 5 (7.98 mohm/m, IEC 60228): 0.04788 ohm, 20 lg 4/4.04788 = -0.103353 dB.
    found = speaker_cable(3, 4, "2.5 mm2", re_ohm=3.3, source_ohm=0.02)
    assert found.loop_ohm == pytest.approx(0.04788)
    assert found.loss_db == pytest.approx(-0.103353, abs=1e-6)
    assert found.damping_factor == pytest.approx(4 / 0.06788)
    # Small 1972 (from memory): source and cable stand in series with the coil, and Qes grows by that.
    assert found.qes_factor == pytest.approx((3.3 + 0.06788) / 3.3)
    # First-order corners R/(2 pi L) and 1/(2 pi R C).
    assert found.low_pass_factor == pytest.approx(4.04788 / 4)
    assert found.high_pass_factor * found.low_pass_factor == pytest.approx(1)


def test_the_least_speaker_cable_that_passes_is_taken() -> None:
    found = speaker_cable(5, 2)
    smaller = [r for r in sizes_of(series="metric") if r.area_mm2 < found.area_mm2]
    assert found.checks[0].verdict == "ok"
    assert all(speaker_cable(5, 2, r.name).checks[0].verdict == "caution" for r in smaller)
    assert speaker_cable(500, 2).checks[0].verdict == "caution"


def test_a_size_already_there_is_judged() -> None:
    chosen = choose_cable(HOT, 50, 60)
    thin = choose_cable(replace(HOT, size="4 mm2"), 50, 60)
    assert (thin.size, thin.checks[0].verdict) == ("4 mm2", "stop")
    assert thin.checks[0].remedy is not None
    assert ("better", chosen.size, "size") in thin.checks[0].remedy.quantities
    weak = choose_cable(replace(HOT, size="10 mm2"), 50, 60)  # safe, but drops too much
    assert weak.checks[0].verdict == "caution"
    thick = choose_cable(replace(HOT, size="AWG 1/0"), 50, 60)
    assert (thick.checks[0].verdict, thick.awg) == ("ok", "1/0")
    assert {t.name[:3] for t in thick.tried} == {"AWG"}
    with pytest.raises(InputError, match="16 mm2"):
        choose_cable(replace(HOT, size="16"), 50)


def test_a_pair_of_unknown_length_grows_both_ways() -> None:
    pair = CableRun(None, None, insulation_degc=105, ambient_degc=40, body=False)
    found = choose_cable(pair, 20)
    check = next(c for c in found.checks if c.code == "power.length")
    assert check.limit is not None
    assert choose_cable(replace(pair, length_m=check.limit * 0.9999), 20).size == found.size
    assert choose_cable(replace(pair, length_m=check.limit * 1.0001), 20).size != found.size
