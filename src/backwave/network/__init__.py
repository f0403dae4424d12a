"""Linear networks, solved over frequency: build, solve, sensitivities, tolerances, textbook ladders.

Computes node voltages, branch currents, impedances and power of a network of resistors, inductors, capacitors,
impedances, sources, transformers, gyrators and controlled sources, so that electrical, mechanical and acoustical
parts can stand in one network.  From element values in SI units (force or pressure as voltage: N, Pa; velocity or
volume velocity as current: m/s, m3/s) and frequencies in Hz; phasors are rms.  A room: stands on the ground
(`errors`, `uncertainty`) and knows no other room.

element       what a network is made of; voice coil, slit, hole, piston: impedances that no coil or capacitor makes
circuit       `Network` and `Solution`, the way in; sensitivities by the adjoint network; as open SPICE
mna           the equations, and networks without one answer
perturbation  elements changed: tolerances by random draws, single changes
alignments    Butterworth and Linkwitz-Riley ladders, Zobel, L-pad; preferred values of IEC 60063
"""

from __future__ import annotations

from backwave.network.circuit import Network, Solution
from backwave.network.element import Element, NetworkError, Probe
from backwave.network.perturbation import tolerance_draws

__all__ = ["Element", "Network", "NetworkError", "Probe", "Solution", "tolerance_draws"]
