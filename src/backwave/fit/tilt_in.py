"""Whether a driver that does not go straight in for its terminals goes in tilted, terminals first.

It turns about an axis across the direction of its terminals and moves in that plane: at each tilt and height, what of it
lies between the walls leaves an interval across in which nothing is hit.  That interval is worked out from straight pieces
cut at the walls' ends, in planes beside the middle one too, so that the round basket is seen in the round bore.  Tilts and
heights go in steps of 1 degree and 1 mm, and `ROOM_MM` is kept on both sides for what lies between; to say that there is
no way at all it is given on both sides.  Millimeters, degrees.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import pairwise
from math import ceil, inf

import numpy as np
from numpy.typing import NDArray

from backwave.fit.assembly import Block, Passage, Revolved

Array = NDArray[np.float64]
MAX_TILT_DEG = 40
ROOM_MM = 0.5  # kept on both sides
_PLANES = (0.0, 0.6, 0.85, 0.97)  # beside the middle, in shares of the widest radius
_PIECES = 3  # of each straight piece of the profile, which is curved in a plane beside the middle


@dataclass(frozen=True)
class Tilt:
    """A way in, from where it sits to where it is out of the part."""

    most_deg: float  # the greatest tilt on it
    path: tuple[tuple[float, float, float], ...]  # tilt, and place of the middle of the mounting side: across, height


def way_in(
    back: Revolved, frame_mm: float, block: Block, passages: Sequence[Passage], room_mm: float = ROOM_MM
) -> Tilt | None:
    """The way in with the least tilt, terminals toward +x, until they are out of the part; None up to `MAX_TILT_DEG`.
    `frame_mm` is the radius of the frame. Nothing reaches deeper than in place, for the frame's edge stays before the
    part; what is behind beside it, and a notch, are not seen. `room_mm` below 0: a way that may just be missed counts."""
    walls = sorted(passages, key=lambda p: p.low_mm)
    ends = sorted({z for wall in walls for z in (wall.low_mm, wall.high_mm)})
    top, seat = ends[-1], back.seat_mm
    y, u0, d0, u1, d1 = _pieces(back, frame_mm, block)
    tilts = np.arange(MAX_TILT_DEG + 1.0)
    reach = top - seat + block.depth_mm + (frame_mm + block.radius_mm) * np.sin(np.radians(MAX_TILT_DEG))
    heights = seat + np.arange(ceil(reach) + 1.0)
    low, high = np.empty((2, len(tilts), len(heights)))
    free = np.empty((len(tilts), len(heights)), dtype=bool)
    corners = (np.array([0.0, block.radius_mm]), np.array([[block.start_mm], [block.depth_mm]]))
    for i, tilt in enumerate(np.radians(tilts)):
        c, s = np.cos(tilt), np.sin(tilt)
        x0, x1 = u0 * c - d0 * s, u1 * c - d1 * s
        z0, z1 = (heights[:, None] - (u * s + d * c)[None, :] for u, d in ((u0, d0), (u1, d1)))
        low[i], high[i] = -inf, inf
        for x, z, room in (
            *((x, z, _room(walls, y, z)) for x, z in ((x0, z0), (x1, z1))),
            *_cut(walls, ends, y, (x0, x1), (z0, z1)),
        ):
            room = np.where(np.isfinite(z), room - room_mm, inf)
            low[i] = np.maximum(low[i], (-room - x).max(axis=1))
            high[i] = np.minimum(high[i], (room - x).min(axis=1))
        free[i] = heights - (corners[0] * s + corners[1] * c).max() > top
    low[0, 0], high[0, 0] = min(low[0, 0], 0.0), max(high[0, 0], 0.0)  # where it sits it was judged by itself
    return _found(tilts, heights, low, high, free)


def _pieces(back: Revolved, frame_mm: float, block: Block) -> tuple[Array, ...]:
    """Straight pieces of its surface: y beside the plane, then u toward the terminals and depth of either end."""
    found: list[tuple[float, float, float, float, float]] = []
    profile, widest = back.profile_mm, max(r for r, _ in back.profile_mm)

    def add(y: float, line: Sequence[tuple[float, float]]) -> None:
        found.extend((y, *a, *b) for a, b in pairwise(line))

    for share in _PLANES:
        y = share * widest
        right = [(max(frame_mm**2 - y**2, 0.0) ** 0.5, 0.0)]  # a frame narrower than the basket is out of this plane
        for (r0, e0), (r1, e1) in pairwise(profile):
            steps = [k / _PIECES for k in range(_PIECES + 1)]
            fine = [(r0 + t * (r1 - r0), e0 + t * (e1 - e0)) for t in steps]
            right += [((r**2 - y**2) ** 0.5, e) for r, e in fine if r >= y]
        add(y, [*right, *((-u, d) for u, d in reversed(right))])
    for y in (0.0, block.width_mm / 2.0):
        out = block.radius_mm
        add(y, [(0.0, block.start_mm), (out, block.start_mm), (out, block.depth_mm), (0.0, block.depth_mm)])
    return tuple(np.array(found).T)


def _room(walls: Sequence[Passage], y: Array, z: Array) -> Array:
    """Half of the width between the walls at a height, beside the plane; inf where there are none."""
    room = np.full(z.shape, inf)
    for wall in walls:
        share = (z - wall.low_mm) / max(wall.high_mm - wall.low_mm, 1e-9)
        radius = wall.low_radius_mm + share * (wall.high_radius_mm - wall.low_radius_mm)
        half = np.sqrt(np.maximum(radius**2 - y**2, 0.0))
        room = np.where((z > wall.low_mm) & (z < wall.high_mm), np.minimum(room, half), room)
    return room


def _cut(
    walls: Sequence[Passage], ends: Sequence[float], y: Array, x: tuple[Array, Array], z: tuple[Array, Array]
) -> Iterator[tuple[Array, Array, Array]]:
    """Where the pieces cross the walls' ends, with the room there."""
    for end in ends:
        radii = [w.low_radius_mm for w in walls if w.low_mm == end] + [
            w.high_radius_mm for w in walls if w.high_mm == end
        ]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (end - z[0]) / (z[1] - z[0])
        met = (share >= 0.0) & (share <= 1.0)
        at = np.where(met, x[0] + np.where(met, share, 0.0) * (x[1] - x[0]), 0.0)
        half = np.sqrt(np.maximum(min(radii) ** 2 - y**2, 0.0))
        yield at, np.where(met, end, inf), np.broadcast_to(half, z[0].shape)


