"""Gains of amplifiers: the voltage of each output, what its input gets, and its load where two outputs are bridged."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from backwave.finding import Check
from backwave.job import Job
from backwave.job.signal_chain import SourceTable, StageTable
from backwave.power import GainTarget, channel_load, gain_target
from backwave.units import show

__all__ = ["Channel", "gains"]


@dataclass(frozen=True)
class Channel:
    """One output whose gain is to be set.

    Parameters
    ----------
    id : str, no unit
        "amp.1".
    speakers : tuple of str, no unit
        What is on it.
    target : GainTarget, no unit
        Its voltage, behind its gate.
    input_v : (float, float) or None, V
        Least and most at the amplifier's input for full output; None where nobody said.
    loudest_v : float or None, V
        What the factory outputs that feed it give at least, each at its largest clean volume; None where nobody read it.
    clean_at : str, no unit
        Where the volume stands then, as the display says; "" where nobody wrote it down.
    """

    id: str
    speakers: tuple[str, ...]
    target: GainTarget
    input_v: tuple[float, float] | None = None
    loudest_v: float | None = None
    clean_at: str = ""

    def input_words(self) -> tuple[str, ...]:
        """What its input takes and gets, and where the head unit's volume stands while its gain is found."""
        found = []
        if self.input_v is not None:
            low, high = (show(v, "V") for v in self.input_v)
            found.append(f"its input takes {low} to {high} for full output")
        if self.loudest_v is not None:
            gain = "" if self.target.gain_db is None else f", {self.target.gain_db:.1f} dB below the rated output"
            found.append(f"what feeds it gives up to {show(self.loudest_v, 'V')}{gain}")
        at = self.clean_at or "not written down yet ([[factory_output]] loud_at)"
        return (*found, f"the head unit's largest clean volume: {at}")


def gains(job: Job, sources: dict[str, SourceTable]) -> tuple[Channel, ...]:
    """Outputs of amplifiers, by the last stage that uses each.

    Parameters
    ----------
    job : Job, no unit
        The job.
    sources : dict of str to SourceTable, no unit
        Its sources, by id.
    """
    kinds = {speaker.id: speaker.kind for speaker in job.file.speaker}
    ohms = {s.id: None if s.rated is None else s.rated.to("ohm") for s in job.file.speaker}
    last: dict[str, tuple[SourceTable, list[str]]] = {}
    for stage in job.file.stage:
        last |= _outputs(stage, sources)
    found = []
    for name, (source, speakers) in last.items():
        assert source.rated is not None
        watts, into = source.rated.watts, source.rated.ohm
        tweeters = all(kinds[s] == "tweeter" for s in speakers)
        bass = all(kinds[s] == "subwoofer" for s in speakers)
        # a tweeter behind its capacitor is no load for the tone
        rated = [ohms[s] for s in speakers if tweeters or kinds[s] != "tweeter"]
        load = into if not rated or None in rated else 1 / sum(1 / r for r in rated if r is not None)
        bridge: tuple[Check, ...] = ()
        if source.bridged:
            least = None if source.lowest_load is None else source.lowest_load.to("ohm")
            bridge = channel_load(((load,),), least, True).checks
        # the same volts as rated, or fewer: an amplifier's rating is for its own load
        power = watts * into / load if load > into else watts
        feeds = [o for o in job.file.factory_output if o.into == source.id]
        volts = [o.loudest.to("V") for o in feeds if o.loudest is not None]
        loudest = min(volts) if volts and len(volts) == len(feeds) else None
        kind: Literal["tweeter", "bass", "full"] = "tweeter" if tweeters else "bass" if bass else "full"
        target = gain_target(power, load, kind, source_v=loudest)
        target = replace(target, checks=(*target.checks, *bridge))
        limits = None if source.input is None else (source.input[0].to("V"), source.input[1].to("V"))
        noted = ", ".join(dict.fromkeys(o.loud_at for o in feeds if o.loud_at))
        found.append(Channel(name, tuple(speakers), target, limits, loudest, noted))
    return tuple(found)


def _outputs(stage: StageTable, sources: dict[str, SourceTable]) -> dict[str, tuple[SourceTable, list[str]]]:
    found: dict[str, tuple[SourceTable, list[str]]] = {}
    for path in stage.path:
        source = sources.get(path.source)
        if source is not None and source.kind == "amplifier" and source.power is not None:
            found.setdefault(f"{path.source}.{path.channel}", (source, []))[1].append(path.speaker)
    return found
