"""From a source's table to its outputs: clipping voltage, resistance, least load, what it does to the signal."""

from __future__ import annotations

from dataclasses import dataclass, replace

from backwave.assumptions import Ledger
from backwave.errors import InputError
from backwave.finding import PRACTICE, Check, Message
from backwave.job.signal_chain import SourceTable
from backwave.sound.output_network import (
    AMPLIFIER_RESISTANCE,
    BRIDGE_LOSS,
    BRIDGE_RESISTANCE,
    Output,
    amplifier,
    bridge,
)
from backwave.units import Quantity, in_unit

ENGINE_ON_V, ENGINE_OFF_V = 14.4, 12.4


@dataclass(frozen=True)
class Outputs:
    """The outputs of a source, all alike."""

    on: Output  # with the engine on and off; the same where the supply does not matter
    off: Output
    channels: int | None = None  # how many it has; None where nobody said
    rated_w: float | None = None
    into_ohm: float | None = None


def resistance_of(source: SourceTable, ledger: Ledger) -> float:
    """Resistance of one output of a source, ohm."""
    if source.kind == "bridge":
        return _given(source.resistance, source, ledger, "resistance", BRIDGE_RESISTANCE, "ohm", "output and loom")
    why = "output and speaker cable"
    return _given(source.resistance, source, ledger, "resistance", AMPLIFIER_RESISTANCE, "ohm", why)


def rated_v(source: SourceTable, ledger: Ledger) -> float | None:
    """The largest sine an output is rated or measured at, V rms; None where nobody said or it cannot be."""
    if source.rated is not None:
        return source.rated.volts
    if source.clip is not None:
        return source.clip.to("V")
    if source.kind != "bridge":
        return None
    supply, loss = _supply_v(source, ledger), _loss_v(source, ledger)
    return bridge(supply, loss_v=loss).clip_v if supply > loss else None


def _supply_v(source: SourceTable, ledger: Ledger) -> float:
    return _given(source.supply, source, ledger, "supply", ENGINE_ON_V, "V", "engine on")


def _loss_v(source: SourceTable, ledger: Ledger) -> float:
    return _given(source.loss, source, ledger, "loss", BRIDGE_LOSS, "V", "0.5 to 2 V")


def _given(
    value: Quantity | None, source: SourceTable, ledger: Ledger, name: str, default: float, unit: str, why: str
) -> float:
    """What the job says, or what is assumed, which is noted."""
    if value is not None:
        return value.to(unit)
    ledger.note(f"source.{source.id}.{name}", default, unit, f"{why}; {PRACTICE}")
    return default


def outputs_of(source: SourceTable, ledger: Ledger) -> Outputs | Check:
    """The outputs of a source, or what it lacks."""
    lowest = in_unit(source.lowest_load, "ohm")
    try:
        if source.kind == "bridge":
            on = _supply_v(source, ledger)
            rest = min(ENGINE_OFF_V, on)
            why = "a battery at rest, 12.2 to 12.6 V"
            off = _given(source.engine_off, source, ledger, "engine_off", rest, "V", why)
            loss, own = _loss_v(source, ledger), resistance_of(source, ledger)
            return Outputs(bridge(on, own, lowest, loss), bridge(off, own, lowest, loss))
        own = resistance_of(source, ledger)
        if source.kind == "amplifier":
            rated = source.power
            if rated is None:
                return _wanted("what this amplifier is rated at", 'power, such as "4 x 75 W into 4 ohm"', "power")
            made = amplifier(rated.watts, rated.ohm, own, lowest)
            if source.bridged:  # twice the voltage from twice the resistance, and each channel sees half the load
                least = None if lowest is None else 2 * lowest
                made = replace(made, clip_v=2 * made.clip_v, resistance=2 * made.resistance, lowest_load=least)
                rated = rated.bridged()
            return Outputs(made, made, rated.channels, rated.watts, rated.ohm)
        if source.clip is None:
            return _wanted("how far this factory output goes", "clip, its greatest clean sine in volts rms", "clip")
        made = Output(source.clip.to("V"), own, lowest, source.levels)
        return Outputs(made, made)
    except InputError as error:
        said = Message("This source cannot be: {why}", (("why", str(error), ""),))
        return Check("sound.data", "caution", said, remedy=Message("Look at its numbers again"), key="supply")


def _wanted(what: str, remedy: str, key: str) -> Check:
    said = Message("Nobody has said {what}, so nothing on it is predicted", (("what", what, ""),))
    return Check("sound.data", "caution", said, remedy=Message("Add {remedy}", (("remedy", remedy, ""),)), key=key)
