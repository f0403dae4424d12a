"""One driver in one opening, judged: clearances with how sure they are, chances, the window, and what was found.

Best estimates give the values; Monte Carlo (JCGM 101:2008) gives u, the interval and the chances; first order
(JCGM 100:2008) and worst case stand beside them.  Millimeters.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from backwave.fit.clearance import Model
from backwave.fit.clearance_checks import missing, tilted, with_checks
from backwave.fit.plausible import spans_of
from backwave.fit.results import Clearance, Fit, Nearest
from backwave.fit.stack import seat_height_mm
from backwave.fit.types import DriverShape, GaugeTrial, Margins, Opening, ScrewTail, Stack
from backwave.fit.window import window_of
from backwave.uncertainty import (
    Evaluator,
    contributions,
    estimates,
    first_order,
    monte_carlo,
    sensitivities,
    worst_case,
)

Array = NDArray[np.float64]


def judge(
    opening: Opening,
    driver: DriverShape,
    stack: Stack,
    margins: Margins | None = None,
    *,
    turn_deg: float | None = 0.0,
    tails: Sequence[ScrewTail] = (),
    stand_in: GaugeTrial | None = None,
    tilt_deg: float = 0.0,
    offset_mm: float = 0.0,
    draws: int = 100_000,
    tolerance_mm: float | None = None,
    seed: int = 0,
) -> Fit:
    """Judge one driver in one opening at one seat height and turn.

    `opening`, mm: the opening and its surroundings, as the side in question has them; `driver`, mm; `stack`, mm;
    `margins`, mm; `turn_deg`: added to the driver's own angles; None: not decided; `tails`, mm; `tilt_deg`,
    `offset_mm`: A seat that leans, or is off the opening's axis; anything but 0 is a stop that says it is not
    worked out; `draws`: how many draws; the most of them where a tolerance is given; `tolerance_mm`: stop drawing
    once the ends of every interval are known this well (0.005 with draws = 1 000 000); `seed`: another number
    gives an independent set of draws.
    """
    margins = margins or Margins()
    height = seat_height_mm(stack)
    if tilt_deg != 0.0 or offset_mm != 0.0:
        return Fit(height, (), None, None, "", (), None, (tilted(tilt_deg, offset_mm),), 0)
    model = Model(opening, driver, stack, margins, turn_deg, tuple(tails))
    terms = model.terms()
    if not terms:
        return Fit(height, (), None, None, "", (), None, missing(opening), 0)
    sample = monte_carlo(model, draws, tolerance_mm, seed)
    clearances = _clearances(model, sample)
    wanted = np.array([c.margin_mm for c in clearances])[:, None]
    tightest = min(clearances, key=_room)
    shares = contributions([r for r, _ in tightest.slopes], np.array([s for _, s in tightest.slopes]))
    window = window_of(clearances, height)
    fit = Fit(
        seat_height_mm=height,
        clearances=clearances,
        chance_clear=float(np.mean(np.all(sample > 0.0, axis=0))),
        chance_margin=float(np.mean(np.all(sample >= wanted, axis=0))),
        tightest=tightest.name,
        contributions=shares,
        window=window,
        checks=(),
        draws=sample.shape[1],
    )
    return with_checks(fit, model, stand_in)


def _room(clearance: Clearance) -> tuple[float, float]:
    """Least chance first; among equal chances, the fewest standard uncertainties of room."""
    room = clearance.estimate.value - clearance.margin_mm
    return clearance.chance_margin, room / max(clearance.first_order_u_mm or clearance.estimate.u, 1e-9)


def _clearances(model: Model, sample: Array) -> tuple[Clearance, ...]:
    terms, readings = model.terms(), model.readings()
    nears: list[list[Nearest]] = [[] for _ in terms]

    def all_candidates(look: Evaluator) -> Array:
        rows, results = [], []
        for term, near in zip(terms, nears):
            near.clear()
            found = list(term.candidates(look))
            near.extend(where for where, _ in found)
            rows += [values for _, values in found]
            results.append(reduce(np.fmin, (values for _, values in found)))
        return np.stack(np.broadcast_arrays(*(np.atleast_1d(row) for row in [*results, *rows])))

    values, slopes = sensitivities(all_candidates, readings)
    m = len(terms)
    usable = np.isfinite(slopes[m:]).all(axis=1)
    worst = worst_case(model, readings, np.vstack([slopes[:m], slopes[m:][usable]]))
    spans = spans_of(model, [term.margin_mm for term in terms], readings)
    found, start = [], m
    for k, (term, estimate) in enumerate(zip(terms, estimates(values[:m].tolist(), sample))):
        near = nears[k][int(np.nanargmin(values[start : start + len(nears[k])]))]
        start += len(nears[k])
        moved = tuple((r, float(s)) for r, s in zip(readings, slopes[k]) if abs(s) > 1e-6)
        found.append(
            Clearance(
                name=term.name,
                code=term.code,
                part=term.part,
                rises=term.rises,
                margin_mm=term.margin_mm,
                estimate=estimate,
                first_order_u_mm=first_order([r for r, _ in moved], np.array([s for _, s in moved])),
                worst_mm=min(float(worst[k]), estimate.value),
                chance_clear=float(np.mean(sample[k] > 0.0)),
                chance_margin=float(np.mean(sample[k] >= term.margin_mm)),
                nearest=near,
                slopes=moved,
                span=spans[k],
            )
        )
    return tuple(found)
