"""Preferred values of IEC 60063:2015, series E6, E12 and E24.

The values are the standard's table: they are not the rounded 10^(k/24) (2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7 and 8.2
differ from it).
"""

from __future__ import annotations

from math import ceil, floor, inf, isfinite, log10

from backwave.errors import InputError

SERIES: dict[str, tuple[float, ...]] = {
    "E6": (1.0, 1.5, 2.2, 3.3, 4.7, 6.8),
    "E12": (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2),
    "E24": (
        1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
        3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
    ),
}  # fmt: skip


def around(value: float, series: str = "E12") -> tuple[float, float]:
    """The largest preferred value that is not above, and the smallest that is not below.

    `value`, any unit: more than 0; returns (float, float) unit of `value`: twice the same where the value is
    itself preferred (to 1e-9 of it); InputError: A value that is not above 0 and finite, or an unknown series.
    """
    if series not in SERIES:
        raise InputError("series of preferred values", series, " or ".join(SERIES))
    if not (isfinite(value) and value > 0):
        raise InputError("value to round", value, "a finite number above 0")
    decade = floor(log10(value))
    # A power as the nearest decimal: 4.7 * 1e-6 and float("4.7e-6") are not the same number.
    ladder = [float(f"{v}e{d}") for d in range(decade - 1, ceil(log10(value)) + 2) for v in SERIES[series]]
    below = max((v for v in ladder if v <= value * (1 + 1e-9)), default=0.0)
    above = min((v for v in ladder if v >= value * (1 - 1e-9)), default=inf)
    return below, above


def nearest(value: float, series: str = "E12") -> float:
    """The preferred value nearest by ratio. `value`, any unit: more than 0; returns unit of `value`."""
    below, above = around(value, series)
    return below if value / below <= above / value else above
