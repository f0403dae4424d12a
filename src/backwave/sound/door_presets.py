"""Kinds of door, for what nobody measured: each value with a wide spread (common trade practice throughout)."""

from __future__ import annotations

from dataclasses import dataclass

from backwave.errors import InputError

__all__ = ["DOOR_KINDS", "HOLE_M2", "Counted", "DoorKind", "counted_area"]


@dataclass(frozen=True)
class DoorKind:
    """What a door of a kind has, as far as the sound goes.

    Parameters
    ----------
    words : str, no unit
        What it is, for a person.
    holes_area : float, m2
        Left open in the inner skin.
    cover_area, cover_mass : float, m2 and kg/m2
        What closes the rest.
    cavity_volume : float, m3
        Behind the skin.
    outside_area : float, m2
        Drains and slots.
    gap_volume : float, m3
        Between trim and skin.
    trim_leak : float, m2
        Into the cabin.
    spread : tuple of (element, sd), no unit
        Standard deviation of the logarithm of each, where nobody measured it.
    """

    words: str
    holes_area: float
    cover_area: float
    cover_mass: float
    cavity_volume: float = 40e-3
    outside_area: float = 20e-4
    gap_volume: float = 6e-3
    trim_leak: float = 30e-4
    spread: tuple[tuple[str, float], ...] = (
        ("holes", 0.7), ("cover", 0.7), ("cavity", 0.25), ("outside", 0.7), ("gap", 0.4), ("trim leak", 0.7),
        ("trim", 0.5), ("grille", 0.4), ("chamber", 0.3),
    )  # fmt: skip


DOOR_KINDS: dict[str, DoorKind] = {
    "open": DoorKind("service holes open", 250e-4, 0.0, 0.15),
    "sheet": DoorKind("a plastic sheet over the service holes", 30e-4, 220e-4, 0.15),
    "carrier": DoorKind("a plastic carrier in a large cutout", 12e-4, 900e-4, 2.0),
    "sealed": DoorKind("service holes sealed with heavy sheet", 3e-4, 240e-4, 4.0),
}
"""By the word in the job file."""

HOLE_M2 = {"finger": 3e-4, "fist": 60e-4, "hand": 110e-4}
"""What fits through a hole, and its area (common trade practice)."""


@dataclass(frozen=True)
class Counted:
    """Holes counted by what fits through them.

    Parameters
    ----------
    finger, fist, hand : int, no unit
        How many of each.
    """

    finger: int = 0
    fist: int = 0
    hand: int = 0


def counted_area(holes: Counted) -> float:
    """Area of holes that were counted.

    Parameters
    ----------
    holes : Counted, no unit
        How many of each.

    Returns
    -------
    float, m2
    """
    counts = {name: getattr(holes, name) for name in HOLE_M2}
    if any(n < 0 for n in counts.values()):
        raise InputError("holes counted", counts, "0 or more of each")
    return sum(HOLE_M2[name] * n for name, n in counts.items())
