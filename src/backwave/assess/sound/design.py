"""Passive networks, protective capacitors, boxes and coil wirings designed for a path of a job."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from backwave.acoustics import Air
from backwave.assess.inputs.enclosures import box_mount
from backwave.assess.result import finding_json
from backwave.assess.sound.results import F_HZ, Prediction, listed
from backwave.errors import InputError, MissingError
from backwave.finding import PRACTICE, Assumed, Check, Finding, Ledger
from backwave.job import Job, best_mm
from backwave.notation.crossover import Branch, write_branch
from backwave.power.speaker_cable import arrangements
from backwave.sound.box import Carcass, carcass, driver_volume, fits_inside
from backwave.sound.checks import load_check
from backwave.sound.design import (
    NetworkResponse,
    PartStress,
    made_of,
    pad,
    part_check,
    protective_capacitor,
    stress_of,
    textbook,
    zobel,
)
from backwave.sound.output_network import Load, channel_response

Kind = Literal["low-pass", "high-pass", "capacitor"]


@dataclass(frozen=True, eq=False)
class DesignedNetwork:
    """A network for a path."""

    path: str  # "front-door/demo-165"
    kind: str  # "low-pass", "high-pass" or "capacitor"
    branches: tuple[Branch, ...]
    ideal: NetworkResponse  # dB, on a resistor of the rated load, and on the driver as it is mounted
    real: NetworkResponse  # dB
    load_ohm: float
    stress: tuple[PartStress, ...]  # at the source's full sine
    source_v: float
    checks: tuple[Check, ...]  # parts that have to stand more than usual ones do, and the load on the source

    @property
    def written(self) -> tuple[str, ...]:
        """As it goes into the job file."""
        return tuple(write_branch(branch) for branch in self.branches)


@dataclass(frozen=True)
class DesignedBox:
    """A box to build."""

    box: str
    made: Carcass  # m
    check: Check | None  # whether the driver goes in; None where its sizes are not known
    assumed: tuple[Assumed, ...]
    port_length: float  # m, of each port; 0 for none


def design_network(
    made: Prediction, path: str, kind: Kind, f_hz: float, alignment: str = "BW2", series: str = "E12",
    pad_db: float = 0.0, with_zobel: bool = False, stage: str = "", wire_m: float = 1.0e-3,
) -> DesignedNetwork:  # fmt: skip
    """A network for a path: the textbook's, and what this driver in this place makes of it."""
    label, load, source_ohm, source_v, lowest = _load(made, path, stage)
    unit = load.unit
    rated = unit.nominal_ohm
    if kind == "capacitor":
        branches: tuple[Branch, ...] = (protective_capacitor(rated, f_hz, series),)
        side, down = "high-pass", 3.01
    else:
        branches = textbook(kind, alignment, f_hz, rated, series, wire_m)
        side, down = kind, 6.02 if alignment.startswith("LR") else 3.01
    if pad_db > 0:
        branches = (*branches, *pad(pad_db, rated, series))
    on_resistor = branches  # the textbook's load needs no Zobel
    if with_zobel:
        if unit.le_henry <= 0:
            raise MissingError(f"{label} has no Le, so there is no Zobel for it", "Add Le to the driver's motor")
        branches = (*branches, zobel(unit.driver.Re, unit.le_henry, series))
    # of the driver where it is mounted, without parts before it
    z = channel_response(F_HZ, 0.0, (Load(unit, load.mount),), spread=False).z
    real = made_of(branches, z, F_HZ, side, source_ohm, down)  # type: ignore[arg-type]  # one of two words
    stress = stress_of(real, branches, source_v)
    seen = np.abs(real.solution.v("out") / -real.solution.i("source"))
    # behind a capacitor a rated load is not in parallel with anything: the impedance alone is judged
    on_source = load_check(F_HZ, seen, None, lowest)
    ideal = made_of(on_resistor, complex(rated), F_HZ, side, source_ohm, down)  # type: ignore[arg-type]  # likewise
    checks = (*(part_check(s) for s in stress), *(() if on_source is None else (on_source,)))
    return DesignedNetwork(label, kind, branches, ideal, real, rated, stress, source_v, checks)


def _load(made: Prediction, path: str, stage: str) -> tuple[str, Load, float, float, float | None]:
    stages = [one for one in made.stages if stage in ("", one.id)]
    if not stages:
        raise InputError("stage", stage, ", ".join(one.id for one in made.stages))
    for one in stages:
        for voice in one.voices:
            if voice.label == path or voice.label.startswith(path):
                channel = one.plan[voice.channel]
                output = channel.outputs.on
                return voice.label, one.path(voice).load, output.resistance, output.clip_v, output.lowest_load
    labels = dict.fromkeys(voice.label for one in stages for voice in one.voices)
    raise InputError("path", path, ", ".join(labels))


