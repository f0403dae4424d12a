"""Drivers and boxes: what a loudspeaker does on a voltage, before the door and the cabin.

Computes Thiele-Small parameters from any sufficient set, efficiency and sensitivity, closed and vented alignments,
ports, and places drivers, boxes and ports in a network.  In SI units (m3, m2, kg, N/A, H), frequencies in Hz,
voltages rms, excursion and port speed peak.  From parameters and volumes as floats and small frozen dataclasses.
A room: stands on the ground (`air`, `errors`) and on `network`, and knows no other room.

driver      Thiele-Small parameters; a driver in a network
box         closed and vented boxes; their air, losses and ports in a network
"""

from __future__ import annotations

from backwave.sound.box import ClosedBox, VentedAlignment, closed_box, place_box, place_port
from backwave.sound.driver import Disagreement, Driver, DriverError, from_parameters, place_driver

__all__ = [
    "ClosedBox",
    "Disagreement",
    "Driver",
    "DriverError",
    "VentedAlignment",
    "closed_box",
    "from_parameters",
    "place_box",
    "place_driver",
    "place_port",
]
