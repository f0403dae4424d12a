"""A stage's paths in, outputs with what hangs on them out."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from assess.tables import table_job, the_places

from backwave.assess.inputs.enclosures import WhatIf, plan_stage
from backwave.assess.sound.results import PlannedChannel
from backwave.job.signal_chain import PathTable, StageTable
from backwave.notation.crossover import Branch, CrossoverPart
from backwave.sound.enclosures import Baffle

OPENINGS = [
    {"id": "door", "sides": ["left", "right"]}, {"id": "dash", "sides": ["left", "right"], "zone": "dash"}, {"id": "shelf"},
]  # fmt: skip
WOOFER: Any = SimpleNamespace(kind="woofer")
TWEETER: Any = SimpleNamespace(kind="tweeter")
OUTPUTS: Any = SimpleNamespace(name="four channels")
MOUNT = Baffle()


class Mounts:
    """Everything is in a baffle, save what is missing; a ring before what is in the door."""

    def __init__(self, *missing: str) -> None:
        self.missing = missing

    def of(self, path: PathTable, subject: str, unit: Any, what_if: WhatIf) -> Any:
        return None if subject in self.missing else (MOUNT, (None,))

    def has_ring(self, subject: str, speaker: str) -> bool:
        return subject.startswith("door")


def plan(*paths: dict[str, Any], what_if: WhatIf | None = None, missing: tuple[str, ...] = (), **units: Any) -> tuple[PlannedChannel, ...]:  # fmt: skip
    stage = StageTable.model_validate({"id": "s", "path": paths})
    here = the_places(table_job(opening=OPENINGS))
    known = {"w": WOOFER, "t": TWEETER, **units}
    return plan_stage(stage, what_if or WhatIf(), known, {"amp": OUTPUTS, "mute": None}, here, Mounts(*missing))  # type: ignore[arg-type]  # stands in


def path(channel: str, opening: str | None, speaker: str, **keys: Any) -> dict[str, Any]:
    return {"source": "amp", "channel": channel, "speaker": speaker, **({} if opening is None else {"opening": opening}), **keys}  # fmt: skip


def test_a_path_without_a_side_is_an_output_for_each_and_shares_it_with_the_next() -> None:
    made = plan(path("front", "door", "w"), path("front", "dash", "t", polarity=-1))
    assert [(c.source, c.channel, c.side, c.name) for c in made] == [
        ("amp", "front", "left", "amp front left"), ("amp", "front", "right", "amp front right"),
    ]  # fmt: skip
    for channel in made:
        woofer, tweeter = channel.paths
        assert (woofer.name, woofer.label, woofer.polarity) == (f"door.{channel.side}/w", "door/w", 1)
        assert (tweeter.subject, tweeter.number, tweeter.polarity) == (f"dash.{channel.side}", 1, -1)
        assert (woofer.ringed, tweeter.ringed) == (True, False)
        assert (woofer.load.unit, woofer.load.mount) == (WOOFER, MOUNT)


def test_a_side_a_single_opening_and_a_box() -> None:
    made = plan(path("1", "door", "w", side="right"), path("2", "shelf", "w"), path("3", None, "w", box="sub"))
    assert [(c.channel, c.side, c.paths[0].subject) for c in made] == [
        ("1", "right", "door.right"), ("2", "", "shelf"), ("3", "", "sub"),
    ]  # fmt: skip
    assert made[2].name == "amp 3"


def test_filters_delay_and_gain_come_before_the_output() -> None:
    keys = {"filters": ["high-pass 80 Hz LR4", "peak 160 Hz -3 dB Q 2"], "delay": "1.5 ms", "gain": "-4 dB"}
    (channel,) = plan(path("1", "shelf", "w", **keys))
    assert [(f.kind, f.f0_hz) for f in channel.chain.filters] == [("high-pass", 80.0), ("peak", 160.0)]
    assert (channel.chain.delay_s, channel.chain.gain_db) == (pytest.approx(1.5e-3), -4.0)
    (without,) = plan(path("1", "shelf", "w", **keys), what_if=WhatIf(high_pass=False))
    assert [f.kind for f in without.chain.filters] == ["peak"]
    (bare,) = plan(path("1", "shelf", "w"))
    assert (bare.chain.filters, bare.chain.delay_s, bare.chain.gain_db) == ((), 0.0, 0.0)


def test_parts_are_those_of_the_job_unless_others_are_tried_on_that_path() -> None:
    paths = (
        path("1", "door", "w", network=["series L 0.4 mH 0.1 ohm"]),
        path("1", "dash", "t", network=["series C 5 uF"]),
    )
    other = (Branch("series", CrossoverPart("C", 10e-6)),)
    made = plan(*paths, what_if=WhatIf(networks=(("dash/t", other),), flipped=frozenset({"dash/t"})))
    for channel in made:
        woofer, tweeter = channel.paths
        assert woofer.load.passive == (Branch("series", CrossoverPart("L", pytest.approx(4e-4), 0.1)),)  # type: ignore[arg-type]
        assert (woofer.polarity, tweeter.polarity) == (1, -1)
        assert tweeter.load.passive == other


def test_what_lacks_something_is_left_out_and_the_rest_stays() -> None:
    made = plan(path("1", "door", "w"), path("1", "dash", "t"), missing=("dash.left",))
    assert [[p.subject for p in c.paths] for c in made] == [["door.left"], ["door.right", "dash.right"]]
    assert plan(path("1", "door", "w"), w=None) == ()
    assert plan(path("1", "door", "w") | {"source": "mute"}) == ()
