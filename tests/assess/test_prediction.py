"""What the stages of a job will bring: the demo, what-ifs, missing data, places nobody said, measured curves."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from backwave.assess import (
    Assessment,
    Memo,
    SoundEngine,
    WhatIf,
    assess,
    charts,
    engine_of,
    play,
    prediction_json,
    with_comparisons,
)
from backwave.assess.sound import prediction
from backwave.assess.sound.results import F_HZ, PlayedStage, Prediction
from backwave.drawing.chart import chart_svg
from backwave.errors import JobError
from backwave.job import Job, load, loads

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job"
TEXT = (DEMO / "job.toml").read_text(encoding="utf-8")
MEMO = Memo()


def assessed(text: str) -> Assessment:
    return assess(loads(text), MEMO, draws=500)


def predicted(text: str) -> Prediction:
    job = loads(text)
    made = with_comparisons(job, assess(job, MEMO, draws=500), MEMO).prediction
    assert made is not None
    return made


@pytest.fixture(scope="module")
def demo() -> Prediction:
    return predicted(TEXT)


@pytest.fixture(scope="module")
def engine() -> SoundEngine:
    return engine_of(loads(TEXT), MEMO)


def stage(made: Prediction, name: str) -> PlayedStage:
    return next(one for one in made.stages if one.id == name)


def level(one: PlayedStage, low: float, high: float) -> float:
    f = np.asarray(F_HZ)
    inside = (f >= low) & (f <= high)
    return float(one.levels.level[0, inside].mean())


def findings(result: Assessment, code: str) -> list[str]:
    return [f.id for f in result.findings if f.check.code == code and f.check.verdict != "ok"]


def test_every_stage_of_the_demo_is_predicted_with_every_key(demo: Prediction) -> None:
    document = prediction_json(demo)
    json.dumps(document, allow_nan=False)
    assert [s["id"] for s in document["stages"]] == ["factory", "speakers", "amplified", "subwoofer"]
    for s in document["stages"]:
        n = len(s["f_hz"])
        assert s["drive_v"] == 2.83
        assert set(s["seats"]) == {"driver"}
        for key in ("spl_db", "low_db", "high_db", "loudest_db"):
            assert len(s["seats"]["driver"][key]) == n
        for path in s["paths"]:
            assert {"opening", "side", "speaker"} <= set(path)
            assert len(path["excursion_mm"]) == len(path["current_a"]) == len(path["alone_db"]["driver"]) == n
        for channel in s["channels"]:
            assert channel["least_ohm"] > 2
            assert len(channel["impedance_ohm"]) == len(channel["phase_deg"]) == n
        assert len(s["limit"]) == n
        assert {row["cause"] for row in s["limit"]} <= {"clip", "excursion", "heat"}
        assert {row["path"] for row in s["limit"]} <= {path["id"] for path in s["paths"]}
    assert len(document["stages"][1]["paths"]) == 4  # woofer and tweeter on each side, two outputs
    assert len(document["stages"][1]["channels"]) == 2


def test_the_stages_bring_what_they_are_for(demo: Prediction) -> None:
    speakers, amplified, bass = (stage(demo, name) for name in ("speakers", "amplified", "subwoofer"))
    # an amplifier of 75 W at 4 ohm is 17.3 V, a bridge at 14.4 V clips near 9.5 V: about 5 dB
    vocal = (F_HZ > 300) & (F_HZ < 1500)
    loudest = [(one.levels.level[0] + one.loud.gain_db)[vocal].mean() for one in (speakers, amplified)]
    assert loudest[1] - loudest[0] == pytest.approx(20 * np.log10(17.3 / 9.5), abs=1.0)
    assert level(bass, 25, 50) > level(amplified, 25, 50) + 10
    # relieved of deep bass the doors move less for the same volts
    excursion = [
        max(one.channels[v.channel].loads[v.load].excursion @ np.diag(np.abs(one.drives[v.channel])))
        for one in (speakers, bass)
        for v in one.voices
        if v.name == "front-door.left/demo-165"
    ]
    assert excursion[1] < excursion[0] / 2


def test_what_each_step_is_worth_is_computed_and_has_its_band(demo: Prediction) -> None:
    worth = {one.id: one for one in demo.worth}
    assert {"stage@speakers", "stage@amplified", "stage@subwoofer", "ring@speakers", "high-pass@amplified"} <= set(
        worth
    )
    assert "network@speakers.dash" in worth
    (meets,) = worth["polarity@speakers.dash/demo-25"].bands  # the tweeter is reversed for a reason
    assert meets[1].delta < 0
    assert 800 < meets[1].low_hz < meets[1].high_hz < 4000
    for one in worth.values():
        for _, band in one.bands:
            assert band.low <= band.delta <= band.high
    relief = dict(worth["high-pass@amplified"].reliefs)["front-door.left/demo-165"]
    assert relief.after_mm < relief.before_mm
    assert relief.db > 6


def test_the_ring_is_worth_mid_bass(demo: Prediction) -> None:
    ring = next(one for one in demo.worth if one.id == "ring@speakers")
    bands = dict(ring.bands)
    # a leak round the ring loses mid-bass (common trade practice); the model says how much, and is sure of the sign
    assert bands["mid-bass"].delta > 1.0
    assert bands["mid-bass"].low > 0
    assert abs(bands["air"].delta) < 1.0


def test_a_what_if_changes_nothing_but_what_it_names(demo: Prediction, engine: SoundEngine) -> None:
    job_stage = engine.job.file.stage[2]
    as_it_is = play(engine, job_stage)
    without = play(engine, job_stage, WhatIf(high_pass=False))
    assert as_it_is is not None
    assert without is not None
    np.testing.assert_array_equal(as_it_is.levels.level, stage(demo, "amplified").levels.level)
    assert level(without, 25, 50) > level(as_it_is, 25, 50) + 10
    turned = play(engine, job_stage, WhatIf(flipped=frozenset({"dash/demo-25"})))
    assert turned is not None
    np.testing.assert_allclose(level(turned, 20, 300), level(as_it_is, 20, 300), atol=0.2)
    covered = play(engine, job_stage, WhatIf(holes_covered=True))
    assert covered is not None
    assert abs(level(covered, 60, 200) - level(as_it_is, 60, 200)) > 0.05


def test_a_gain_moves_its_path_and_solves_no_network_again(demo: Prediction) -> None:
    before = MEMO.misses
    louder = predicted(
        TEXT.replace('filters = ["low-pass 80 Hz LR4"]', 'gain = "6 dB", filters = ["low-pass 80 Hz LR4"]')
    )
    alone = [stage(made, "subwoofer").levels.alone["under-seat/demo-250"] for made in (demo, louder)]
    np.testing.assert_allclose(alone[1] - alone[0], 6.0, atol=1e-6)
    assert MEMO.misses - before < 40  # levels and what hangs on them; every channel was kept


def test_missing_parameters_are_asked_for_by_name() -> None:
    result = assessed(TEXT.replace(', Qes = 0.68, Vas = "13.5 L"', ""))
    (finding,) = [f for f in result.findings if f.id == "sound.data@demo-165"]
    assert finding.check.remedy is not None
    wanted = {n: v for n, v, _ in finding.check.remedy.quantities}["wanted"]
    assert "Vas" in str(wanted)
    assert "Bl" in str(wanted)
    made = result.prediction
    assert made is not None
    assert not any("demo-165" in v.name for one in made.stages for v in one.voices)  # left out, and said
    doubted = assessed(TEXT.replace('Vas = "13.5 L"', 'Vas = "1350 L"'))
    assert "sound.data@demo-165" in findings(doubted, "sound.data")


def test_parameters_that_disagree_are_shown_with_both_values() -> None:
    result = assessed(TEXT.replace('fs = "58 Hz", Qms', 'fs = "58 Hz", Bl = "3 Tm", Qms'))
    (found,) = [f for f in result.findings if f.check.code == "sound.parameters"]
    assert found.subject == "demo-165"
    assert found.check.value == 3.0
    # Small 1972: Cms = Vas/(rho c^2 Sd^2) = 0.538 mm/N, Mms = 14.0 g, Bl = sqrt(2 pi fs Mms Re/Qes) = 4.97 Tm
    assert found.check.limit == pytest.approx(4.974, abs=0.01)


def test_a_source_without_its_rating_is_asked_for_it() -> None:
    result = assessed(TEXT.replace('power        = "250 W into 4 ohm"\n', ""))
    assert findings(result, "sound.data") == ["sound.data@bass-amp"]
    made = result.prediction
    assert made is not None
    assert [v.name for v in stage(made, "subwoofer").voices if "under-seat" in v.name] == []


def test_overloads_and_bare_tweeters_are_stops() -> None:
    two = TEXT.replace(
        '{ source = "head-unit", channel = "front", opening = "dash", speaker = "demo-25", polarity = -1, network = ["series R 1.5 ohm", "series C 10 uF", "shunt L 0.27 mH 0.15 ohm"] },',
        '{ source = "head-unit", channel = "front", opening = "dash", speaker = "demo-25" },',
    )
    result = assessed(two)
    assert result.verdict == "stop"
    assert "sound.tweeter.dash-demo-25@speakers" in findings(result, "sound.tweeter")
    assert any(name.startswith("sound.load.head-unit-front-left") for name in findings(result, "sound.load"))
    active = assessed(
        TEXT.replace(
            '{ source = "head-unit", channel = "front", opening = "dash", speaker = "factory-20", network = ["series C 4.7 uF"] },',
            '{ source = "amp", channel = "3", opening = "dash", speaker = "factory-20", filters = ["high-pass 4 kHz LR4"] },',
        )
    )
    (found,) = [f for f in active.findings if f.id == "sound.tweeter.dash-factory-20@factory"]
    assert found.check.verdict == "caution"


def test_without_a_cabin_it_is_half_space_and_says_so() -> None:
    text = TEXT.replace('cabin = { length = "1.45 m", width = "1.70 m", height = "1.25 m" }\n', "")
    result = assessed(text)
    assert result.prediction is not None
    assert result.prediction.cabin.seats == ("1 m, half space",)
    assert any(a.key == "seat" for a in result.assumed)


def test_a_place_nobody_said_is_asked_for() -> None:
    result = assessed(TEXT.replace('at      = ["0.22 m", "0.25 m", "0.80 m"]\n', ""))
    assert "sound.place@dash.left" in findings(result, "sound.place")


def test_a_place_outside_the_cabin_is_left_out_and_said() -> None:
    text = TEXT.replace('at      = ["0.22 m", "0.25 m", "0.80 m"]', 'at      = ["0.22 m", "-0.25 m", "0.80 m"]')
    assert "sound.place@dash.left" in findings(assessed(text), "sound.place")


def test_a_place_read_just_outside_is_on_the_wall() -> None:
    text = TEXT.replace('["0.22 m", "0.25 m", "0.80 m"]', '["-6 mm", "0.25 m", "0.80 m"]')
    text = text.replace('ear = ["0.95 m", "0.42 m", "0.95 m"]', 'ear = ["0.95 m", "0.42 m", "1.257 m"]')
    result = assessed(text)
    assert not findings(result, "sound.place")
    assert result.prediction is not None
    assert result.prediction.cabin.ears[0] == (0.95, 0.42, 1.25)


def test_what_cannot_be_worked_out_is_a_finding_and_all_else_stands() -> None:
    # the ear within the grille's radius of the door: each number is right by itself
    result = assessed(TEXT.replace('ear = ["0.95 m", "0.42 m", "0.95 m"]', 'ear = ["0.50 m", "0.07 m", "0.30 m"]'))
    (found,) = [f for f in result.findings if f.id == "sound.data.whole@job"]
    assert "distance of a seat" in str(found.check.title.quantities)
    assert result.prediction is None
    assert result.places
    assert result.wires is not None
    with pytest.raises(JobError, match=r"more than the whole|too large a ratio"):
        loads(TEXT.replace('open_area = "45 %"', 'open_area = "145 %"'))


def measured_job(folder: Path, impedance: str) -> Job:
    folder.mkdir(exist_ok=True)
    text = TEXT.replace('power = "75 W" }\n', 'power = "75 W" }\nmeasured  = { impedance = "readings/z.txt" }\n', 1)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    (folder / "readings").mkdir(exist_ok=True)
    (folder / "readings" / "z.txt").write_text(impedance, encoding="utf-8")
    return load(folder)


def test_a_measured_impedance_is_used_and_a_bad_file_refused_with_its_line(tmp_path: Path) -> None:
    rows = [
        f"{f:.2f} {3.3 + 2 * (f / 1000) ** 0.8:.4f} {30 * min(1, f / 3000):.2f}" for f in np.geomspace(20, 20000, 90)
    ]
    job = measured_job(tmp_path / "a", "\n".join(["# Hz ohm deg", *rows]))
    made = assess(job, MEMO, draws=500).prediction
    assert made is not None
    z = np.abs(stage(made, "speakers").channels[0].z)
    plain = np.abs(stage(predicted(TEXT), "speakers").channels[0].z)
    assert np.abs(z / plain - 1)[(F_HZ > 400) & (F_HZ < 1500)].max() > 0.05
    np.testing.assert_allclose(z[F_HZ < 120], plain[F_HZ < 120], rtol=0.02)
    rows[40] = rows[39]
    with pytest.raises(JobError, match=r"readings/z\.txt:42.*repeats"):
        measured_job(tmp_path / "b", "\n".join(["# Hz ohm deg", *rows]))
    with pytest.raises(JobError, match="no such file"):
        loads(
            TEXT.replace('power = "75 W" }\n', 'power = "75 W" }\nmeasured  = { response = "readings/none.txt" }\n', 1)
        )


def test_a_measured_response_corrects_the_pressure_from_where_it_holds(tmp_path: Path) -> None:
    rows = "\n".join(
        f"{f:.1f};{88 + 6 * np.exp(-(np.log(f / 900) ** 2) * 8):.3f}".replace(".", ",")
        for f in np.geomspace(300, 8000, 80)
    )
    text = TEXT.replace(
        'power = "75 W" }\n', 'power = "75 W" }\nmeasured  = { response = "readings/r.txt", above = "500 Hz" }\n', 1
    )
    (tmp_path / "readings").mkdir()
    (tmp_path / "readings" / "r.txt").write_text(rows, encoding="utf-8")
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    made = assess(load(tmp_path), MEMO, draws=500).prediction
    assert made is not None
    alone, plain = (stage(p, "speakers").levels.alone["front-door.left/demo-165"][0] for p in (made, predicted(TEXT)))
    np.testing.assert_allclose(alone[F_HZ < 200], plain[F_HZ < 200], atol=0.2)
    bump = (alone - plain)[(F_HZ > 800) & (F_HZ < 1000)].mean() - (alone - plain)[(F_HZ > 2500) & (F_HZ < 3000)].mean()
    assert bump > 2.0


def test_a_vented_box_and_a_port_too_small() -> None:
    text = TEXT.replace('kind   = "closed"', 'kind   = "vented"\ntuning = "38 Hz"\nport   = { diameter = "40 mm" }')
    result = assessed(text.replace('level = "95 dB"', 'level = "110 dB"'))
    assert any(f.id.startswith("sound.port.under-seat") and f.check.verdict == "caution" for f in result.findings)
    assert result.prediction is not None
    document = prediction_json(predicted(text))["stages"][-1]["paths"][-1]
    assert document["box"] == "under-seat"
    assert max(document["port_speed_m_s"]) > 0
    with pytest.raises(JobError, match="a vented box: no port"):
        loads(TEXT.replace('kind   = "closed"', 'kind   = "vented"\ntuning = "38 Hz"'))


def test_two_paths_on_one_output_share_what_comes_before_it() -> None:
    text = TEXT.replace('speaker = "factory-20", network', 'speaker = "factory-20", gain = "3 dB", network')
    with pytest.raises(JobError, match="on the same output as path 1, with other gain"):
        loads(text)


def test_a_band_that_says_nothing_is_no_curve(demo: Prediction) -> None:
    """The first stage's band made 60 dB wide: it is named, and drawn nowhere; those beside it keep their line's look."""
    assert prediction.unsaid(demo) == {}
    first = demo.stages[0]
    wide = replace(first.levels, low=first.levels.level - 30.0, high=first.levels.level + 30.0)
    vague = replace(demo, stages=(replace(first, levels=wide), *demo.stages[1:]))
    assert prediction.unsaid(vague) == {first.id: pytest.approx(60.0)}
    for chart in (prediction.response_chart, prediction.loudest_chart):
        whole, left = chart(demo), chart(vague)
        assert [(s.name, s.look) for s in left.series] == [(s.name, s.look) for s in whole.series][1:]
    alone = replace(demo, stages=vague.stages[:1])
    assert chart_svg(prediction.response_chart(alone)).startswith(
        "<svg"
    )  # an empty chart is a chart for those who save it


def test_charts_are_there_and_name_the_stages(demo: Prediction) -> None:
    made = charts(demo)
    assert {
        "response-driver",
        "loudest-driver",
        "excursion-subwoofer",
        "impedance-speakers",
        "worth-ring-speakers",
    } <= set(made)
    assert [s.name for s in made["response-driver"].series] == [one.title for one in demo.stages]
    beyond = np.asarray(made["response-driver"].series[1].value)
    assert np.isnan(beyond).any()  # only the band is drawn where the cone is no piston


def test_a_job_without_stages_has_no_prediction() -> None:
    assert assessed(TEXT[: TEXT.index("# ---- what drives them")]).prediction is None