def lowest_load(made: Prediction, path: str, stage: str = "") -> float | None:
    """Least rated load of the output that drives a path, ohm; None where nobody said."""
    return _load(made, path, stage)[4]


def design_box(job: Job, box: str) -> DesignedBox:
    """Sizes and cuts of a box of the job."""
    known = {one.id: one for one in job.file.box}
    if box not in known:
        raise InputError("box", box, ", ".join(known) or "there is none yet: add a [[box]]")
    table = known[box]
    speakers = [path.speaker for stage in job.file.stage for path in stage.path if path.box == box]
    speaker = next((s for s in job.file.speaker if s.id in speakers), None)
    assumed: list[Assumed] = []
    panel = 18e-3
    if table.panel is None:
        assumed.append(Assumed(f"box.{box}.panel", panel * 1e3, "mm", PRACTICE))
    else:
        panel = table.panel.to("m")
    depth, frame, room = 0.0, 0.0, 0.0
    if speaker is not None and speaker.profile is not None:
        points = tuple((best_mm(r) * 1e-3, best_mm(d) * 1e-3) for r, d in speaker.profile)
        room, depth = driver_volume(points), points[-1][1]
    elif (
        speaker is not None and speaker.depth is not None and speaker.magnet is not None and speaker.cutout is not None
    ):
        depth = best_mm(speaker.depth) * 1e-3
        basket, magnet = best_mm(speaker.cutout) / 2e3, best_mm(speaker.magnet) / 2e3
        room = driver_volume(((basket, 0.0), (magnet, 0.6 * depth), (magnet, depth)))
    else:
        room = 0.06 * table.volume.to("m3")
        liters, why = float(f"{room * 1e3:.2g}"), f"its depth is not known; {PRACTICE}"
        assumed.append(Assumed(f"box.{box}: the driver's own room", liters, "L", why))
    if speaker is not None and speaker.frame is not None:
        frame = best_mm(speaker.frame) * 1e-3
    mount = box_mount(table, Ledger())
    length = mount.length(Air()) if mount.port is not None else 0.0
    width, height, deep = (None if x is None else x.to("m") for x in (table.width, table.height, table.depth))
    port_area = 0.0 if mount.port is None else mount.port.area
    built = carcass(table.volume.to("m3"), panel, (width, height, deep), room, port_area, length)
    hole = 0.0 if speaker is None or speaker.cutout is None else best_mm(speaker.cutout) * 1e-3
    check = fits_inside(built, frame, depth, length, hole=hole) if frame and depth else None
    return DesignedBox(box, built, check, tuple(assumed), length)


def coils_json(count: int, ohm: float, lowest_ohm: float | None) -> list[dict[str, Any]]:
    """Every way to wire equal coils, with the load each makes and whether the amplifier allows it."""
    return [
        {
            "in_series": s, "in_parallel": p, "load_ohm": round(made, 3),
            "allowed": None if lowest_ohm is None else made >= 0.95 * lowest_ohm,
        }
        for s, p, made in arrangements(count, ohm)
    ]  # fmt: skip


def network_json(one: DesignedNetwork) -> dict[str, Any]:
    """A designed network as JSON."""
    return {
        "path": one.path, "kind": one.kind, "network": list(one.written), "load_ohm": one.load_ohm,
        "ideal": _made_json(one.ideal), "real": _made_json(one.real), "source_v": round(one.source_v, 3),
        "findings": [finding_json(Finding(check, one.path)) for check in one.checks],
        "stress": [
            {
                "part": s.name, "value": s.part.value, "ohm": s.part.ohm, "current_a": round(s.amps, 3),
                "voltage_peak_v": round(s.volts, 2), "sine_w": round(s.watts, 2), "music_w": round(s.music_watts, 3),
                "at_hz": round(s.at_hz, 1),
            }
            for s in one.stress
        ],
    }  # fmt: skip


def _made_json(made: NetworkResponse) -> dict[str, Any]:
    return {
        "f_hz": listed(made.f_hz, 3), "level_db": listed(made.level), "low_db": listed(made.low),
        "high_db": listed(made.high), "reached_hz": None if made.reached_hz is None else round(made.reached_hz, 1),
        "down_db": made.down_db, "least_ohm": round(made.least_ohm, 3), "least_at_hz": round(made.least_at_hz, 1),
    }  # fmt: skip
