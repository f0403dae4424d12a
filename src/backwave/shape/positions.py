"""Where points lie about an axis, from distances measured between them: weighted least squares.

A distance runs between centers, or between edges of round things: nearest edges, or the far ones.  Nothing in distances
tells which way up they are, or the picture from its mirror image: the first point with a direction is held there, the
directions of others only say about where they are.  How sure each place is follows from how sure the distances are, and
from how badly they agree where that is worse (Birge, Phys. Rev. 40 (1932) 207); one that does not fit the rest is found
by its residual in units of its own standard deviation (Baarda, A testing procedure for use in geodetic networks, 1968)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin
from typing import Any

import numpy as np

CRITICAL = 3.29  # standard deviations: one good distance in a thousand is out by more (Baarda)
_FULL = 1e-7  # of the largest singular value: what is less does not pin anything
_TRIES = 24  # starts, where directions are not known


@dataclass(frozen=True)
class Dot:
    """A point whose place is wanted, or known."""

    radius_mm: float = 0.0  # of what is round about it
    at_mm: tuple[float, float] | None = None  # its place, where that is known
    angle_deg: float | None = None  # about where it is, from +x toward +y


@dataclass(frozen=True)
class Span:
    """A distance that was measured."""

    a: str  # names of dots; "axis" or "hole edge" too
    b: str
    mm: float  # mm, as measured
    u_mm: float  # standard uncertainty
    ends: int = 0  # 0 between centers, -1 between nearest edges, +1 between far edges


@dataclass(frozen=True)
class Positions:
    """What distances come to."""

    places: tuple[tuple[str, float, float, float], ...]  # name, x, y and the standard uncertainty of the worse, in mm
    misfit_mm: float  # root mean square of what is left
    left_mm: tuple[float, ...]  # by distance: as measured less as solved
    wrong: int | None  # which distance does not fit the rest; None: all do, or nothing tells which
    wrong_mm: float  # by how much it is too long, as the rest have it
    one_of_them: bool  # they do not agree, and nothing tells which one it is
    loose: tuple[str, ...]  # dots that the distances do not pin: none of them has a place then

    @property
    def at_mm(self) -> dict[str, tuple[float, float, float]]:
        """The places by name."""
        return {name: (x, y, u) for name, x, y, u in self.places}


def located(dots: Mapping[str, Dot], hole_mm: float, spans: Sequence[Span]) -> Positions:
    """Where the dots lie. `hole_mm`: radius of the round hole about the axis, 0 where it is not known."""
    from scipy.optimize import least_squares

    free = [name for name, dot in dots.items() if dot.at_mm is None]
    held = next((name for name in free if dots[name].angle_deg is not None), None)
    if any(dot.at_mm is not None and hypot(*dot.at_mm) > 1.0 for dot in dots.values()):
        held = None  # what has a place already says which way up
    elif held is None and free:
        return Positions((), 0.0, (), None, 0.0, False, tuple(free))
    size = 2 * len(free) - (held is not None)

    def places(x: Any) -> dict[str, tuple[float, float]]:
        found = {name: dot.at_mm for name, dot in dots.items() if dot.at_mm is not None}
        rest = list(x)
        for name in free:
            if name == held:
                r, deg = rest.pop(0), radians(dots[name].angle_deg or 0.0)
                found[name] = (r * cos(deg), r * sin(deg))
            else:
                found[name] = (rest.pop(0), rest.pop(0))
        return found

    def reach(span: Span, at: Mapping[str, tuple[float, float]]) -> float:
        a, b = (name for name in sorted((span.a, span.b), key=lambda n: n in ("axis", "hole edge")))
        if b in ("axis", "hole edge"):
            out = hypot(*at[a])
            rim = hole_mm if b == "hole edge" else 0.0
            return out + span.ends * dots[a].radius_mm + (rim if span.ends > 0 else -rim)
        apart = hypot(at[a][0] - at[b][0], at[a][1] - at[b][1])
        return apart + span.ends * (dots[a].radius_mm + dots[b].radius_mm)

    def residual(x: Any) -> Any:
        at = places(x)
        return np.array([(reach(span, at) - span.mm) / span.u_mm for span in spans])

    if not free:
        return _judged((), residual(np.zeros(0)), np.ones(len(spans)), spans)
    rng, best = np.random.default_rng(0), None
    known = all(dots[name].angle_deg is not None for name in free)
    about = max([span.mm for span in spans], default=50.0) / 2.0 + hole_mm / 2.0
    for _ in range(1 if known else _TRIES):
        turns = {n: dots[n].angle_deg if dots[n].angle_deg is not None else rng.uniform(0.0, 360.0) for n in free}
        start = [
            v
            for n in free
            for v in (
                (about,)
                if n == held
                else (about * cos(radians(turns[n] or 0.0)), about * sin(radians(turns[n] or 0.0)))
            )
        ]
        rough = least_squares(residual, start, loss="soft_l1", x_scale=about)  # a blunder pulls less from afar
        found = least_squares(residual, rough.x, x_scale=about)
        best = found if best is None or found.cost < best.cost - 1e-9 else best
        if best.cost < 2.0 * len(spans):  # it agrees: there is nothing better to look for
            break
    assert best is not None
    _, strength, ways = np.linalg.svd(best.jac, full_matrices=True)
    weak = ways[
        [k for k in range(size) if k >= len(strength) or strength[k] <= _FULL * max(strength.max(initial=0.0), 1e-9)]
    ]
    owner = [name for name in free for _ in range(1 if name == held else 2)]
    loose = tuple(dict.fromkeys(owner[k] for row in weak for k in np.flatnonzero(np.abs(row) > 1e-3)))
    if loose:
        return Positions((), 0.0, (), None, 0.0, False, loose)
    cover = np.linalg.inv(best.jac.T @ best.jac)
    spare = 1.0 - np.einsum("ij,jk,ik->i", best.jac, cover, best.jac)  # redundancy of each distance
    freedom = len(spans) - size
    worse = max(1.0, 2.0 * best.cost / freedom) ** 0.5 if freedom else 1.0
    u = dict.fromkeys(free, 0.0)
    for name, v in zip(owner, np.sqrt(np.diag(cover)) * worse, strict=True):
        u[name] = max(u[name], float(v))
    at = places(best.x)
    return _judged(tuple((n, float(at[n][0]), float(at[n][1]), u[n]) for n in free), best.fun, spare, spans)


def _judged(
    places: tuple[tuple[str, float, float, float], ...], left: Any, spare: Any, spans: Sequence[Span]
) -> Positions:
    """What is left of each distance, and whether one of them cannot be right."""
    told = tuple(float(-v * span.u_mm) for v, span in zip(left, spans, strict=True))
    misfit = float(np.sqrt(np.mean(np.square(told)))) if told else 0.0
    weight = np.where(spare > 1e-6, np.abs(left) / np.sqrt(np.maximum(spare, 1e-6)), 0.0)
    order = np.argsort(weight)[::-1]
    out = bool(len(weight)) and bool(weight[order[0]] > CRITICAL)
    alone = out and (len(order) == 1 or bool(weight[order[1]] < weight[order[0]] * 0.999))
    wrong = int(order[0]) if alone else None
    too_long = 0.0 if wrong is None else told[wrong] / float(spare[wrong])
    return Positions(places, misfit, told, wrong, too_long, out and not alone, ())
