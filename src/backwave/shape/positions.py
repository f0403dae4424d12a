"""Where points lie about an axis, from distances measured between them: weighted least squares.

A distance runs between centers, or between edges of round things: nearest edges, or the far ones.  Nothing in
distances tells which way up they are, or the picture from its mirror image: the first point with a direction is held
there, the directions of others only say about where they are, and which of several places that agree is meant.  How
sure each place is follows from how sure the distances are, and from how badly they agree where that is worse (Birge,
Phys. Rev. 40 (1932) 207); one that does not fit the rest is found by its residual in units of its own standard
deviation (Baarda, A testing procedure for use in geodetic networks, 1968)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import atan2, cos, hypot, radians, sin
from typing import Any

import numpy as np

CRITICAL = 3.29  # standard deviations: one good distance in a thousand is out by more (Baarda)
_FULL = 1e-7  # of the largest singular value: what is less does not pin anything
_HELD = 100.0  # by 0.01 mm: how closely the first point keeps its direction
_TRIES = 24  # starts, where directions are not known
_CHECKED = 0.01  # redundancy of a distance below which a slip shows nowhere (Förstner's scale, 1987; from memory)
_ALINE = 0.2  # sine: directions nearer to one line than this do not tell a picture from its mirror image
_ABOUT = 45.0  # degrees: an hour and a half on a clock's face; what is farther off is not "about there"


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
    wrong: tuple[int, ...]  # the distances of which one does not fit the rest: nothing tells them apart
    wrong_mm: float  # where it is one alone: by how much it is too long, as the rest have it
    loose: tuple[str, ...]  # dots that the distances do not pin: none of them has a place then
    sideless: bool = False  # loose because too few directions tell which way up, or the mirror image
    unchecked: tuple[int, ...] = ()  # distances that no other checks: a slip in one of them shows nowhere
    turned: tuple[tuple[str, float], ...] = ()  # not "about" where it was said: name, degrees as the distances have it

    @property
    def at_mm(self) -> dict[str, tuple[float, float, float]]:
        """The places by name."""
        return {name: (x, y, u) for name, x, y, u in self.places}


def located(dots: Mapping[str, Dot], hole_mm: float, spans: Sequence[Span]) -> Positions:
    """Where the dots lie. `hole_mm`: radius of the round hole about the axis, 0 where it is not known."""
    from scipy.optimize import least_squares

    free = [name for name, dot in dots.items() if dot.at_mm is None]
    known = {name: dot.at_mm for name, dot in dots.items() if dot.at_mm is not None}
    toward = {name: atan2(y, x) for name, (x, y) in known.items() if hypot(x, y) > 1.0}
    held = None if toward else next((name for name in free if dots[name].angle_deg is not None), None)
    toward |= {name: radians(a) for name in free if (a := dots[name].angle_deg) is not None}
    sided = any(abs(sin(a - b)) > _ALINE for a, b in combinations(toward.values(), 2))
    sideless = not toward or (not sided and any(name not in toward for name in free))
    if free and (sideless or not spans):
        return Positions((), 0.0, (), (), 0.0, tuple(free), sideless)
    turn = radians(dots[held].angle_deg or 0.0) if held is not None else 0.0

    def residual(x: Any) -> Any:
        at = known | dict(zip(free, np.reshape(x, (-1, 2)), strict=True))
        tie = [] if held is None else [_HELD * (at[held][0] * sin(turn) - at[held][1] * cos(turn))]
        return np.array([(_reach(span, at, dots, hole_mm) - span.mm) / span.u_mm for span in spans] + tie)

    if not free:
        return _judged((), residual(np.zeros(0)), np.ones(len(spans)), spans)
    rng, best, ranked = np.random.default_rng(0), None, (0.0, 0.0)
    turned: tuple[tuple[str, float], ...] = ()
    angles = np.array([np.nan if (a := dots[name].angle_deg) is None else a for name in free])
    about = max(span.mm for span in spans) / 2.0 + hole_mm / 2.0
    only_held = np.array([a if name == held else np.nan for name, a in zip(free, angles, strict=True)])
    starts = [angles] * (_TRIES if np.isnan(angles).any() else 1)
    starts += [only_held] * (_TRIES // 2)  # it does not agree: a direction may be wrong
    for asked in starts:
        turns = np.radians(np.where(np.isnan(asked), rng.uniform(0.0, 360.0, len(free)), asked))
        start = about * np.column_stack((np.cos(turns), np.sin(turns))).ravel()
        rough = least_squares(residual, start, loss="soft_l1", x_scale=about)  # a blunder pulls less from afar
        found = least_squares(residual, rough.x, x_scale=about)
        at_deg = np.degrees(np.arctan2(*found.x.reshape(-1, 2).T[::-1]))
        away = np.nan_to_num(np.abs((at_deg - angles + 180.0) % 360.0 - 180.0))
        if held is not None and away[free.index(held)] > 90.0:  # behind the axis
            continue
        # of those that agree the nearest to what was said; where none does, the one that agrees best
        agrees = found.cost < 2.0 * len(spans)
        rank = (0.0, round(float(away.max()), 1)) if agrees else (round(found.cost, 6), 0.0)
        if best is None or rank < ranked:
            best, ranked = found, rank
            turned = tuple((free[k], float(at_deg[k])) for k in np.flatnonzero(away > _ABOUT) if agrees)
        if agrees and not turned:  # nothing better to look for
            break
    if best is None:
        return Positions((), 0.0, (), (), 0.0, tuple(free))
    size, many = best.x.size, len(spans)
    _, strength, ways = np.linalg.svd(best.jac, full_matrices=True)
    weak = ways[np.append(strength, np.zeros(max(0, size - len(strength)))) <= _FULL * strength.max()]
    loose = dict.fromkeys(free[k // 2] for row in weak for k in np.flatnonzero(np.abs(row) > 1e-3))
    if loose:
        return Positions((), 0.0, (), (), 0.0, tuple(loose))
    cover = np.linalg.inv(best.jac.T @ best.jac)
    spare = 1.0 - np.einsum("ij,jk,ik->i", best.jac, cover, best.jac)[:many]  # redundancy of each distance
    freedom = len(best.fun) - size
    worse = max(1.0, 2.0 * best.cost / freedom) if freedom else 1.0
    u = np.sqrt(np.diag(cover) * worse).reshape(-1, 2).max(axis=1)
    places = [(n, float(x), float(y), float(v)) for n, (x, y), v in zip(free, best.x.reshape(-1, 2), u, strict=True)]
    return _judged(tuple(places), best.fun[:many], spare, spans, turned)


def _reach(span: Span, at: Mapping[str, Any], dots: Mapping[str, Dot], hole_mm: float) -> float:
    """A distance as the places have it."""
    a, b = sorted((span.a, span.b), key=lambda name: name not in dots)
    if b in dots:
        apart = hypot(at[a][0] - at[b][0], at[a][1] - at[b][1])
        return apart + span.ends * (dots[a].radius_mm + dots[b].radius_mm)
    rim = hole_mm if b == "hole edge" else 0.0
    return hypot(*at[a]) + span.ends * dots[a].radius_mm + (rim if span.ends > 0 else -rim)


def _judged(
    places: tuple[tuple[str, float, float, float], ...], left: Any, spare: Any, spans: Sequence[Span],
    turned: tuple[tuple[str, float], ...] = (),
) -> Positions:  # fmt: skip
    """What is left of each distance, and whether one of them cannot be right."""
    told = tuple(float(-v * span.u_mm) for v, span in zip(left, spans, strict=True))
    misfit = float(np.sqrt(np.mean(np.square(told)))) if told else 0.0
    weight = np.where(spare > 1e-6, np.abs(left) / np.sqrt(np.maximum(spare, 1e-6)), 0.0)
    most = float(weight.max(initial=0.0))
    wrong = tuple(int(n) for n in np.flatnonzero(weight > 0.999 * most)) if most > CRITICAL else ()
    too_long = told[wrong[0]] / float(spare[wrong[0]]) if len(wrong) == 1 else 0.0
    unchecked = tuple(int(n) for n in np.flatnonzero(spare < _CHECKED))
    return Positions(places, misfit, told, wrong, too_long, (), False, unchecked, turned)
