"""What a prediction is: stages as they play, what each thing is worth, where it is heard.  Frozen values.

Frequencies are `F_HZ`; levels dB re 20 uPa at the reference drive `DRIVE_V`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backwave.acoustics.listening_bands import BANDS as NAMED
from backwave.assess.inputs.source import Outputs
from backwave.finding import Finding, Message
from backwave.job.signal_chain import PathTable
from backwave.network.element import Complex
from backwave.sound.cabin_modes import BoxCabin
from backwave.sound.differences import BandDifference, Difference, Relief
from backwave.sound.modal_sum import CABIN_LOSS, Leak
from backwave.sound.output_network import ChannelResponse, Load
from backwave.sound.source import Chain
from backwave.sound.stage import Loudest, StageLevels, Voice

__all__ = [
    "BANDS", "DRIVE_V", "F_HZ", "Cabin", "Comparison", "PlannedChannel", "PlannedPath", "PlayedStage", "Prediction",
    "volume_db",
]  # fmt: skip

DRIVE_V = 2.83
F_HZ = 1000.0 * 10 ** (np.arange(-160, 105) / 80)
"""10 Hz to 19.95 kHz, 80 to the decade, with the decades among them."""
BANDS: tuple[tuple[str, float, float], ...] = tuple((name, low, high) for name, (low, high) in NAMED.items())
"""Names of ranges, Hz, as readings have them."""


@dataclass(frozen=True)
class PlannedPath:
    """One output to one driver, on one side.

    Parameters
    ----------
    name, label : str, no unit
        "front-door.left/demo-165", and the same without its side: what both sides share.
    subject : str, no unit
        Whose findings its are: "front-door.left", or the box.
    path : PathTable, no unit
        As the job has it.
    number : int, no unit
        Its position in the stage.
    side : str, no unit
        "left", "right" or "".
    load : Load, no unit
        Driver, mount, passive parts.
    points : tuple of (x, y, z), m
        Where each outlet is in the cabin, in the order of the mount; a shorter tuple repeats its last.
    polarity : int, no unit
        1 or -1.
    ringed : bool, no unit
        A foam ring closes its front in the job, whatever is tried.
    """

    name: str
    label: str
    subject: str
    path: PathTable
    number: int
    side: str
    load: Load
    points: tuple[tuple[float, float, float] | None, ...]
    polarity: int
    ringed: bool


@dataclass(frozen=True)
class PlannedChannel:
    """One output with everything on it.

    Parameters
    ----------
    source, channel, side : str, no unit
        Which.
    outputs : Outputs, no unit
        Of its source.
    chain : Chain, no unit
        What comes before the output.
    paths : tuple of PlannedPath, no unit
        All in parallel on it.
    """

    source: str
    channel: str
    side: str
    outputs: Outputs
    chain: Chain
    paths: tuple[PlannedPath, ...]

    @property
    def name(self) -> str:
        """What it is called: "head-unit front left"."""
        return " ".join(word for word in (self.source, self.channel, self.side) if word)


@dataclass(frozen=True)
class Cabin:
    """Where it is heard.

    Parameters
    ----------
    space : BoxCabin or None, m
        The air of the cabin; None: half space, 1 m before each driver.
    seats : tuple of str, no unit
        Names.
    ears : tuple of (x, y, z), m
        Where they are.
    loss : float, no unit
        Loss factor of the modes.
    leak : Leak or None, m
        To the outside.
    """

    space: BoxCabin | None
    seats: tuple[str, ...]
    ears: tuple[tuple[float, float, float], ...] = ()
    loss: float = CABIN_LOSS
    leak: Leak | None = None


@dataclass(frozen=True, eq=False)
class PlayedStage:
    """A stage as it plays.

    Parameters
    ----------
    id, title : str, no unit
        Its name in the job and for a person.
    level_db : float, dB
        How loud it is to play at the first seat.
    plan : tuple of PlannedChannel, no unit
        Its outputs.
    channels : tuple of ChannelResponse, no unit
        Solved, in the same order.
    drives : tuple of (n_freq,) complex, V rms
        At the open terminals of each.
    voices : tuple of Voice, no unit
        One for each path of each channel.
    levels : StageLevels, dB
        At the seats.
    loud, loud_off : Loudest, dB
        The loudest it goes, with the engine on and off.
    """

    id: str
    title: str
    level_db: float
    plan: tuple[PlannedChannel, ...]
    channels: tuple[ChannelResponse, ...]
    drives: tuple[Complex, ...]
    voices: tuple[Voice, ...]
    levels: StageLevels
    loud: Loudest
    loud_off: Loudest

    def path(self, voice: Voice) -> PlannedPath:
        """The path that a voice is.

        Parameters
        ----------
        voice : Voice, no unit
            One of `voices`.
        """
        return self.plan[voice.channel].paths[voice.load]


@dataclass(frozen=True, eq=False)
class Comparison:
    """One prediction less another.

    Parameters
    ----------
    id, kind : str, no unit
        "ring@speakers", and "stage", "ring", "high-pass", "polarity" or "network".
    title : Message, no unit
        What is compared.
    before, after : str, no unit
        The stages; the same where a what-if is meant.
    curve : Difference or None, dB
        By frequency at every seat.
    bands : tuple of (name, BandDifference), dB
        Means at the first seat.
    reliefs : tuple of (path, Relief), mm
        What it does to the excursion of drivers.
    """

    id: str
    kind: str
    title: Message
    before: str
    after: str
    curve: Difference | None
    bands: tuple[tuple[str, BandDifference], ...]
    reliefs: tuple[tuple[str, Relief], ...] = ()


@dataclass(frozen=True, eq=False)
class Prediction:
    """What each stage will bring: values alone.

    Parameters
    ----------
    cabin : Cabin, no unit
        Where it is heard.
    stages : tuple of PlayedStage, no unit
        Those of which anything can be predicted, in the order of the job.
    findings : tuple of Finding, no unit
        Of all of them.
    names : dict of str to str, no unit
        What a person calls each subject of a finding.
    comparisons : tuple of Comparison or None, dB
        What each thing is worth; None until `compared` has worked it out, which takes as long as all the rest.
    """

    cabin: Cabin
    stages: tuple[PlayedStage, ...]
    findings: tuple[Finding, ...]
    names: dict[str, str]
    comparisons: tuple[Comparison, ...] | None = None

    @property
    def worth(self) -> tuple[Comparison, ...]:
        """What each thing is worth."""
        if self.comparisons is None:
            raise ValueError("this prediction has not been compared yet: see `compared`")
        return self.comparisons


def volume_db(played: PlayedStage) -> float:
    """How far above the reference drive a stage is turned up to play as loud as asked, dB.

    Parameters
    ----------
    played : PlayedStage, no unit
        The stage.
    """
    mid = (F_HZ >= 200) & (F_HZ <= 2000)
    mean = 10 * np.log10((10 ** (played.levels.level[0, mid] / 10)).mean())
    return played.level_db - float(mean)
