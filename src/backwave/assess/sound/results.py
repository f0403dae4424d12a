"""What a prediction is: stages as they play, what each thing is worth, where it is heard.  Frozen values.

Frequencies are `F_HZ`; levels dB re 20 uPa at the reference drive `DRIVE_V`."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Any

import numpy as np

from backwave.acoustics import BANDS as NAMED
from backwave.finding import Finding, Message
from backwave.job.signal_chain import PathTable
from backwave.network.element import Complex
from backwave.sound.cabin import CABIN_LOSS, BoxCabin, Leak
from backwave.sound.output_network import Chain, ChannelResponse, Load, Output
from backwave.sound.stage import BandDifference, Difference, Loudest, Relief, StageLevels, Voice

DRIVE_V = 2.83
# 10 Hz to 19.95 kHz, 80 to the decade, with the decades among them
F_HZ = 1000.0 * 10 ** (np.arange(-160, 105) / 80)
AUDIBLE = (F_HZ >= 20) & (F_HZ <= 20000)
# names of ranges, Hz, as readings have them
BANDS: tuple[tuple[str, float, float], ...] = tuple((name, low, high) for name, (low, high) in NAMED.items())


@dataclass(frozen=True)
class Outputs:
    """The outputs of a source, all alike."""

    on: Output  # with the engine on and off; the same where the supply does not matter
    off: Output


@dataclass(frozen=True)
class PlannedPath:
    """One output to one driver, on one side."""

    name: str  # "front-door.left/demo-165", and the same without its side: what both sides share
    label: str
    subject: str  # whose findings its are: "front-door.left", or the box
    path: PathTable
    number: int  # its position in the stage
    side: str
    load: Load  # driver, mount, passive parts
    # m, where each outlet is in the cabin, in the order of the mount; a shorter tuple repeats its last
    points: tuple[tuple[float, float, float] | None, ...]
    polarity: int
    ringed: bool  # A foam ring closes its front in the job, whatever is tried


@dataclass(frozen=True)
class PlannedChannel:
    """One output with everything on it."""

    source: str
    channel: str
    side: str
    outputs: Outputs
    chain: Chain  # what comes before the output
    paths: tuple[PlannedPath, ...]

    @property
    def name(self) -> str:
        """What it is called: "head-unit front left"."""
        return " ".join(word for word in (self.source, self.channel, self.side) if word)


@dataclass(frozen=True)
class Cabin:
    """Where it is heard."""

    space: BoxCabin | None  # m, the air of the cabin; None: half space, 1 m before each driver
    seats: tuple[str, ...]
    ears: tuple[tuple[float, float, float], ...] = ()  # m
    loss: float = CABIN_LOSS
    leak: Leak | None = None  # m


@dataclass(frozen=True, eq=False)
class PlayedStage:
    """A stage as it plays."""

    id: str  # its name in the job and for a person
    title: str
    level_db: float  # how loud it is to play at the first seat
    plan: tuple[PlannedChannel, ...]
    channels: tuple[ChannelResponse, ...]  # solved, in the same order
    drives: tuple[Complex, ...]  # V rms, at the open terminals of each
    voices: tuple[Voice, ...]  # one for each path of each channel
    levels: StageLevels  # dB
    loud: Loudest  # dB, the loudest it goes, with the engine on and off
    loud_off: Loudest  # dB

    def path(self, voice: Voice) -> PlannedPath:
        """The path that a voice is."""
        return self.plan[voice.channel].paths[voice.load]


@dataclass(frozen=True, eq=False)
class Comparison:
    """One prediction less another."""

    id: str  # "ring@speakers", and "stage", "ring", "high-pass", "polarity" or "network"
    kind: str
    title: Message
    before: str  # the stages; the same where a what-if is meant
    after: str
    curve: Difference | None  # dB, by frequency at every seat
    bands: tuple[tuple[str, BandDifference], ...]  # dB, means at the first seat
    reliefs: tuple[tuple[str, Relief], ...] = ()  # mm, what it does to the excursion of drivers


@dataclass(frozen=True, eq=False)
class Prediction:
    """What each stage will bring: values alone."""

    cabin: Cabin
    stages: tuple[PlayedStage, ...]  # those of which anything can be predicted, in the order of the job
    findings: tuple[Finding, ...]
    names: dict[str, str]  # what a person calls each subject of a finding
    # dB, what each thing is worth; None until `compared` has worked it out, which takes as long as all the rest
    comparisons: tuple[Comparison, ...] | None = None

    @property
    def worth(self) -> tuple[Comparison, ...]:
        """What each thing is worth."""
        if self.comparisons is None:
            raise ValueError("this prediction has not been compared yet: see `compared`")
        return self.comparisons


def volume_db(played: PlayedStage) -> float:
    """How far above the reference drive a stage is turned up to play as loud as asked, dB."""
    mid = (F_HZ >= 200) & (F_HZ <= 2000)
    mean = 10 * np.log10((10 ** (played.levels.level[0, mid] / 10)).mean())
    return played.level_db - float(mean)


def listed(values: Any, places: int = 2) -> list[float | None]:
    """Numbers for JSON, rounded; None for what is not finite."""
    return [round(v, places) if isfinite(v) else None for v in np.asarray(values, float).tolist()]
