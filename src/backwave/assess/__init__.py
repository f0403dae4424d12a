"""A job becomes an assessment: the only place that knows both the job file and the rooms.

    assess           everything that follows from a job, in one frozen value
    predict          what its stages will bring, and nothing else
    check_json       that value as the JSON others rely on
    finding_json     one finding of it
    prediction_json  what each stage will bring, as JSON; charts: as charts; play: a stage otherwise
    proven           the same with what the job's readings say: before, after and predicted
    with_solids      what `make` measured on the solids, while it was measured on these very parts

From: a `backwave.job.Job`.  Units: as the rooms have them (millimeters, degrees, kilograms, newtons).  Reads no file,
formats nothing for a person, never loads the solid kernel.  Meeting floor.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from backwave.assess.words import words

if TYPE_CHECKING:
    from backwave.assess.export import check_json, finding_json
    from backwave.assess.flow import assess, predict
    from backwave.assess.memo import Memo
    from backwave.assess.placed import Assumed, PlaceFit, PlacePart
    from backwave.assess.prediction import Prediction, band_levels, prediction_json
    from backwave.assess.proof import Proof, proof_json
    from backwave.assess.proving import proven
    from backwave.assess.result import Assessment
    from backwave.assess.solids import from_plain, part_digest, to_plain, with_solids
    from backwave.assess.sound import PlayedStage, play
    from backwave.assess.sound_charts import charts
    from backwave.assess.what_if import WhatIf
    from backwave.assess.wires import Wires, wires_json
    from backwave.assess.worth import Comparison

__all__ = [
    "Assessment",
    "Assumed",
    "Comparison",
    "Memo",
    "PlaceFit",
    "PlacePart",
    "PlayedStage",
    "Prediction",
    "Proof",
    "WhatIf",
    "Wires",
    "assess",
    "band_levels",
    "charts",
    "check_json",
    "finding_json",
    "from_plain",
    "part_digest",
    "play",
    "predict",
    "prediction_json",
    "proof_json",
    "proven",
    "to_plain",
    "wires_json",
    "with_solids",
    "words",
]

# A prediction needs no harness and a harness no prediction: each is loaded when it is first asked for.
_WHERE = {
    "Assessment": "result",
    "Assumed": "placed",
    "Comparison": "worth",
    "Memo": "memo",
    "PlaceFit": "placed",
    "PlacePart": "placed",
    "PlayedStage": "sound",
    "Prediction": "prediction",
    "Proof": "proof",
    "WhatIf": "what_if",
    "Wires": "wires",
    "assess": "flow",
    "band_levels": "prediction",
    "charts": "sound_charts",
    "check_json": "export",
    "finding_json": "export",
    "from_plain": "solids",
    "part_digest": "solids",
    "play": "sound",
    "predict": "flow",
    "prediction_json": "prediction",
    "proof_json": "proof",
    "proven": "proving",
    "to_plain": "solids",
    "wires_json": "wires",
    "with_solids": "solids",
}


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
