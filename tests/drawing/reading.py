"""Reads a drawing back from its SVG, with nothing of ours but the letters' own widths from the shipped font."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from xml.etree import ElementTree

from PIL import ImageFont

SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Written:
    text: str
    left: float
    top: float
    right: float
    bottom: float


@cache
def font(bold: bool) -> ImageFont.FreeTypeFont:
    name = "drawing-bold.ttf" if bold else "drawing-regular.ttf"
    with (files("backwave") / "drawing/fonts" / name).open("rb") as file:
        return ImageFont.truetype(file, 1000)


def written(svg: str) -> list[Written]:
    """Every text with the box that the shipped font gives it (its ink, not an estimate)."""
    root = ElementTree.fromstring(svg)  # ours, not a stranger's
    css = root.find(f"{SVG}style")
    assert css is not None
    assert css.text
    found = []
    for node in root.iter(f"{SVG}text"):
        rule = re.search(rf"\.{node.get('class')}\{{font-size:([0-9.]+)px;font-weight:(\w+)", css.text)
        assert rule
        size, face = float(rule[1]), font(rule[2] == "bold")
        text = node.text or ""
        width = face.getlength(text) * size / 1000
        _, up, _, down = face.getbbox(text, anchor="ls")
        x, y = float(node.get("x", "0")), float(node.get("y", "0"))
        x -= {"start": 0.0, "middle": width / 2, "end": width}[node.get("text-anchor", "start")]
        found.append(Written(text, x, y + up * size / 1000, x + width, y + down * size / 1000))
    return found


def faults(svg: str) -> list[str]:
    """Texts whose ink overlaps or leaves the sheet."""
    root = ElementTree.fromstring(svg)
    _, _, width, height = (float(v) for v in root.get("viewBox", "").split())
    texts = [t for t in written(svg) if t.text.strip()]
    wrong = [t.text for t in texts if t.left < 0 or t.top < 0 or t.right > width or t.bottom > height]
    for n, a in enumerate(texts):
        wrong += [
            f"{a.text} / {b.text}"
            for b in texts[n + 1 :]
            if a.left < b.right and b.left < a.right and a.top < b.bottom and b.top < a.bottom
        ]
    return wrong


def paths(svg: str, look: str) -> list[list[tuple[float, float]]]:
    """Corners of every straight-line path of one look."""
    root = ElementTree.fromstring(svg)
    return [
        [tuple(float(v) for v in pair.split()) for pair in re.split("[ML]", d.rstrip("Z"))[1:]]  # type: ignore[misc]
        for node in root.iter(f"{SVG}path")
        if node.get("class") == f"bw-{look}" and "A" not in (d := node.get("d", ""))
    ]
