"""Drawings: what was worked out elsewhere, laid out as SVG.

Computes nothing but layout.  Takes plain numbers in millimeters (`views`), gives SVG text: the section and the
face (screen sheets in pixels, to scale), paper templates (sheets in millimeters, 1:1), charts.  A drawing is first
a list of marks (`sheet`), so that any writer can replay it; `overlaps` says whether its texts touch or leave the
sheet.  A room: stands on the ground floor (`errors`, `finding`, `units`) alone; reads no file.
"""

from __future__ import annotations

from backwave.drawing.chart import Chart, Series, chart_sheet, chart_svg
from backwave.drawing.face import face_sheet, face_svg
from backwave.drawing.foam import foam_rings
from backwave.drawing.section import section_sheet, section_svg
from backwave.drawing.sheet import Sheet, overlaps, to_svg
from backwave.drawing.template import TemplateHole, TemplateView, template_sheets, template_svg
from backwave.drawing.views import (
    AdapterCut,
    Clearance,
    DriverCut,
    DriverHole,
    FaceFixing,
    FaceView,
    FixingCut,
    FoamRing,
    InsertCut,
    Obstacle,
    SeatWindow,
    SectionView,
    TerminalCut,
    TerminalFace,
)

__all__ = [
    "AdapterCut",
    "Chart",
    "Clearance",
    "DriverCut",
    "DriverHole",
    "FaceFixing",
    "FaceView",
    "FixingCut",
    "FoamRing",
    "InsertCut",
    "Obstacle",
    "SeatWindow",
    "SectionView",
    "Series",
    "Sheet",
    "TemplateHole",
    "TemplateView",
    "TerminalCut",
    "TerminalFace",
    "chart_sheet",
    "chart_svg",
    "face_sheet",
    "face_svg",
    "foam_rings",
    "overlaps",
    "section_sheet",
    "section_svg",
    "template_sheets",
    "template_svg",
    "to_svg",
]
