"""Supply, cable, fuse, ground and gain: what an installation draws, and what carries it without catching fire.

Computes currents from power, efficiency and music; the vehicle's budget; voltage at an amplifier during a peak; the
least standard cable that keeps drop, temperature and fuse, with why each smaller fails; fuses with what they must
break; the distribution tree; loads on a channel; what a speaker cable does; the voltage a gain is set to.

    current_budget      loads and supply: currents, alternator, minutes with the engine off
    supply_tree         branches: cable and fuse of each, from the battery outward
    choose_cable(s)     one run, or many at once
    choose_fuse         one fuse
    peak_voltage        battery, cable, joints and ground during a peak, and what that costs
    gain_target         the voltage at the output for a test tone
    channel_load        coils in series and parallel, bridged, against the lowest load
    speaker_cable       loss, damping and crossover by a run of speaker cable
    ground_check, noise_check, place_check, cautions      what has no formula

From: floats and small frozen dataclasses (`Supply`, `SupplyLoad`, `CableRun`, `SupplyBranch`).  Units: SI; cross sections mm2,
temperatures degC, battery capacity A h.  What nobody gave is taken from a default that stands in `assumed`, or asked
for in a check.  Not covered: short-circuit heating of the cable, inrush of capacitors, ripple, vehicles whose
battery is not in reach.  Vehicle maker's information, local codes and licensed practice come first.
Floor: a room, standing on the ground alone.
"""

from __future__ import annotations

from backwave.power.cable import choose_cable, choose_cables
from backwave.power.current import current_budget, load_current
from backwave.power.distribution import AtLoad, Peak, peak_voltage, supply_tree
from backwave.power.fuse import choose_fuse, place_check, prospective_a
from backwave.power.gain import GainTarget, gain_target
from backwave.power.hand_over import cautions, ground_check, noise_check
from backwave.power.heat import ampacity_a, conductor_degc
from backwave.power.speaker_cable import ChannelLoad, SpeakerCable, arrangements, channel_load, speaker_cable
from backwave.power.types import (
    CableChoice,
    CableRun,
    CurrentBudget,
    FuseChoice,
    LoadCurrent,
    Node,
    SizeTried,
    Supply,
    SupplyBranch,
    SupplyLoad,
    SupplyTree,
)

__all__ = [
    "AtLoad", "CableChoice", "CableRun", "ChannelLoad", "CurrentBudget", "FuseChoice", "GainTarget", "LoadCurrent",
    "Node", "Peak", "SizeTried", "SpeakerCable", "Supply", "SupplyBranch", "SupplyLoad", "SupplyTree", "ampacity_a",
    "arrangements", "cautions", "channel_load", "choose_cable", "choose_cables", "choose_fuse", "conductor_degc",
    "current_budget", "gain_target", "ground_check", "load_current", "noise_check", "peak_voltage", "place_check",
    "prospective_a", "speaker_cable", "supply_tree",
]  # fmt: skip
