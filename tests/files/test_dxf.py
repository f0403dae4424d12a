"""DXF: audited by the library that wrote it, and read by a reader that knows only the format's pairs of lines."""

from __future__ import annotations

import io
from dataclasses import replace
from math import cos, pi, sin, tan

import ezdxf
import numpy as np
import pytest
import shapely
from part.specs import full

from backwave.errors import InputError
from backwave.files.flat_files import dxf_text
from backwave.part.flat_patterns import FlatPart, Pocket, check_ring, flat_ring, sheet_layers
from backwave.part.types import AdapterSpec, Fixing, Notch, SheetStock, Thread
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


def area_of(text: str, layer: str = "") -> float:
    """Area inside the first outline on CUT, less all other cuts and drilled holes; mm2, by ezdxf and shapely."""
    from ezdxf import path

    found = []
    for entity in ezdxf.read(io.StringIO(text)).modelspace():
        name = entity.dxf.layer
        if name.startswith(("CUT", "DRILL")) and name.endswith(layer):
            found.append(shapely.Polygon([(p.x, p.y) for p in path.make_path(entity).flattening(0.001)]))
    outer = max(found, key=lambda p: p.area)
    return outer.difference(shapely.union_all([p for p in found if p is not outer])).area


def section_mm2(spec: AdapterSpec, z_mm: float) -> float:
    """Area of the solid's section at a height, by the kernel."""
    from build123d import Face, Plane

    from backwave.part.solid import build

    cut = build(spec, lettering=False).solid.intersect(Face.make_rect(500.0, 500.0, Plane.XY.offset(z_mm)))
    return sum(face.area for face in (cut if isinstance(cut, list) else cut.faces()))


BOSSED = AdapterSpec(  # inserts near the edge stand in bosses, the terminals in a notch
    circle(82.5), 14.0, 70.0, relief_mm=3.0, notches=(Notch(250.0, 20.0, 4.0),), edge_mm=0.6,
    fixings=(Fixing(-76.0, 0.0, 4.5, 9.0, 6.0, 8.0, 5.0, "fixing 1"),),
    threads=tuple(
        Thread(79.5 * cos(a), 79.5 * sin(a), "insert", "M4", 5.6, 9.0, boss_mm=10.0, name=f"driver hole {a:g}")
        for a in (0.8, 2.2)
    ),
)  # fmt: skip


@pytest.mark.kernel
@pytest.mark.parametrize("spec", [BOSSED, replace(full(), spigot=None)], ids=["bosses", "notch"])
def test_a_printed_parts_outlines_are_those_of_its_solid(spec: AdapterSpec) -> None:
    """Above relief and groove, below the counterbores, in the depth of the inserts."""
    drawn = area_of(dxf_text([flat_ring(check_ring(spec))]))
    assert drawn == pytest.approx(section_mm2(spec, 6.5), abs=10.0)  # 0.01 mm of chord along the edges
    plain = replace(spec, notches=(), threads=tuple(replace(t, boss_mm=0.0) for t in spec.threads))
    assert abs(drawn - area_of(dxf_text([flat_ring(check_ring(plain))]))) > 30.0  # notch or bosses would be missed


@pytest.mark.kernel
def test_each_sheets_outlines_are_those_of_the_solid_there() -> None:
    spec = replace(BOSSED, relief_mm=0.0, edge_mm=0.0)
    layers = sheet_layers(spec, SheetStock((5.0, 3.0, 6.0)))  # below the inserts; beside them; at the counterbore
    text = dxf_text(layers)
    for layer, z in zip(layers, (2.5, 6.5, 11.0)):
        assert area_of(dxf_text([layer])) == pytest.approx(section_mm2(spec, z), abs=10.0), layer.name
    assert "POCKET" not in text
    with pytest.raises(InputError, match="boss"):  # it ends under the recess, within the layer in front
        sheet_layers(replace(spec, recess_mm=3.0, seat_mm=79.0), SheetStock((5.0, 9.0)))
