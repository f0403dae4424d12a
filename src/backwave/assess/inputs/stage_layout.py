"""A stage of the job laid out: which outputs there are, what is on each, where every outlet is in the cabin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from backwave.assess.inputs.enclosures import Mounts, WhatIf
from backwave.assess.inputs.source import Outputs
from backwave.assess.sound.results import PlannedChannel, PlannedPath
from backwave.job import Place
from backwave.job.signal_chain import PathTable, StageTable
from backwave.sound.driver import Unit
from backwave.sound.output_network import Chain, Load


def plan_stage(
    stage: StageTable,
    what_if: WhatIf,
    units: Mapping[str, Unit | None],
    outputs: Mapping[str, Outputs | None],
    here: Mapping[str, Place],
    mounts: Mounts,
) -> tuple[PlannedChannel, ...]:
    """The outputs of a stage; a path whose driver or source lacks something is left out."""
    found: dict[tuple[str, str, str], PlannedChannel] = {}
    others = dict(what_if.networks)
    for number, path in enumerate(stage.path):
        unit, output = units[path.speaker], outputs[path.source]
        if unit is None or output is None:
            continue
        target = path.opening or path.box or ""
        label = f"{target}/{path.speaker}"
        parts = others.get(label, path.network)
        polarity = -path.polarity if label in what_if.flipped else path.polarity
        filters = tuple(f for f in path.filters if what_if.high_pass or f.kind != "high-pass")
        chain = Chain(
            filters, 0.0 if path.delay is None else path.delay.to("s"), 0.0 if path.gain is None else path.gain.to("dB")
        )
        for side, subject in _sides(path, here):
            mounted = mounts.of(path, subject, unit, what_if)
            if mounted is None:
                continue
            mount, points = mounted
            name = f"{subject}/{path.speaker}"
            planned = PlannedPath(
                name,
                label,
                subject,
                path,
                number,
                side,
                Load(unit, mount, parts),
                points,
                polarity,
                mounts.has_ring(subject, path.speaker),
            )
            key = (path.source, path.channel, side)
            if key in found:
                found[key] = replace(found[key], paths=(*found[key].paths, planned))
            else:
                found[key] = PlannedChannel(*key, output, chain, (planned,))
    return tuple(found.values())


def _sides(path: PathTable, here: Mapping[str, Place]) -> list[tuple[str, str]]:
    """Each side of a path with its subject; a box has the side that the path names, or none."""
    if path.opening is None:
        return [(path.side or "", path.box or "")]
    return [
        (place.side, subject)
        for subject, place in here.items()
        if place.opening.id == path.opening and path.side in (None, place.side)
    ]
