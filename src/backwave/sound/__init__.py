"""Drivers, boxes and the cabin: what a loudspeaker does on a voltage, and what of it reaches a seat.

From parameters, volumes and positions as floats and small frozen dataclasses, in SI units (m, m3, m2, kg, N/A, H),
frequencies in Hz, voltages rms, excursion and port speed peak.  A room: stands on the ground and on `network`, and
knows no other room.

driver           Thiele-Small parameters; a driver in a network; with its coil, limits and measurements
measured_curves  curves laid into the model
box              closed and vented boxes, their air, losses and ports in a network; boxes to build
enclosures       what a driver is mounted in: baffle, box, door; kinds of door that nobody measured
output_network   an output, its active chain and everything on it, solved for one volt, with what would change
design           networks on preferred values, and what their parts stand
cabin            the cabin's air: modes with damping and leaks, above them direct and diffuse sound; half space
stage            all channels in the cabin: levels, bands, the loudest; two predictions compared
checks           findings
"""
