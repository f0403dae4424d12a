"""The drawings of the demo's parts, measured on the picture itself against the parts that are made."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from backwave.dossier.context import PageContext
from backwave.drawing.part import SCALES, hole_names, part_svg
from tests.drawing.reading import SVG, faults, paths, written


def circles(svg: str) -> list[tuple[float, float, float]]:
    root = ElementTree.fromstring(svg)
    return [tuple(float(n.get(k, "")) for k in ("cx", "cy", "r")) for n in root.iter(f"{SVG}circle")]  # type: ignore[misc]


@pytest.mark.parametrize("system", ["metric", "us"])
def test_outline_and_holes_are_where_the_part_has_them(told: PageContext, system: str) -> None:
    for part in told.result.parts:
        spec = part.spec
        svg = part_svg(part, "paper", system=system)
        assert faults(svg) == []
        ratio = re.search(r"face (\d+):(\d+)", " ".join(w.text for w in written(svg)))
        assert ratio is not None
        scale = int(ratio[1]) / int(ratio[2])
        assert scale in SCALES  # ISO 5455
        drawn, round_ = circles(svg), spec.outline.circle
        if round_ is not None:
            x0, y0 = next((x, y) for x, y, r in drawn if r == pytest.approx(scale * round_[2], abs=0.05))
        else:
            outline = max(
                (p for p in paths(svg, "edge")), key=lambda run: max(x for x, _ in run) - min(x for x, _ in run)
            )
            xs, ys = [x for x, _ in outline], [y for _, y in outline]
            left, bottom, right, top = spec.outline.bounds_mm
            assert max(xs) - min(xs) == pytest.approx(scale * (right - left), abs=0.05)
            assert max(ys) - min(ys) == pytest.approx(scale * (top - bottom), abs=0.05)
            # the axis, from the outline alone; y runs down on paper
            x0, y0 = min(xs) - scale * left, max(ys) + scale * bottom
        wanted = [(0.0, 0.0, spec.bore_mm)]
        wanted += [(h.x_mm, h.y_mm, h.hole_mm / 2) for h in (*spec.fixings, *spec.threads)]
        wanted += [(f.x_mm, f.y_mm, f.counterbore_mm / 2) for f in spec.fixings if f.counterbore_mm]
        for x, y, r in wanted:
            at = (x0 + scale * x, y0 - scale * y, scale * r)
            assert any(all(abs(a - b) < 0.06 for a, b in zip(at, one)) for one in drawn), (part.id, x, y, r)
        said = [w.text for w in written(svg)]
        assert set(hole_names(spec).values()) <= set(said)


def test_dimensions_say_what_is_drawn(told: PageContext) -> None:
    for part in told.result.parts:
        spec = part.spec
        said = [w.text for w in written(part_svg(part, "paper"))]
        left, bottom, right, top = spec.outline.bounds_mm
        if spec.outline.circle is not None:  # a true circle by its diameter, from the model
            assert f"⌀{2 * spec.outline.circle[2]:.1f}" in said
        else:
            assert said.count(f"{right - left:.1f}") >= 1
            assert said.count(f"{top - bottom:.1f}") >= 1
        assert any(text.endswith(f"⌀{2 * spec.bore_mm:.1f}") for text in said)
        assert f"{spec.thickness_mm:.1f}" in said
        depth = spec.fixings[0].counterbore_depth_mm
        # an M5 button head (ISO 7380-1: 2.75 mm), its large washer (ISO 7093-1: 1.2 mm) and half a millimeter
        assert depth == pytest.approx(2.75 + 1.2 + 0.5)
        assert f"{depth:.2f}" in said
