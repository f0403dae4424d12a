"""DXF: audited by the library that wrote it, and read by a reader that knows only the format's pairs of lines."""

from __future__ import annotations

import io
from math import pi, tan

import ezdxf
import numpy as np
import pytest

from backwave.files.flat_files import dxf_text
from backwave.part.flat_patterns import FlatPart, Pocket
from backwave.shape import circle, ellipse, rounded_polygon

PLATE = rounded_polygon([(-60.0, -40.0), (60.0, -40.0), (60.0, 40.0), (-60.0, 40.0)], 10.0)
SHEET = FlatPart(
    "plate",
    18.0,
    (PLATE, circle(30.0, 5.0, -2.0), ellipse(8.0, 4.0).moved(45.0, 0.0)),
    ((50.0, 30.0, 5.5), (-50.0, 30.0, 5.5)),
    (((0.0, 32.0), (0.0, 38.0)),),
    (Pocket(circle(6.0, 50.0, 30.0), 4.0),),
)


def pairs(text: str) -> list[tuple[int, str]]:
    lines = text.splitlines()
    assert len(lines) % 2 == 0
    return [(int(code), value.strip()) for code, value in zip(lines[::2], lines[1::2])]


def entities(text: str) -> list[tuple[str, list[tuple[int, str]]]]:
    """Kind and pairs of every entity, by the letter of the format: no library."""
    found: list[tuple[str, list[tuple[int, str]]]] = []
    inside = False
    for code, value in pairs(text):
        if (code, value) == (2, "ENTITIES"):
            inside = True
        elif inside and (code, value) == (0, "ENDSEC"):
            break
        elif inside and code == 0:
            found.append((value, []))
        elif inside and found:
            found[-1][1].append((code, value))
    return found


def test_units_are_millimeters() -> None:
    # DXF reference, HEADER: $INSUNITS 4 is millimeters, $MEASUREMENT 1 metric, AC1024 is R2010.
    said = pairs(dxf_text([SHEET]))
    after = {value: said[k + 1] for k, (code, value) in enumerate(said) if code == 9}
    assert after["$INSUNITS"] == (70, "4")
    assert after["$MEASUREMENT"] == (70, "1")
    assert after["$ACADVER"] == (1, "AC1024")


def test_layers_and_true_circles_and_arcs() -> None:
    found = entities(dxf_text([SHEET]))
    kinds = [(kind, dict(data)[8]) for kind, data in found]
    lines, circles = "LWPOLYLINE", "CIRCLE"
    assert sorted(kinds) == sorted(
        [
            *((lines, "CUT"), (circles, "CUT"), (lines, "CUT"), (circles, "DRILL"), (circles, "DRILL")),
            *((lines, "ENGRAVE"), (circles, "POCKET-4 mm")),
        ]
    )
    drilled = [dict(d) for _, d in found if dict(d)[8] == "DRILL"]
    drills = {(float(d[10]), float(d[20]), float(d[40])) for d in drilled}
    assert drills == {(50.0, 30.0, 2.75), (-50.0, 30.0, 2.75)}
    plate = found[0][1]
    bulges = [float(v) for code, v in plate if code == 42]
    # Group code 42 is the tangent of a quarter of the arc's angle: four corners of 90 degrees.
    assert sorted(bulges)[-4:] == pytest.approx([tan(pi / 8.0)] * 4)
    assert dict(plate)[70] == "1"  # closed


def test_area_that_comes_back_is_the_area_that_went_in() -> None:
    # Plate less four corners: 120 x 80 - (4 - pi) 10^2; ellipse pi a b.
    from ezdxf import path

    drawing = ezdxf.read(io.StringIO(dxf_text([SHEET])))
    assert not drawing.audit().has_errors
    areas = []
    for entity in drawing.modelspace().query("LWPOLYLINE[layer=='CUT']"):
        x, y = np.array([(p.x, p.y) for p in path.make_path(entity).flattening(0.0005)]).T
        areas.append(abs(float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))) / 2.0)
    assert areas == pytest.approx([120.0 * 80.0 - (4.0 - pi) * 100.0, pi * 8.0 * 4.0], rel=3e-3)
    assert areas[0] == pytest.approx(120.0 * 80.0 - (4.0 - pi) * 100.0, rel=1e-5)


def test_several_sheets_do_not_overlap_and_say_which_is_which() -> None:
    text = dxf_text([FlatPart("layer 1", 18.0, (PLATE,)), FlatPart("layer 2", 12.0, (PLATE,))], "Front door")
    spans = {dict(d)[8]: [float(v) for c, v in d if c == 10] for _, d in entities(text)}
    assert set(spans) == {"CUT-layer 1 18 mm", "CUT-layer 2 12 mm"}
    assert min(spans["CUT-layer 2 12 mm"]) - max(spans["CUT-layer 1 18 mm"]) == pytest.approx(20.0)


def test_same_sheet_same_text() -> None:
    assert dxf_text([SHEET], "a") == dxf_text([SHEET], "a")
