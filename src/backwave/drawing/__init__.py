"""Drawings: what was worked out elsewhere, laid out as SVG.

Computes nothing but layout.  Takes plain numbers in millimeters (`views`), gives SVG text: the section, the face,
the vehicle from above (screen sheets in pixels, to scale), the harness and faces of its connectors, paper templates (sheets in millimeters, 1:1), charts, the
supply as a tree.
A drawing is first a list of marks (`sheet`), so that any writer can replay it; `overlaps` says whether its texts
touch or leave the sheet.  A room: stands on the ground floor (`errors`, `finding`, `units`) alone; reads no file.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from backwave.drawing.views import (
    AdapterCut,
    ClearanceView,
    DriverCut,
    DriverHole,
    FaceFixing,
    FaceView,
    FixingCut,
    FoamRingView,
    InsertCut,
    ObstacleView,
    SeatWindow,
    SectionView,
    TerminalCut,
    TerminalFace,
)

if TYPE_CHECKING:
    from backwave.drawing.chart import Chart, Series, chart_sheet, chart_svg
    from backwave.drawing.connector_faces import FaceContact, HarnessFace, faces_sheet, faces_svg
    from backwave.drawing.face import face_sheet, face_svg
    from backwave.drawing.foam import foam_rings
    from backwave.drawing.harness import HarnessBox, HarnessLine, HarnessView, harness_sheet, harness_svg
    from backwave.drawing.pagination import SpreadPage, harness_pages
    from backwave.drawing.part import PartCut, PartHole, PartView, part_sheet, part_svg
    from backwave.drawing.plan_view import PlanEar, PlanPlace, PlanView, plan_sheet, plan_svg
    from backwave.drawing.section import section_sheet, section_svg
    from backwave.drawing.sheet import Sheet, overlaps, to_svg
    from backwave.drawing.supply import SupplyRun, SupplyView, supply_sheet, supply_svg
    from backwave.drawing.template import TemplateHole, TemplateView, template_sheets, template_svg

__all__ = [
    "AdapterCut",
    "Chart",
    "ClearanceView",
    "DriverCut",
    "DriverHole",
    "FaceContact",
    "FaceFixing",
    "FaceView",
    "FixingCut",
    "FoamRingView",
    "HarnessBox",
    "HarnessFace",
    "HarnessLine",
    "HarnessView",
    "InsertCut",
    "ObstacleView",
    "PartCut",
    "PartHole",
    "PartView",
    "PlanEar",
    "PlanPlace",
    "PlanView",
    "SeatWindow",
    "SectionView",
    "Series",
    "Sheet",
    "SpreadPage",
    "SupplyRun",
    "SupplyView",
    "TemplateHole",
    "TemplateView",
    "TerminalCut",
    "TerminalFace",
    "chart_sheet",
    "chart_svg",
    "face_sheet",
    "face_svg",
    "faces_sheet",
    "faces_svg",
    "foam_rings",
    "harness_pages",
    "harness_sheet",
    "harness_svg",
    "overlaps",
    "part_sheet",
    "part_svg",
    "plan_sheet",
    "plan_svg",
    "section_sheet",
    "section_svg",
    "supply_sheet",
    "supply_svg",
    "template_sheets",
    "template_svg",
    "to_svg",
]

# Loaded when first asked for: whoever fills in a view does not lay it out.
_LAZY = {
    "Chart": "chart",
    "FaceContact": "connector_faces",
    "HarnessBox": "harness",
    "HarnessFace": "connector_faces",
    "HarnessLine": "harness",
    "HarnessView": "harness",
    "PartCut": "part",
    "PartHole": "part",
    "PartView": "part",
    "PlanEar": "plan_view",
    "PlanPlace": "plan_view",
    "PlanView": "plan_view",
    "Series": "chart",
    "Sheet": "sheet",
    "SpreadPage": "pagination",
    "SupplyRun": "supply",
    "SupplyView": "supply",
    "TemplateHole": "template",
    "TemplateView": "template",
    "chart_sheet": "chart",
    "chart_svg": "chart",
    "face_sheet": "face",
    "face_svg": "face",
    "faces_sheet": "connector_faces",
    "faces_svg": "connector_faces",
    "foam_rings": "foam",
    "harness_pages": "pagination",
    "harness_sheet": "harness",
    "harness_svg": "harness",
    "overlaps": "sheet",
    "part_sheet": "part",
    "part_svg": "part",
    "plan_sheet": "plan_view",
    "plan_svg": "plan_view",
    "section_sheet": "section",
    "section_svg": "section",
    "supply_sheet": "supply",
    "supply_svg": "supply",
    "template_sheets": "template",
    "template_svg": "template",
    "to_svg": "sheet",
}


def __getattr__(name: str) -> Any:
    if name in _LAZY:
        return getattr(import_module(f"backwave.drawing.{_LAZY[name]}"), name)
    raise AttributeError(f"backwave.drawing has no {name!r}")
