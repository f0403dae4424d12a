"""Drawings: what was worked out elsewhere, laid out as SVG.

Computes nothing but layout.  Takes plain numbers in millimeters (`views`), gives SVG text: the section and the face
(screen sheets in pixels, to scale), paper templates (sheets in millimeters, 1:1), charts.  A drawing is first a list
of marks (`sheet`), so that any writer can replay it; `overlaps` says whether its texts touch or leave the sheet.
A room: stands on the ground floor (`finding`, `units`) alone and reads no file.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOME = {
    "AdapterCut": "views",
    "Chart": "chart",
    "Clearance": "views",
    "DriverCut": "views",
    "DriverHole": "views",
    "FaceFixing": "views",
    "FaceView": "views",
    "FixingCut": "views",
    "FoamRing": "views",
    "InsertCut": "views",
    "Obstacle": "views",
    "SeatWindow": "views",
    "SectionView": "views",
    "Series": "chart",
    "TemplateHole": "template",
    "TemplateView": "template",
    "TerminalCut": "views",
    "TerminalFace": "views",
    "Sheet": "sheet",
    "to_svg": "sheet",
    "chart_sheet": "chart",
    "chart_svg": "chart",
    "face_sheet": "face",
    "face_svg": "face",
    "foam_rings": "template",
    "overlaps": "sheet",
    "section_sheet": "section",
    "section_svg": "section",
    "template_sheets": "template",
    "template_svg": "template",
}
__all__ = sorted(_HOME)


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
