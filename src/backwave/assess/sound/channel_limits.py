"""What each output's drivers stand, as the solved network has it: for a gain's ceiling and a tweeter's filter."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from backwave.assess.sound.results import F_HZ, PlannedChannel, PlannedPath
from backwave.network.element import Real
from backwave.notation.filters import corner_hz
from backwave.power.gain import TONE_BANDS, DriverOnChannel, program_share
from backwave.sound.checks import AtClip, filter_holds
from backwave.sound.driver_model import Unit
from backwave.sound.output_network import ChannelResponse, LoadResponse


def filters_gain(channel: PlannedChannel) -> Real:
    """Size of an output's filters: what passes bands as it is, a peak or shelf only where it lifts (no unit)."""
    size = np.ones(len(F_HZ))
    for one in channel.chain.filters:
        own = np.abs(one.response(F_HZ))
        size = size * (own if one.kind in ("high-pass", "low-pass") else np.maximum(own, 1.0))
    return size


# the outputs of a stage, each laid out and solved for one volt
Solved = tuple[tuple[PlannedChannel, ChannelResponse], ...]


def channel_drivers(stages: Iterable[Solved]) -> Mapping[str, tuple[DriverOnChannel, ...]]:
    """The drivers on each output, by "source.channel" of the last stage that uses it: of two alike, the one in more need."""
    found: dict[str, tuple[DriverOnChannel, ...]] = {}
    for stage in stages:
        here: dict[str, dict[str, DriverOnChannel]] = {}
        for channel, solved in stage:
            drivers = here.setdefault(f"{channel.source}.{channel.channel}", {})
            gain = filters_gain(channel)
            bass = all(p.load.unit.kind == "subwoofer" for p in channel.paths)
            for path, load in zip(channel.paths, solved.loads, strict=True):
                made = _driver(path.path.speaker, path.load.unit, load, gain, TONE_BANDS["bass" if bass else "full"])
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


def tweeter_at_clip(channel: PlannedChannel, path: PlannedPath, load: LoadResponse) -> AtClip:
    """A tweeter while its output clips, behind its filters and parts."""
    unit, clip_v, gain = path.load.unit, channel.outputs.on.clip_v, filters_gain(channel)
    heard = (F_HZ >= 20) & (F_HZ <= 20_000)
    volts = program_share(F_HZ, np.abs(load.volts) * gain) * clip_v
    return AtClip(
        1e3 * clip_v * float((load.excursion * gain)[heard].max()),
        None if unit.x_max is None else 1e3 * unit.x_max,
        volts**2 / unit.nominal_ohm,
        unit.power_w,
    )


def guarded_tweeters(stage: Solved) -> Mapping[tuple[str, str], bool]:
    """For each (place, tweeter) of a stage whether its active high-pass alone keeps it whole."""
    found = {}
    for channel, solved in stage:
        for path, load in zip(channel.paths, solved.loads, strict=True):
            if path.load.unit.kind == "tweeter":
                at_clip = tweeter_at_clip(channel, path, load)
                corner = corner_hz(path.path.filters)
                found[path.subject, path.path.speaker] = filter_holds(path.load.unit.driver.fs, corner, at_clip)
    return found
