"""Ranges of hearing by the words fitters use, and their limits in hertz (common trade practice)."""

from __future__ import annotations

BANDS: dict[str, tuple[float, float]] = {
    "deep bass": (20.0, 60.0),
    "mid-bass": (60.0, 250.0),
    "vocal": (250.0, 3000.0),
    "presence": (3000.0, 8000.0),
    "air": (8000.0, 16000.0),
}