def _found(tilts: Array, heights: Array, low: Array, high: Array, free: Array) -> Tilt | None:
    """From where it sits to out, by the least tilt, through steps whose intervals share a place."""
    best = {(0, 0): 0}
    before: dict[tuple[int, int], tuple[int, int]] = {}
    queue = [(0, 0, (0, 0))]
    while queue:
        most, steps, here = heappop(queue)
        if free[here]:
            way, place = [here], here
            while place in before:
                place = before[place]
                way.append(place)
            path = [(0.0, 0.0, float(heights[0]))]
            for a, b in pairwise(reversed(way)):  # slid across to a place that both have, then turned and lifted
                x = float(np.clip(0.0, max(low[a], low[b]), min(high[a], high[b])))
                path += [(float(tilts[i]), x, float(heights[j])) for i, j in (a, b)]
            return Tilt(float(tilts[most]), tuple(path))
        for di in (-1, 0, 1):
            for dj in (-1, 0, 1, 2):
                i, j = here[0] + di, here[1] + dj
                if not (0 <= i < len(tilts) and 0 <= j < len(heights)) or low[i, j] > high[i, j]:
                    continue
                if max(low[i, j], low[here]) > min(high[i, j], high[here]):
                    continue
                then = max(most, i)
                if then < best.get((i, j), 1_000):
                    best[i, j], before[i, j] = then, here
                    heappush(queue, (then, steps + 1, (i, j)))
    return None
