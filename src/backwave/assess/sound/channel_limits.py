"""What each output's drivers stand, as the solved network has it: for the ceiling of a gain and for a tweeter's filter."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from backwave.assess.sound.engine import SoundEngine, solved_channels
from backwave.assess.sound.results import F_HZ, PlannedChannel
from backwave.network.element import Real
from backwave.power.gain import TONE_BANDS, DriverOnChannel, program_share
from backwave.sound.driver_model import Unit
from backwave.sound.output_network import LoadResponse

__all__ = ["channel_drivers", "filters_gain"]


def filters_gain(channel: PlannedChannel) -> Real:
    """Size of an output's filters: what passes bands as it is, a peak or shelf only where it lifts (no unit)."""
    size = np.ones(len(F_HZ))
    for one in channel.chain.filters:
        own = np.abs(one.response(F_HZ))
        size = size * (own if one.kind in ("high-pass", "low-pass") else np.maximum(own, 1.0))
    return size


def channel_drivers(engine: SoundEngine) -> Mapping[str, tuple[DriverOnChannel, ...]]:
    """The drivers on each output, by "source.channel" of the last stage that uses it: of two alike, the one in more need."""
    found: dict[str, tuple[DriverOnChannel, ...]] = {}
    for stage in engine.job.file.stage:
        here: dict[str, dict[str, DriverOnChannel]] = {}
        for channel, solved in solved_channels(engine, stage):
            drivers = here.setdefault(f"{channel.source}.{channel.channel}", {})
            gain = filters_gain(channel)
            bass = all(p.load.unit.kind == "subwoofer" for p in channel.paths)
            for path, load in zip(channel.paths, solved.loads, strict=True):
                made = _driver(
                    path.path.speaker, path.load.unit, load, gain, TONE_BANDS["bass" if bass else "full"]
                )
                drivers[made.name] = _worse(made, drivers.get(made.name, made))
        found |= {name: tuple(drivers.values()) for name, drivers in here.items()}
    return found


def _driver(name: str, unit: Unit, load: LoadResponse, gain: Real, band: tuple[float, float]) -> DriverOnChannel:
    volts = np.abs(load.volts) * gain
    heard = (F_HZ >= 20) & (F_HZ <= 20_000)
    within = (band[0] <= F_HZ) & (band[1] >= F_HZ)
    share = program_share(F_HZ, volts) if unit.kind == "tweeter" else float(volts[heard].max())
    x_max = None if unit.x_max is None else 1e3 * unit.x_max
    travel = float((load.excursion * gain)[within].max()) * 1e3
    return DriverOnChannel(name, unit.nominal_ohm, unit.power_w, share, x_max, travel)


def _worse(one: DriverOnChannel, other: DriverOnChannel) -> DriverOnChannel:
    travel = max(one.mm_per_v or 0.0, other.mm_per_v or 0.0)
    return replace(one, share=max(one.share, other.share), mm_per_v=travel)
