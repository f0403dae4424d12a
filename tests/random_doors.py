"""Random doors with a speaker each, fully surveyed, and a reference of its own that says whether it can be mounted.

The reference is arithmetic on the true lengths: it shares no code with the rooms.  It calls a door mountable where some
stand-off keeps every margin by `SPARE_MM` more than asked, which is what reading three times with a caliper leaves in doubt.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, radians, sin

import numpy as np

GLASS, GRILLE, HOLE, SPARE_MM = 5.0, 3.0, 1.0, 0.9
GASKET_MM = 1.0  # the speaker's own, half of it closed
STEP_MM = 0.2
FLOOR_MM = 12.0  # an insert of 8 mm, 2 mm under it, the gasket below and half of the speaker's own
HEAD_MM = 8.6  # M4 button (ISO 7380-1) with the play of the hole in the foam


@dataclass(frozen=True)
class Door:
    """One door as it is."""

    hole: float  # all in mm: diameter
    glass: tuple[tuple[float, float], ...]  # (at the axis, at `far`) with the window down, half, up
    far: float
    trim: float
    land: float
    frame: float
    cutout: float
    rim: float
    front: float
    xmech: float
    profile: tuple[tuple[float, float], ...]
    terminals: tuple[float, float, float]  # width, radius, depth
    circle: float
    fixing: float  # radius their centers lie on
    flange: float
    kind: str = "rivet nut"
    fixings: int = 3

    def places(self) -> list[tuple[float, float]]:
        """Centers of the fixings."""
        return [
            (self.fixing * cos(radians(a)), self.fixing * sin(radians(a)))
            for a in (90.0 + 360.0 * k / self.fixings for k in range(self.fixings))
        ]


def random_door(rng: np.random.Generator) -> Door:
    """A door such as there are: about two in three can be mounted."""
    cutout = rng.uniform(92.0, 138.0)
    frame = cutout + rng.uniform(25.0, 31.0)
    depth, magnet = rng.uniform(45.0, 80.0), cutout * rng.uniform(0.5, 0.66)
    basket = cutout / 2 - rng.uniform(0.6, 2.0)
    profile = (
        (basket, 0.0),
        (basket - rng.uniform(2.0, 5.0), rng.uniform(9.0, 15.0)),
        (magnet / 2, depth * rng.uniform(0.5, 0.7)),
        (magnet / 2, depth),
    )
    off = rng.uniform(11.0, 26.0)
    front, xmech, rim = rng.uniform(5.0, 12.0), rng.uniform(5.0, 9.0), rng.uniform(4.0, 6.5)
    hole = cutout + rng.uniform(-3.0, 7.0)
    down = depth - off + GLASS + rng.uniform(-4.0, 22.0)
    trim = off + front + xmech + GRILLE + rng.uniform(-1.0, 9.0)
    land = min(off + rim + rng.uniform(5.0, 10.0), trim)
    tilt = rng.uniform(0.0, 4.0)
    glass = tuple((down + more, down + more - tilt) for more in (0.0, rng.uniform(1.0, 8.0), rng.uniform(12.0, 25.0)))
    fixing = max(frame / 2 + rng.uniform(6.5, 10.0), hole / 2 + rng.uniform(12.0, 16.0))
    return Door(
        hole, glass, frame / 2 + 5.0, trim, land, frame, cutout, rim, front, xmech, profile,
        (rng.uniform(24.0, 36.0), rng.uniform(cutout / 2 - 14.0, cutout / 2 - 4.0), rng.uniform(18.0, 30.0)),
        frame - rng.uniform(9.5, 11.0), fixing, 2.0 * (fixing + rng.uniform(12.0, 16.0)), "rivet nut", int(rng.integers(3, 7)),
    )  # fmt: skip


def _radius_at(door: Door, depth: float) -> float:
    """Largest radius of the speaker at or behind a depth."""
    points = door.profile
    found = [r for r, d in points if d >= depth]
    for (r0, d0), (r1, d1) in pairwise(points):
        if d0 <= depth <= d1 and d1 > d0:
            found.append(r0 + (r1 - r0) * (depth - d0) / (d1 - d0))
    width, radius, end = door.terminals
    if end >= depth:
        found.append(hypot(radius, width / 2))
    return max(found, default=0.0)


def _keeps(door: Door, off: float) -> bool:
    """Whether a stand-off keeps every margin and the spare, at the true lengths."""
    radii = np.linspace(0.0, door.far + 5.0, 200)
    profile_r, profile_d = [r for r, _ in door.profile], [d for _, d in door.profile]
    width, radius, end = door.terminals
    for at_axis, at_far in door.glass:
        free = off + at_axis + (at_far - at_axis) * np.minimum(radii / door.far, 1.0)
        # the speaker's depth at a radius: the deepest of its profile that is as wide
        deep = np.array([max((d for r, d in _walk(profile_r, profile_d) if r >= x), default=-99.0) for x in radii])
        if (free - deep).min() < GLASS + SPARE_MM:
            return False
        out = hypot(radius, width / 2)
        if off + at_axis + (at_far - at_axis) * min(out / door.far, 1.0) - end < GLASS + SPARE_MM:
            return False
    if door.trim - (off + door.front + door.xmech) < GRILLE + SPARE_MM:
        return False
    play = 0.7  # of the bolts, at most in 19 of 20
    return door.hole / 2 - _radius_at(door, off) >= HOLE + play + SPARE_MM


def _walk(radii: list[float], depths: list[float]) -> list[tuple[float, float]]:
    found = []
    for (r0, d0), (r1, d1) in zip(zip(radii, depths), list(zip(radii, depths))[1:]):
        found += [(r0 + (r1 - r0) * t, d0 + (d1 - d0) * t) for t in np.linspace(0.0, 1.0, 25)]
    return found


def mountable(door: Door) -> bool:
    """Whether some stand-off keeps all of it, and foam, threads and terminals have room there."""
    width, radius, _ = door.terminals
    if door.flange > 216.0:  # the printer's bed
        return False
    rim = (door.frame - door.cutout) / 2.0
    if rim - (door.frame - door.circle) / 2.0 - HEAD_MM / 2.0 < 3.5:  # foam beside the heads of its screws
        return False
    if hypot(radius, width / 2) > door.cutout / 2 - 0.5:  # through the bore, straight in
        return False
    for off in np.arange(FLOOR_MM, 40.0, STEP_MM):
        tall = door.land - off - door.rim  # what the foam ring closes to
        if _keeps(door, float(off)) and 3.5 <= tall <= 9.0:
            return True
    return False


def written(door: Door, rng: np.random.Generator) -> str:
    """A job file of it, read three times each with a caliper that is out by up to 0.05 mm and a hand by up to 0.25."""

    def read(true: float) -> str:
        shared = rng.uniform(-0.05, 0.05)
        return "[" + ", ".join(f'"{true + shared + rng.uniform(-0.25, 0.25):.2f} mm"' for _ in range(3)) + "]"

    states = zip(("down", "half", "up"), door.glass)
    behind = "".join(
        f'  {{ radius = "{r:.1f} mm", clear = {read(clear)}, by = "caliper", what = "glass", window = "{state}" }},\n'
        for state, pair in states
        for r, clear in zip((0.0, door.far), pair)
    )
    held = "".join(
        f'  {{ x = "{x:.2f} mm", y = "{y:.2f} mm", hole = "5.5 mm", head = "10 mm", holds = "{door.kind}" }},\n'
        for x, y in door.places()
    )
    profile = ", ".join(f'["{r:.2f} mm", "{d:.2f} mm"]' for r, d in door.profile)
    width, radius, end = door.terminals
    return f"""\
