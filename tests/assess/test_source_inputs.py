"""Sources: what the job says in, voltages and resistances out; every default once and in the ledger."""

from __future__ import annotations

from math import sqrt
from typing import Any

import pytest

from backwave.assess.inputs.signal_path import outputs_of, rated_v, resistance_of
from backwave.assess.sound.results import Outputs
from backwave.finding import Check, Ledger
from backwave.job.signal_chain import SourceTable


def source(kind: str, **keys: Any) -> SourceTable:
    return SourceTable.model_validate({"id": "it", "kind": kind, **keys})


def outputs(one: SourceTable, ledger: Ledger | None = None) -> Outputs:
    made = outputs_of(one, ledger or Ledger())
    assert isinstance(made, Outputs)
    return made


def noted(ledger: Ledger) -> dict[str, tuple[Any, str]]:
    return {key: (one.value, one.unit) for key, one in ledger.assumed.items()}


def test_a_bridge_swings_to_the_supply_less_its_loss() -> None:
    ledger = Ledger()
    made = outputs(source("bridge", supply="14 V", engine_off="12 V", loss="1.5 V", resistance="0.25 ohm"), ledger)
    # a sine between the two rails: its peak is what the supply leaves
    assert (made.on.clip_v, made.off.clip_v) == (pytest.approx(12.5 / sqrt(2)), pytest.approx(10.5 / sqrt(2)))
    assert (made.on.resistance, made.off.resistance) == (0.25, 0.25)
    assert not ledger.assumed


def test_what_a_bridge_does_not_say_is_taken_and_noted_with_its_unit() -> None:
    ledger = Ledger()
    made = outputs(source("bridge"), ledger)
    assert noted(ledger) == {
        "source.it.supply": (14.4, "V"),
        "source.it.engine_off": (12.4, "V"),
        "source.it.loss": (1.0, "V"),
        "source.it.resistance": (0.3, "ohm"),
    }
    assert made.on.clip_v == pytest.approx(13.4 / sqrt(2))
    assert made.off.clip_v == pytest.approx(11.4 / sqrt(2))


def test_a_supply_is_no_higher_with_the_engine_off() -> None:
    made = outputs(source("bridge", supply="11 V", loss="1 V"))
    assert made.off.clip_v == pytest.approx(10 / sqrt(2))


def test_an_amplifier_clips_at_its_rating_into_its_load() -> None:
    made = outputs(source("amplifier", power="4 x 75 W into 4 ohm", resistance="0.1 ohm", lowest_load="2 ohm"))
    # 17.32 V across 4 ohm behind 0.1 ohm: at open terminals 4.1/4 of it (voltage divider)
    assert made.on.clip_v == pytest.approx(sqrt(300) * 4.1 / 4)
    assert made.on.lowest_load == 2
    assert made.off == made.on


def test_bridged_it_gives_twice_the_volts_from_twice_the_resistance() -> None:
    keys = {"power": "2 x 75 W into 2 ohm", "resistance": "0.1 ohm", "lowest_load": "2 ohm"}
    one, two = outputs(source("amplifier", **keys)), outputs(source("amplifier", bridged=True, **keys))
    assert two.on.clip_v == pytest.approx(2 * one.on.clip_v)
    assert two.on.resistance == pytest.approx(0.2)
    assert two.on.lowest_load == 4
    assert rated_v(source("amplifier", bridged=True, **keys), Ledger()) == pytest.approx(2 * sqrt(150))


def test_a_factory_output_is_as_measured() -> None:
    made = outputs(source("factory", clip="6.2 V", levels=[[40, -6.0], [80, 0.0]]))
    assert made.on.clip_v == 6.2
    assert made.on.response([40.0, 80.0, 1000.0]) == pytest.approx([10 ** (-6 / 20), 1.0, 1.0])
    assert rated_v(source("factory", clip="6.2 V"), Ledger()) == 6.2


@pytest.mark.parametrize(
    ("one", "key"),
    [(source("amplifier"), "power"), (source("factory"), "clip"), (source("bridge", supply="6 V", loss="7 V"), "supply")],
)  # fmt: skip
def test_what_is_missing_or_cannot_be_is_asked_for(one: SourceTable, key: str) -> None:
    found = outputs_of(one, Ledger())
    assert isinstance(found, Check)
    assert (found.code, found.verdict, found.key) == ("sound.data", "caution", key)
    assert found.remedy is not None
    assert rated_v(one, Ledger()) is None


@pytest.mark.parametrize(
    "one", [source("bridge"), source("amplifier", power="75 W into 4 ohm"), source("factory", clip="6 V")]
)
def test_the_prediction_and_the_cables_take_the_same_for_what_nobody_said(one: SourceTable) -> None:
    predicted, cables = Ledger(), Ledger()
    made = outputs(one, predicted)
    assert resistance_of(one, cables) == made.on.resistance
    assert rated_v(one, cables) is not None
    both = set(predicted.assumed) & set(cables.assumed)
    assert "source.it.resistance" in both
    assert all(predicted.assumed[key] == cables.assumed[key] for key in both)
