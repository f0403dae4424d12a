"""Readings and how sure they are: error terms, draws, first order, Monte Carlo, worst case.

A reading is a value with independent error terms.  An error term has a name; two readings that carry the
same term (one gauge, one datum) share its error: it is drawn once (JCGM 100:2008, 5.2.4).  Values are floats
in whatever unit the caller uses; nothing here knows of units.  Ground floor.
"""

from __future__ import annotations

from backwave.uncertainty.propagation import (
    Estimate,
    Evaluator,
    at_estimates,
    contributions,
    draw_error,
    drawn,
    estimates,
    first_order,
    monte_carlo,
    sensitivities,
    worst_case,
)
from backwave.uncertainty.reading import Error, Reading, exact, mean, mean_reading

__all__ = [
    "Error", "Estimate", "Evaluator", "Reading", "at_estimates", "contributions", "draw_error",
    "drawn", "estimates", "exact", "first_order", "mean", "mean_reading", "monte_carlo", "sensitivities",
    "worst_case",
]  # fmt: skip