format = 1
title = "A random door"
[instruments]
caliper = "0.05 mm"
[[opening]]
id = "door"
zone = "door"
hole = {{ diameter = {read(door.hole)}, by = "caliper" }}
skin = "0.8 mm"
flange = {{ diameter = "{door.flange:.2f} mm" }}
fixings = [
{held}]
behind = [
{behind}]
trim = {{ clear = {read(door.trim)}, land = {read(door.land)}, by = "caliper", inner = "{door.cutout:.2f} mm" }}
[[speaker]]
id = "speaker"
kind = "woofer"
frame = "{door.frame:.2f} mm"
cutout = "{door.cutout:.2f} mm"
rim = "{door.rim:.2f} mm"
front = "{door.front:.2f} mm"
gasket = "{GASKET_MM} mm"
profile = [{profile}]
holes = {{ count = 4, circle = "{door.circle:.2f} mm", diameter = "5 mm", first = "0 deg" }}
terminals = {{ angle = "225 deg", width = "{width:.2f} mm", radius = "{radius:.2f} mm", depth = "{end:.2f} mm", start = "8 mm" }}
mass = "{0.55 + 0.012 * (door.cutout - 92.0):.2f} kg"
motor = {{ Re = "3.3 ohm", fs = "60 Hz", Qms = 6, Qes = 0.7, Sd = "{3.1416 * (0.42 * door.cutout) ** 2 / 100.0:.0f} cm2", Xmax = "4 mm", Xmech = "{door.xmech:.2f} mm" }}
[[adapter]]
opening = "door"
speaker = "speaker"
material = "ASA"
"""


def spoiled(door: Door, text: str, rng: np.random.Generator) -> str:
    """The same job with up to three things of its part told badly, or of its door or speaker not entered."""
    kinds = (
        f'bore = "{door.cutout - rng.uniform(-4.0, 6.0):.1f} mm"', f'thickness = "{rng.uniform(9.0, 26.0):.1f} mm"',
        f'turn = "{rng.integers(0, 360)} deg"', f'notch = "{rng.integers(0, 360)} deg"', 'recess = "3 mm"', 'threads = "insert M4"',
        'foam = { grade = "2A2", ring = "12 mm" }', 'foam = { back = "5 mm" }', 'foam = { width = "6 mm" }',
        'spigot = { length = "10 mm" }', 'collar = { height = "4 mm", width = "8 mm" }',
    )  # fmt: skip
    taken = {kinds[k].split()[0]: kinds[k] for k in rng.integers(0, len(kinds), rng.integers(1, 4))}
    text += "".join(f"{line}\n" for line in taken.values())
    depth, magnet = door.profile[-1][1], 2.0 * door.profile[-1][0]
    edits = (
        (r"profile = .*\n", f'depth = "{depth:.1f} mm"\nmagnet = "{magnet:.1f} mm"\n'), (r"terminals = .*\n", ""),
        (r', inner = "[^"]*"', ""), ('material = "ASA"', 'material = "PETG"'),
        ('zone = "door"', 'zone = "door"\nlip = { height = "2 mm", width = "3 mm" }'),
    )  # fmt: skip
    for old, new in edits:
        if rng.random() < 0.2:
            text = re.sub(old, new, text)
    return text
