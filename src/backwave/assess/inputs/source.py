"""From a source's table to its outputs: clipping voltage, resistance, least load, what it does to the signal."""

from __future__ import annotations

from dataclasses import dataclass, replace

from backwave.assumptions import PRACTICE, Ledger
from backwave.errors import InputError
from backwave.finding import Check, Text
from backwave.job.signal_chain import Source, rating
from backwave.sound.source import (
    AMPLIFIER_RESISTANCE,
    BRIDGE_LOSS,
    BRIDGE_RESISTANCE,
    Output,
    amplifier,
    bridge,
    factory,
)

__all__ = ["ENGINE_OFF_V", "ENGINE_ON_V", "Outputs", "outputs_of"]

ENGINE_ON_V, ENGINE_OFF_V = 14.4, 12.4


@dataclass(frozen=True)
class Outputs:
    """The outputs of a source, all alike.

    Parameters
    ----------
    on, off : Output, no unit
        With the engine on and off; the same where the supply does not matter.
    channels : int or None, no unit
        How many it has; None where nobody said.
    rated_w, into_ohm : float or None, W and ohm
        Rating of an amplifier.
    """

    on: Output
    off: Output
    channels: int | None = None
    rated_w: float | None = None
    into_ohm: float | None = None


def outputs_of(source: Source, ledger: Ledger) -> Outputs | Check:
    """The outputs of a source, or what it lacks.

    Parameters
    ----------
    source : Source, no unit
        Its table.
    ledger : Ledger, no unit
        Takes what was assumed.
    """
    key = f"source.{source.id}"

    def assumed(name: str, value: float, unit: str, why: str) -> float:
        ledger.note(f"{key}.{name}", value, unit, f"{why}; {PRACTICE}")
        return value

    lowest = None if source.lowest_load is None else source.lowest_load.to("ohm")
    try:
        if source.kind == "bridge":
            on = source.supply.to("V") if source.supply else assumed("supply", ENGINE_ON_V, "V", "engine on")
            off = (
                source.engine_off.to("V")
                if source.engine_off
                else assumed("engine_off", min(ENGINE_OFF_V, on), "V", "a battery at rest, 12.2 to 12.6 V")
            )
            loss = source.loss.to("V") if source.loss else assumed("loss", BRIDGE_LOSS, "V", "0.5 to 2 V")
            own = (
                source.resistance.to("ohm")
                if source.resistance
                else assumed("resistance", BRIDGE_RESISTANCE, "ohm", "output and loom")
            )
            return Outputs(bridge(on, own, lowest, loss), bridge(off, own, lowest, loss))
        own = (
            source.resistance.to("ohm")
            if source.resistance
            else assumed("resistance", AMPLIFIER_RESISTANCE, "ohm", "output and speaker cable")
        )
        if source.kind == "amplifier":
            if source.power is None:
                return _wanted("what this amplifier is rated at", 'power, such as "4 x 75 W into 4 ohm"', "power")
            channels, watts, ohm = rating(source.power)
            made = amplifier(watts, ohm, own, lowest)
            if source.bridged:  # twice the voltage from twice the resistance, and each channel sees half the load
                least = None if lowest is None else 2 * lowest
                made = replace(made, clip_v=2 * made.clip_v, resistance=2 * made.resistance, lowest_load=least)
                return Outputs(made, made, channels // 2, 2 * watts, 2 * ohm)
            return Outputs(made, made, channels, watts, ohm)
        if source.clip is None:
            return _wanted(
                "how far this factory output goes", "clip, its greatest clean sine in volts rms", "clip"
            )
        made = factory(source.clip.to("V"), own, source.levels, lowest)
        return Outputs(made, made)
    except InputError as error:
        said = Text("This source cannot be: {why}", (("why", str(error), ""),))
        return Check("sound.data", "caution", said, remedy=Text("Look at its numbers again"), key="supply")


def _wanted(what: str, remedy: str, key: str) -> Check:
    said = Text("Nobody has said {what}, so nothing on it is predicted", (("what", what, ""),))
    return Check("sound.data", "caution", said, remedy=Text("Add {remedy}", (("remedy", remedy, ""),)), key=key)
