"""Supply and wires of a job: the demo, what is missing, what is a stop, properties that hold for any job."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from backwave.assess import Assessment, Memo, assess, wires_json
from backwave.errors import JobError
from backwave.job import loads

TEXT = (Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job/job.toml").read_text(encoding="utf-8")
MEMO = Memo()


def assessed(text: str) -> Assessment:
    return assess(loads(text), MEMO, draws=500)


def cables(text: str) -> dict[str, dict[str, object]]:
    made = assessed(text).wires
    assert made is not None
    return {c["id"]: c for c in wires_json(made)["cables"]}


def test_the_demos_document_has_every_key() -> None:
    made = assessed(TEXT).wires
    assert made is not None
    document = wires_json(made)
    json.dumps(document, allow_nan=False)
    assert {"cables", "supply", "channels", "harness"} <= set(document)
    keys = {
        "id",
        "current_a",
        "length_m",
        "area_mm2",
        "awg",
        "drop_v",
        "drop_fraction",
        "conductor_degc",
        "fuse_a",
        "findings",
    }
    for cable in document["cables"]:
        assert keys <= set(cable)
    assert [c["id"] for c in document["cables"]] == ["block", "amp", "bass-amp"]
    block = document["cables"][0]
    # 25 + 25 + 30 A of own fuses count, not the 48 A of the ratings (PRACTICE: a rating may lie)
    assert block["current_a"] == pytest.approx(80.0)
    assert block["fuse_a"] >= 80
    assert block["fuse"]["breaking_a"] > 12.6 / 0.008  # 1575 A, more than a blade fuse breaks (ISO 8820-3: 1000 A)
    assert block["drop_fraction"] + max(c["drop_fraction"] for c in document["cables"][1:]) <= 0.03
    bass = next(c for c in document["channels"] if c["id"] == "bass-amp.1")
    assert bass["test_tone_v"] is None  # until its gate is confirmed
    assert made.channels[-1].target.test_tone_v == pytest.approx((250 * 4) ** 0.5, abs=0.01)
    assert bass["load_ohm"] == 4.0
    assert 50 <= bass["tone_hz"] <= 100  # inside a cheap meter's band (PRACTICE)
    assert "disconnected" in bass["gate"][0]


def test_a_longer_feed_is_never_thinner_and_aluminum_is_thicker() -> None:
    area = [
        cables(TEXT.replace('feed = { length = "4.2 m"', f'feed = {{ length = "{length} m"'))["block"]["area_mm2"]
        for length in (2, 4, 6, 8)
    ]
    assert area == sorted(area)  # type: ignore[type-var]
    clad = cables(
        TEXT.replace('feed = { length = "4.2 m"', 'feed = { length = "4.2 m", material = "copper-clad aluminum"')
    )
    assert clad["block"]["area_mm2"] > cables(TEXT)["block"]["area_mm2"]  # type: ignore[operator]


def test_a_cable_too_thin_that_is_there_already_is_a_stop() -> None:
    result = assessed(TEXT.replace('feed = { length = "4.2 m"', 'feed = { size = "6 mm2", length = "4.2 m"'))
    assert "power.cable@block" in [f.id for f in result.findings if f.check.verdict == "stop"]


def test_a_blade_fuse_on_a_strong_battery_is_a_stop() -> None:
    result = assessed(TEXT.replace('feed = { length = "4.2 m"', 'feed = { style = "blade", length = "4.2 m"'))
    (found,) = [f for f in result.findings if f.id == "power.fuse-breaking@block"]
    assert found.check.verdict == "stop"


def test_a_load_nobody_rated_is_asked_for_and_a_length_nobody_measured_is_guessed() -> None:
    # wires of the harness name the amplifier: without its load they would name pins that are none
    bare = TEXT[: TEXT.index("# ---- the factory's wires")]
    text = bare.replace(
        '[[load]]\nid         = "amp"\nfrom       = "block"\n',
        '[[load]]\nid         = "fan"\nfrom       = "block"\n',
    )
    result = assessed(text.replace('efficiency = 0.80\nfuses      = ["25 A", "25 A"]\n', ""))
    assert any(f.check.code == "power.load" for f in result.findings)
    guessed = assessed(bare.replace('feed       = { length = "0.4 m", ', "feed       = { "))
    assert any(f.id == "power.length@amp" for f in guessed.findings)
    assert any("length" in a.key for a in guessed.assumed)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            'from       = "block"\nefficiency = 0.80',
            'from       = "blck"\nefficiency = 0.80',
            "no distribution of that id",
        ),
        ('id   = "block"\n', 'id   = "block"\nfrom = "block"\n', "hangs on itself"),
        ("efficiency = 0.80", "efficiency = 1.80", "efficiency"),
        ('id         = "amp"', 'id         = "amp"\npower      = "lots"', "not a rating"),
        ('vehicle    = "32 A"', 'vehicle    = "32 V"', "current"),
    ],
)
def test_bad_input_is_named(old: str, new: str, words: str) -> None:
    with pytest.raises(JobError) as error:
        loads(TEXT.replace(old, new, 1))
    assert words in str(error.value)


def test_what_can_hurt_stands_apart_from_findings() -> None:
    result = assessed(TEXT)
    codes = {f.check.code for f in result.cautions}
    assert {"safe.battery", "safe.airbag", "safe.high-voltage", "safe.tapping", "safe.hearing"} <= codes
    assert not any(f.check.code.startswith("safe.") for f in result.findings)


def test_no_load_no_wires() -> None:
    assert assessed(TEXT[: TEXT.index("# ---- what feeds them")]).wires is None
