"""Gains of amplifiers: the voltage of each output, what its input gets, and its load where two outputs are bridged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Literal

from backwave.finding import Check
from backwave.job import Job
from backwave.job.gates import Gates
from backwave.job.signal_chain import SourceTable, StageTable
from backwave.job.speaker import SpeakerTable
from backwave.power import GainTarget, channel_load, gain_target
from backwave.power.gain import DriverOnChannel
from backwave.units import show


@dataclass(frozen=True)
class Channel:
    """One output whose gain is to be set."""

    id: str  # "amp.1"
    speakers: tuple[str, ...]  # what is on it
    target: GainTarget  # its voltage, behind its gate
    input_v: tuple[float, float] | None = None  # minimum and maximum at the amplifier's input for full output
    loudest_v: float | None = None  # what the factory outputs that feed it give at least, at their largest clean volume
    clean_at: str = ""  # where the volume stands then, as the display says

    @property
    def about(self) -> str:
        """What its gate is about: this output, what is on it, and its rated output."""
        return f"{self.id}: {', '.join(self.speakers)}, {self.target.ceiling_v:.3f} V"

    def shown_v(self, gates: Gates) -> float | None:
        """The voltage of its test tone, rms; None for a tweeter, and until every line of its gate holds."""
        closed = gates.missing("gain", self.id, self.about, datetime.now(UTC))
        return None if closed else self.target.test_tone_v

    def input_words(self) -> tuple[str, ...]:
        """What its input takes and gets, and where the head unit's volume stands while its gain is found."""
        found = []
        if self.input_v is not None:
            low, high = (show(v, "V") for v in self.input_v)
            found.append(f"its input takes {low} to {high} for full output")
        if self.loudest_v is not None:
            gain = "" if self.target.gain_db is None else f", {self.target.gain_db:.1f} dB below the ceiling"
            found.append(f"what feeds it gives up to {show(self.loudest_v, 'V')}{gain}")
        at = self.clean_at or "not written down yet ([[factory_output]] loud_at)"
        return (*found, f"the head unit's largest clean volume: {at}")


def gains(
    job: Job, sources: dict[str, SourceTable], limits: Mapping[str, tuple[DriverOnChannel, ...]]
) -> tuple[Channel, ...]:
    """Outputs of amplifiers, by the last stage that uses each; `limits` has their drivers as the solved network sees them."""
    rows = {speaker.id: speaker for speaker in job.file.speaker}
    last: dict[str, tuple[SourceTable, list[str]]] = {}
    for stage in job.file.stage:
        last |= _outputs(stage, sources)
    found = []
    for name, (source, speakers) in last.items():
        assert source.rated is not None
        watts, into = source.rated.watts, source.rated.ohm
        tweeters = all(rows[s].kind == "tweeter" for s in speakers)
        bass = all(rows[s].kind == "subwoofer" for s in speakers)
        # a tweeter behind its capacitor is no load for the tone
        rated = [_ohm(rows[s]) for s in speakers if tweeters or rows[s].kind != "tweeter"]
        load = into if not rated or None in rated else 1 / sum(1 / r for r in rated if r is not None)
        bridge: tuple[Check, ...] = ()
        if source.bridged:
            least = None if source.lowest_load is None else source.lowest_load.to("ohm")
            bridge = channel_load(((load,),), least, True).checks
        # the same volts as rated, or fewer: an amplifier's rating is for its own load
        power = watts * into / load if load > into else watts
        feeds = [job.gates.counted(o) for o in job.file.factory_output if o.into == source.id]
        given = [o.loudest for o in feeds] + [way.loudest for way in job.file.signal if way.into == source.id]
        volts = [one.to("V") for one in given if one is not None]
        loudest = min(volts) if volts and len(volts) == len(given) else None
        kind: Literal["tweeter", "bass", "full"] = "tweeter" if tweeters else "bass" if bass else "full"
        known = {one.name: one for one in limits.get(name, ())}
        drivers = tuple(known.get(s) or _by_sheet(rows[s], load) for s in dict.fromkeys(speakers))
        mutes = tuple(o.id for o in feeds if o.detects_load is not False)
        target = gain_target(power, load, kind, source_v=loudest, drivers=drivers, mutes=mutes)
        target = replace(target, checks=(*target.checks, *bridge))
        span = None if source.input is None else (source.input[0].to("V"), source.input[1].to("V"))
        noted = ", ".join(dict.fromkeys(o.loud_at for o in feeds if o.loud_at))
        found.append(Channel(name, tuple(speakers), target, span, loudest, noted))
    return tuple(found)


def _ohm(speaker: SpeakerTable) -> float | None:
    return None if speaker.rated is None else speaker.rated.to("ohm")


def _by_sheet(speaker: SpeakerTable, load_ohm: float) -> DriverOnChannel:
    """A driver whose network cannot be solved: its rated power, and all of the output's volts."""
    power = None if speaker.motor is None or speaker.motor.power is None else speaker.motor.power.to("W")
    return DriverOnChannel(speaker.id, _ohm(speaker) or load_ohm, power)


def _outputs(stage: StageTable, sources: dict[str, SourceTable]) -> dict[str, tuple[SourceTable, list[str]]]:
    found: dict[str, tuple[SourceTable, list[str]]] = {}
    for path in stage.path:
        source = sources.get(path.source)
        if source is not None and source.kind == "amplifier" and source.power is not None:
            found.setdefault(f"{path.source}.{path.channel}", (source, []))[1].append(path.speaker)
    return found
