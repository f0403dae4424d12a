"""A job becomes an assessment: the only place that knows both the job file and the rooms.

    assess           everything that follows from a job, in one frozen value
    predict          what its stages will bring, and nothing else
    check_json       that value as the JSON others rely on
    finding_json     one finding of it
    prediction_json  what each stage will bring, as JSON; charts: as charts
    engine_of        what plays a stage otherwise (`play`) and compares (`compared`), held by whoever asks
    proven           the same with what the job's readings say: before, after and predicted
    with_reasons     why parts that are stopped are made all the same, where a person said so
    with_solids      what `make` measured on the solids, while it was measured on these very parts

From: a `backwave.job.Job`.  Units: as the rooms have them (millimeters, degrees, kilograms, newtons).  Reads no file,
formats nothing for a person, never loads the solid kernel.  Meeting floor.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backwave.assess.inputs.enclosures import WhatIf
    from backwave.assess.memo import Memo
    from backwave.assess.part_release import from_plain, made_digest, part_digest, to_plain, with_reasons, with_solids
    from backwave.assess.pipeline import assess, engine_of, follows, predict, proven, provisional, with_comparisons
    from backwave.assess.place_result import PlaceResult
    from backwave.assess.power.results import Wires, wires_json
    from backwave.assess.proof.before_after import Proof, proof_json
    from backwave.assess.result import Assessment, check_json, finding_json
    from backwave.assess.sound.engine import SoundEngine, play
    from backwave.assess.sound.prediction import band_levels, charts, compared, prediction_json
    from backwave.assess.sound.results import Comparison, PlayedStage, Prediction
    from backwave.part.order import PartOrder

__all__ = [
    "Assessment", "Comparison", "Memo", "PartOrder", "PlaceResult", "PlayedStage", "Prediction", "Proof", "SoundEngine",
    "WhatIf", "Wires", "assess", "band_levels", "charts", "check_json", "compared", "engine_of", "finding_json",
    "follows", "from_plain", "made_digest", "part_digest", "play", "predict", "prediction_json", "proof_json", "proven",
    "provisional", "to_plain", "wires_json", "with_comparisons", "with_reasons", "with_solids",
]  # fmt: skip

# A prediction needs no harness and a harness no prediction: each is loaded when it is first asked for.
_WHERE = {
    "Assessment": "result", "Comparison": "sound.results", "Memo": "memo", "PartOrder": "place_result",
    "PlaceResult": "place_result", "PlayedStage": "sound.results", "Prediction": "sound.results",
    "Proof": "proof.before_after", "SoundEngine": "sound.engine", "WhatIf": "inputs.enclosures",
    "Wires": "power.results", "assess": "pipeline", "band_levels": "sound.prediction", "charts": "sound.prediction",
    "check_json": "result", "follows": "pipeline", "provisional": "pipeline", "compared": "sound.prediction",
    "engine_of": "pipeline", "finding_json": "result", "from_plain": "part_release", "made_digest": "part_release",
    "part_digest": "part_release", "play": "sound.engine", "predict": "pipeline", "prediction_json": "sound.prediction",
    "proof_json": "proof.before_after", "proven": "pipeline", "to_plain": "part_release",
    "wires_json": "power.results", "with_comparisons": "pipeline", "with_reasons": "part_release",
    "with_solids": "part_release",
}  # fmt: skip


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
