"""Specifications to test on: a plain one, one with everything, and random ones by seed."""

from __future__ import annotations

from math import cos, pi, radians, sin

import numpy as np

from backwave.part import AdapterSpec, Collar, Fixing, Groove, Lettering, Notch, Spigot, Thread
from backwave.shape import Outline, circle, ellipse, rounded_polygon, smooth

PLAIN = AdapterSpec(circle(82.5), 18.0, 70.0)
"""Outer diameter 165 mm, bore 140 mm, 18 mm thick: the ring of the closed form."""


def around(radius: float, *angles_deg: float) -> list[tuple[float, float]]:
    return [(radius * cos(radians(a)), radius * sin(radians(a))) for a in angles_deg]


def full(outline: Outline | None = None, reach: float = 91.0) -> AdapterSpec:
    """Everything at once on a door-sized flange; sound, no check complains.

    Parameters
    ----------
    outline : Outline or None, mm
        The flange; None: round, of radius `reach`.
    reach : float, mm
        Least radius of the flange.
    """
    fixings = tuple(
        Fixing(x, y, 5.5, 10.0, 7.0, 8.5, 5.0, f"fixing {k + 1}")
        for k, (x, y) in enumerate(around(reach - 10.0, 90.0, 210.0, 330.0))
    )
    threads = tuple(
        Thread(x, y, "insert", "M4", 5.6, 9.0, 1.6, 8.1, name=f"driver hole {k + 1}")
        for k, (x, y) in enumerate(around(78.0, 20.0, 130.0, 180.0, 290.0))
    )
    return AdapterSpec(
        outline=outline or circle(reach),
        thickness_mm=14.0,
        bore_mm=71.0,
        frame_radius_mm=reach - 9.0,
        relief_mm=3.0,
        spigot=Spigot(76.5, 3.0),
        fixings=fixings,
        threads=threads,
        grooves=(Groove("back", "flange", 4.0, 3.0, 2.0),),
        notches=(Notch(250.0, 20.0, 4.0),),
        lettering=Lettering("L", True, "NIGHT ROUND"),
    )


def random_outline(rng: np.random.Generator, least: float) -> Outline:
    """A flange that holds a circle of radius `least`: round, an ellipse, a rounded polygon or a free form."""
    kind = rng.integers(4)
    if kind == 0:
        return circle(least * rng.uniform(1.0, 1.3))
    if kind == 1:
        return ellipse(least * rng.uniform(1.0, 1.4), least * rng.uniform(1.0, 1.4), rng.uniform(0.0, 180.0))
    if kind == 2:
        count = int(rng.integers(3, 8))
        far = least / cos(pi / count) * rng.uniform(1.02, 1.15)
        corners = around(far, *(360.0 * k / count + rng.uniform(0.0, 360.0 / count / 4.0) for k in range(count)))
        return rounded_polygon(corners, rng.uniform(2.0, 0.3 * least))
    count = int(rng.integers(24, 80))
    turn = np.linspace(0.0, 2.0 * pi, count, endpoint=False)
    waves = sum(rng.uniform(0.0, 0.06) * np.cos((k + 2) * turn + rng.uniform(0.0, 6.0)) for k in range(4))
    r = least * (1.02 + waves - waves.min())
    return smooth(np.column_stack((r * np.cos(turn), r * np.sin(turn))))


def random_spec(rng: np.random.Generator) -> AdapterSpec:
    """A specification anyone might ask for; not all of them are sound, and then a check or the kernel says so.

    Parameters
    ----------
    rng : numpy Generator, no unit
        Seeded, so that a bad one can be had again.
    """
    bore = rng.uniform(30.0, 95.0)
    ring = rng.uniform(14.0, 28.0)
    least = bore + ring
    thickness = round(rng.uniform(6.0, 30.0), 1)
    recess = round(rng.uniform(0.5, 3.0), 1) if rng.random() < 0.3 else 0.0
    outline = random_outline(rng, least)
    turn = rng.uniform(0.0, 360.0)
    fixed = int(rng.integers(2, 7))
    fixings = tuple(
        Fixing(x, y, 5.5, 10.0, 5.5, 8.5, 5.0, f"fixing {k + 1}")
        for k, (x, y) in enumerate(
            around(least - rng.uniform(6.0, 7.5), *(turn + 360.0 * k / fixed for k in range(fixed)))
        )
    )
    kind = ("insert", "nut", "screw")[rng.integers(3)]
    at = around(bore + rng.uniform(5.0, 7.0), *(turn + 25.0 + 90.0 * k + rng.uniform(-3.0, 3.0) for k in range(4)))
    deep = round(min(rng.uniform(4.0, 12.0), thickness - recess - 1.0), 1) if rng.random() < 0.7 else 0.0
    threads = tuple(
        Thread(x, y, "nut", "M4", 4.5, nut_flats_mm=7.3, nut_height_mm=3.4, name=f"driver hole {k + 1}")
        if kind == "nut"
        else Thread(
            x,
            y,
            kind,
            "M4",
            5.6 if kind == "insert" else 3.3,
            deep,
            1.6,
            min(4.0, deep or 4.0),
            name=f"driver hole {k + 1}",
        )
        for k, (x, y) in enumerate(at)
    )
    boss = rng.random() < 0.2
    if boss:
        threads = tuple(
            Thread(t.x_mm, t.y_mm, t.kind, t.size, t.hole_mm, t.depth_mm, t.wall_mm, t.engagement_mm, 11.0,
                   t.nut_flats_mm, t.nut_height_mm, t.name)
            for t in threads
        )  # fmt: skip
    grooves = []
    if rng.random() < 0.5:
        grooves.append(Groove("back", "flange", rng.uniform(2.5, 4.0), rng.uniform(2.0, 3.0), rng.uniform(1.0, 2.5)))
    if rng.random() < 0.2:
        grooves.append(Groove("front", "bore", rng.uniform(2.0, 3.0), 2.0, 1.0))
    return AdapterSpec(
        outline=outline,
        thickness_mm=thickness,
        bore_mm=bore,
        frame_radius_mm=bore + 9.0,
        recess_mm=recess,
        seat_mm=bore + 9.0 if recess else 0.0,
        relief_mm=rng.uniform(0.5, 2.5) if rng.random() < 0.5 else 0.0,
        spigot=Spigot(bore + rng.uniform(0.5, 6.0), rng.uniform(1.0, 5.0)) if rng.random() < 0.4 else None,
        fixings=fixings,
        threads=threads,
        grooves=tuple(grooves),
        notches=(Notch(turn + 60.0, rng.uniform(8.0, 30.0), rng.uniform(1.0, 4.0)),) if rng.random() < 0.3 else (),
        collar=Collar(bore + 10.0, least + 1.0, rng.uniform(1.0, 8.0)) if not grooves and rng.random() < 0.2 else None,
        lettering=Lettering(("L", "R", "")[rng.integers(3)], True, "NIGHT ROUND") if rng.random() < 0.5 else None,
        edge_mm=0.6 if rng.random() < 0.3 else 0.0,
    )
