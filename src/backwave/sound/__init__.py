"""Drivers, boxes and the cabin: what a loudspeaker does on a voltage, and what of it reaches a seat.

Computes Thiele-Small parameters from any sufficient set, efficiency and sensitivity, closed and vented alignments,
ports, places drivers, boxes and ports in a network, and the pressure at each seat by the volume velocity of each
opening; then whole outputs and stages with their bands, limits and differences.  In SI units (m, m3, m2, kg, N/A, H), frequencies in Hz, voltages rms, excursion and port speed peak.
From parameters, volumes and positions as floats and small frozen dataclasses.
A room: stands on the ground (`air`, `errors`, `filters`, `filter_text`, `passive`, `finding`) and on `network`, and knows no other room.

driver      Thiele-Small parameters; a driver in a network; measured: curves laid into the model; unit: both, with limits
box         closed and vented boxes; their air, losses and ports in a network
door        the door as an acoustical network; door_kind: doors nobody measured; mount: baffle and box
source      outputs and the active chain; place_passive: passive parts
channel     one output and everything on it, solved for one volt, with what would change
design      networks on preferred values; stress: what their parts stand; carcass: boxes to build
stage       all channels in the cabin: levels, bands, the loudest; compare: differences; checks: findings
airspace    modes of the cabin's air: a box, and the interface for other shapes
cabin       pressure at the seats below the changeover: modes with damping, leaks, panels that give
field       over the whole range: modes, then direct and diffuse sound; half space
"""

from __future__ import annotations

from backwave.sound.box import ClosedBox, VentedAlignment, closed_box, place_box, place_port
from backwave.sound.cabin_modes import AirSpace, BoxCabin
from backwave.sound.cabin_transfer import Transfer, cabin_transfer, half_space
from backwave.sound.driver import Disagreement, Driver, DriverError, from_parameters, place_driver
from backwave.sound.modal_sum import Leak, Panel, Piston, modal_transfer

__all__ = [
    "AirSpace",
    "BoxCabin",
    "ClosedBox",
    "Disagreement",
    "Driver",
    "DriverError",
    "Leak",
    "Panel",
    "Piston",
    "Transfer",
    "VentedAlignment",
    "cabin_transfer",
    "closed_box",
    "from_parameters",
    "half_space",
    "modal_transfer",
    "place_box",
    "place_driver",
    "place_port",
]
