"""Kinds of door, for what nobody measured: each value with a wide spread (common trade practice throughout)."""

from __future__ import annotations

from dataclasses import dataclass

from backwave.errors import InputError


@dataclass(frozen=True)
class DoorKind:
    """What a door of a kind has, as far as the sound goes. `spread`, 1."""

    words: str
    holes_area: float  # m2, left open in the inner skin
    cover_area: float  # m2, what closes the rest
    cover_mass: float  # kg/m2
    cavity_volume: float = 40e-3  # m3, behind the skin
    outside_area: float = 20e-4  # m2, drains and slots
    gap_volume: float = 6e-3  # m3, between trim and skin
    trim_leak: float = 30e-4  # m2, into the cabin
    spread: tuple[tuple[str, float], ...] = (
        ("holes", 0.7), ("cover", 0.7), ("cavity", 0.25), ("outside", 0.7), ("gap", 0.4), ("trim leak", 0.7),
        ("trim", 0.5), ("grille", 0.4), ("chamber", 0.3),
    )  # fmt: skip


# by the word in the job file
DOOR_KINDS: dict[str, DoorKind] = {
    "open": DoorKind("service holes open", 250e-4, 0.0, 0.15),
    "sheet": DoorKind("a plastic sheet over the service holes", 30e-4, 220e-4, 0.15),
    "carrier": DoorKind("a plastic carrier in a large cutout", 12e-4, 900e-4, 2.0),
    "sealed": DoorKind("service holes sealed with heavy sheet", 3e-4, 240e-4, 4.0),
}

# what fits through a hole, and its area (common trade practice)
HOLE_M2 = {"finger": 3e-4, "fist": 60e-4, "hand": 110e-4}


@dataclass(frozen=True)
class Counted:
    """Holes counted by what fits through them."""

    finger: int = 0  # how many of each
    fist: int = 0
    hand: int = 0


def counted_area(holes: Counted) -> float:
    """Area of holes that were counted. Returns m2."""
    counts = {name: getattr(holes, name) for name in HOLE_M2}
    if any(n < 0 for n in counts.values()):
        raise InputError("holes counted", counts, "0 or more of each")
    return sum(HOLE_M2[name] * n for name, n in counts.items())
