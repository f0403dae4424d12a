"""The face: the flange from the front, with the driver turned on it.

x to the right and y up as seen from the cabin.  Round the flange runs a ring of directions: the pointer stands
where the driver's first hole points, heavy arcs are the turns that keep the required gap, a triangle the best."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, cos, degrees, hypot, radians, sin

from backwave.assess.place_result import PlaceResult
from backwave.drawing.callouts import Callout, Medium, columns, finish, gap_words, heading, labels
from backwave.drawing.dimensions import Figures, arrow, center_cross, dimension, fill_hatch, hatch
from backwave.drawing.section import PHONE_TEXT
from backwave.drawing.section_parts import unknown
from backwave.drawing.sheet import ArcStroke, BoxStroke, Frame, Point, Sheet, to_svg
from backwave.drawing.styles import Theme
from backwave.finding import Verdict
from backwave.fit.bolt_pattern import Hole
from backwave.units import show

SHEETS: dict[Medium, tuple[float, float, float]] = {  # width, height and columns of words
    "paper": (1000.0, 100.0, 200.0), "screen": (916.0, 690.0, 112.0), "phone": (390.0, 440.0, 2.0)
}  # fmt: skip
PLATES: dict[Verdict, str] = {"ok": "holes keep their distance", "caution": "look at the holes", "stop": "holes meet"}
TERMINALS_MM = 18.0  # of the terminals' block as drawn, inward from where it ends


def face_svg(place: PlaceResult, theme: Theme = "light", *, system: str = "metric", public: bool = False) -> str:
    return to_svg(face_sheet(place, system=system, public=public), theme)


def hole_words(place: PlaceResult) -> str:
    """The words of its verdict."""
    verdict, turned = place.hole_verdict, place.clocking
    alone = verdict == "ok" and (turned is None or turned.gap_mm is None)
    return "nothing for the holes to meet" if alone else PLATES[verdict]


def face_sheet(
    place: PlaceResult, *, medium: Medium = "paper", system: str = "metric", public: bool = False
) -> Sheet:  # fmt: skip
    """The face as a display list; one that is `public` does not say how the driver is drilled."""
    title, paper = f"{place.name}: face", medium == "paper"
    subtitle = f"{place.speaker_name}, {'as it is turned' if public else _pattern_words(place.holes, system)}"
    width, height, column = SHEETS[medium]
    s = Sheet(width, height, title)
    head = heading(s, title, subtitle, place.hole_verdict, hole_words(place), "", False) if paper else 0.0
    s.text_unit = PHONE_TEXT if medium == "phone" else 1.0
    fmt = Figures(system)
    outline, hole = [(float(x), float(y)) for x, y in place.spec.outline.points(0.05)], _hole_edge(place)
    reach = max([place.frame_mm / 2, *(hypot(x, y) for x, y in (*outline, *hole))])
    around = 56.0  # the ring of directions and its figures
    half = width / 2 - (column + 44.0 if paper else column)
    f = Frame(width / 2, head + 22 + half if paper else height / 2, (half - around) / reach)

    _outlines(s, f, place, outline, hole)
    _unread(s, f, place)
    calls = _terminals(s, f, place) + _fixings(s, f, place, fmt) + _holes(s, f, place, fmt)
    calls = _gaps(s, f, place, fmt) + calls
    _ring(s, f, place, reach * f.scale + 17)
    spare = _sides(s, f, place)
    calls += _names(f, place, fmt, outline, hole)
    bottom = f.y0 + half
    end = bottom
    if paper:
        end = max(bottom, columns(s, calls, column, head + 24, f.x0))
    else:
        labels(s, calls, BoxStroke(2, 2, width - 2, height - 2), brief=medium == "phone")
    finish(s, medium, [*unknown(place), *spare], end)
    return s


def _pattern_words(holes: Sequence[Hole], system: str) -> str:
    if not holes:
        return "holes not measured"
    across = {round(2.0 * hypot(h.x_mm, h.y_mm), 3) for h in holes}
    if len(across) > 1 or any(h.length_mm > h.diameter_mm for h in holes):
        return f"{len(holes)} holes"
    circle = across.pop()
    places = len(f"{circle:g}".partition(".")[2])  # as it was measured: 156 mm, 6.5 mm
    return f"{len(holes)} holes on a {show(circle, 'mm', system, places)} circle"


def _hole_edge(place: PlaceResult) -> list[Point]:
    """Edge of the hole in the metal; nothing where it is not known."""
    opening = place.opening
    if opening.hole is not None:
        return [_turned(opening.hole.value / 2.0, 0.0, deg) for deg in range(0, 360, 3)]
    return [] if opening.outline_mm is None else [(float(x), float(y)) for x, y in opening.outline_mm]


def _turned(x_mm: float, y_mm: float, deg: float) -> Point:
    c, n = cos(radians(deg)), sin(radians(deg))
    return x_mm * c - y_mm * n, x_mm * n + y_mm * c


def _outlines(s: Sheet, f: Frame, place: PlaceResult, outline: list[Point], hole: list[Point]) -> None:
    bore, frame = place.spec.bore_mm * f.scale, place.frame_mm / 2 * f.scale
    s.line(f.all(outline), "body-part", True)
    s.circle(f.x0, f.y0, frame, "body-driver")
    s.circle(f.x0, f.y0, bore, "ground")
    s.line(f.all(outline), "edge", True)
    if hole:
        s.line(f.all(hole), "hidden", True)
    s.circle(f.x0, f.y0, bore, "line")
    s.circle(f.x0, f.y0, frame, "edge")
    if place.foam.front is not None:
        for across in (place.foam.front.inner_mm, place.foam.front.outer_mm):
            s.circle(f.x0, f.y0, across / 2 * f.scale, "faint")
    center_cross(s, f.x0, f.y0, bore * 0.97)


def _unread(s: Sheet, f: Frame, place: PlaceResult) -> None:
    """Dashed hatching along the bore's edge where nothing was measured behind."""
    bore = place.spec.bore_mm * f.scale
    for start, end in place.unread_deg:
        steps = [start + (end - start) * k / 60 for k in range(61)]
        far, near = ([_polar(f, share * bore, deg) for deg in steps] for share in (0.97, 0.82))
        if end - start >= 360.0:
            for segment in hatch([far, near], 5.0, 20.0):
                s.line(segment, "hatch-unknown")
        else:
            fill_hatch(s, [*far, *reversed(near)], "", "hatch-unknown", 5.0, 20.0)


def _terminals_deg(place: PlaceResult) -> float | None:
    """Direction of the terminals' middle as turned; None where it is not known."""
    held = place.driver.terminals
    return None if held is None or held.angle_deg is None else (held.angle_deg + place.turn_deg) % 360.0


def _terminals(s: Sheet, f: Frame, place: PlaceResult) -> list[Callout]:
    held, deg = place.driver.terminals, _terminals_deg(place)
    if held is None or deg is None:
        return []
    half, outer = held.width.value / 2, held.radius.value
    inner = max(outer - TERMINALS_MM, 5.0)
    block = ((inner, -half), (outer, -half), (outer, half), (inner, half))
    s.line([f.at(*_turned(x, y, deg)) for x, y in block], "hidden", True)
    return [Callout(f.at(*_turned((inner + outer) / 2, 0.3 * half, deg)), (("terminals, behind", "label"),))]


def _fixings(s: Sheet, f: Frame, place: PlaceResult, fmt: Figures) -> list[Callout]:
    fixings = [fix for fix in place.spec.fixings if fix.hole_mm]
    if not fixings:
        return []
    heads = {fix.name: fix.counterbore_mm or fix.head_mm for fix in fixings}
    for fix in fixings:
        x, y = f.at(fix.x_mm, fix.y_mm)
        head = heads[fix.name]
        if head > fix.hole_mm:
            s.circle(x, y, head / 2 * f.scale, "hollow")
        s.circle(x, y, fix.hole_mm / 2 * f.scale, "hollow-edge")
        center_cross(s, x, y, max(head, fix.hole_mm) * 0.5 * f.scale + 6)
    first = max(fixings, key=lambda fix: (fix.y_mm, -fix.x_mm))
    said = [("factory fixing" + (f", {len(fixings)} of them" if len(fixings) > 1 else ""), "label")]
    if len({(fix.hole_mm, heads[fix.name], place.holds(fix)) for fix in fixings}) == 1:
        of_head = f", head \u2300{fmt.full(heads[first.name])}" if heads[first.name] else ""
        said.append((f"\u2300{fmt.full(first.hole_mm)}{of_head}, {place.holds(first)}", "note"))
    else:
        said.append(("sizes differ", "note"))
    return [Callout(f.at(first.x_mm, first.y_mm), tuple(said))]


def _holes(s: Sheet, f: Frame, place: PlaceResult, fmt: Figures) -> list[Callout]:
    if not place.holes:
        return []
    drawn = []
    for hole in place.holes:
        x_mm, y_mm = _turned(hole.x_mm, hole.y_mm, place.turn_deg)
        near = (t.hole_mm for t in place.spec.threads if hypot(t.x_mm - x_mm, t.y_mm - y_mm) < 0.1)
        drawn.append((hole, x_mm, y_mm, next(near, 0.0)))  # and what is cut for it in the part
    for hole, x_mm, y_mm, boss in drawn:
        x, y = f.at(x_mm, y_mm)
        if boss > 0:
            s.circle(x, y, boss / 2 * f.scale, "change")
        if hole.length_mm > hole.diameter_mm:
            s.line(_slot(f, hole, x_mm, y_mm, hole.angle_deg + place.turn_deg), "hollow-edge", True)
        else:
            s.circle(x, y, hole.diameter_mm / 2 * f.scale, "hollow-edge")
        center_cross(s, x, y, 0.5 * max(hole.diameter_mm, boss) * f.scale + 5)
    first, x_mm, y_mm, boss = min(drawn, key=lambda one: (round(one[2], 3), -one[1]))
    slot = first.length_mm > first.diameter_mm
    count = f", {len(drawn)} of them" if len(drawn) > 1 else ""
    size = f"\u2300{fmt.full(first.diameter_mm)}"
    if slot:
        size = f"{fmt.bare(first.diameter_mm)} \u00d7 {fmt.full(first.length_mm)}"
    note = f"{size}, in the part \u2300{fmt.full(boss)}" if boss else size
    return [Callout(f.at(x_mm, y_mm), ((f"speaker {'slot' if slot else 'hole'}{count}", "label"), (note, "note")))]


def _slot(f: Frame, hole: Hole, x_mm: float, y_mm: float, deg: float) -> list[Point]:
    half, r = (hole.length_mm - hole.diameter_mm) / 2, hole.diameter_mm / 2
    points = []
    for k in range(24):
        angle = radians(-90 + 180 * (k % 12) / 11 + (0 if k < 12 else 180))
        u, w = _turned((half if k < 12 else -half) + r * cos(angle), r * sin(angle), deg)
        points.append(f.at(x_mm + u, y_mm + w))
    return points


def _gaps(s: Sheet, f: Frame, place: PlaceResult, fmt: Figures) -> list[Callout]:
    """What is dimensioned: holes to fixings at the chosen turn, the flange on metal where that is least."""
    turned, lap, calls = place.clocking, place.lap, []

    def measure(name: str, value: float, wanted: float, verdict: Verdict, ends: tuple[Point, Point]) -> None:
        look = "wrong" if verdict == "stop" else "gap"
        a, b = (f.at(*end) for end in ends)
        tips = dimension(s, a, b, look, f"{look}-arrow", 14.0)
        spot = max(tips, key=lambda p: abs(p[0] - f.x0)) if tips[0] != a else ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        said = gap_words(fmt, name, value, verdict, wanted, brief=s.text_unit < 1.0)
        calls.append(Callout(spot, said, "none", verdict, look))

    if turned is not None and turned.gap_mm is not None and turned.gap_from_mm and turned.gap_to_mm:
        gap, wanted = turned.gap_mm, turned.required_mm
        verdict: Verdict = "ok" if gap >= wanted else "caution" if gap >= 0 else "stop"
        measure("hole to fixing", gap, wanted, verdict, (turned.gap_from_mm, turned.gap_to_mm))
    if lap is not None:
        measure("flange on metal", lap.lap.value_mm, lap.wanted_mm, lap.verdict, lap.ends_mm)
    return calls


def _mark_deg(place: PlaceResult) -> float:
    """The driver's own angle of its first hole: the pointer stands there, turned."""
    return degrees(atan2(place.holes[0].y_mm, place.holes[0].x_mm)) % 360.0 if place.holes else 0.0


def _ring(s: Sheet, f: Frame, place: PlaceResult, ring: float) -> None:
    """Directions round the flange: ticks, allowed arcs, pointer at the turn drawn, triangle at the best."""
    s.circle(f.x0, f.y0, ring, "faint")
    for deg in range(0, 360, 10):
        out = 7 if deg % 30 == 0 else 4
        s.line((_polar(f, ring, deg), _polar(f, ring + out, deg)), "fine")
    mark, turned = _mark_deg(place), place.clocking
    if turned is not None:
        for k in range(max(1, round(360 / turned.period_deg))):
            for low, high in turned.allowed_deg:
                start, end = (mark + a + k * turned.period_deg for a in (low, high))
                if high - low >= 359.9:
                    s.circle(f.x0, f.y0, ring, "change-wide")
                elif high - low > 1e-6:
                    s.marks.append(ArcStroke(f.x0, f.y0, ring, start, end, "change-wide"))
    for deg in range(0, 360, 30):
        x, y = _polar(f, ring + 22, deg)
        s.words(x, y + 4, f"{deg}\u00b0", "tick", "middle")
    if turned is not None and turned.best_deg is not None:
        at = mark + turned.best_deg
        tip, left, right = _polar(f, ring + 2, at), _polar(f, ring + 12, at - 1.6), _polar(f, ring + 12, at + 1.6)
        s.line((tip, left, right), "change", True)
    at = mark + place.turn_deg
    s.line((_polar(f, place.frame_mm / 2 * f.scale * 0.9, at), _polar(f, ring, at)), "change")
    arrow(s, _polar(f, ring, at), at, "change-arrow")


def _polar(f: Frame, radius: float, deg: float) -> Point:
    return f.x0 + radius * cos(radians(deg)), f.y0 - radius * sin(radians(deg))


def _sides(s: Sheet, f: Frame, place: PlaceResult) -> list[str]:
    """Which way is up and which side this is, in the bore on the side the terminals leave free; or, where the bore is
    too small for words, as lines for the foot."""
    bore, deg = place.spec.bore_mm * f.scale, _terminals_deg(place)
    said = [(place.side, "value"), ("seen from the cabin", "note")] if place.side else [("seen from the cabin", "note")]
    if bore < 92:
        return [", ".join(["up is up", *(text for text, _ in reversed(said))]) + "."]
    upward = deg is not None and sin(radians(deg)) > 0.3
    y = f.y0 + 0.62 * bore if upward else f.y0 - 8
    for text, look in reversed(said):
        s.words(f.x0, y, text, look, "middle")
        y -= 19
    s.words(f.x0, y, "up", "label", "middle")
    foot_y, tip = y - 15, y - 15 - max(14.0, min(0.2 * bore, 40.0))
    s.line(((f.x0, foot_y), (f.x0, tip)), "edge")
    arrow(s, (f.x0, tip - 3), 90, "gap-arrow")
    return []


def _names(f: Frame, place: PlaceResult, fmt: Figures, outline: list[Point], hole: list[Point]) -> list[Callout]:
    frame, bore, turned, ring = place.frame_mm / 2, place.spec.bore_mm, place.clocking, place.foam.front
    said = [(f"rotation {_deg(place.turn_deg)}", "value-change")]
    if turned is not None and turned.best_deg is not None:
        said.append((f"best {_deg(turned.best_deg)}, repeats every {_deg(turned.period_deg)}", "note"))
    if turned is not None and not turned.allowed_deg:
        said.append(("no rotation keeps the gap", "note-wrong"))
    spot = _polar(f, frame * 0.95 * f.scale, _mark_deg(place) + place.turn_deg)
    calls = [Callout(spot, tuple(said), "none", look="change")]
    spot = min(outline, key=lambda p: p[0] * 0.8 + p[1] * 0.6)
    inner = max(hypot(*spot) - 2.5, 0.0) / max(hypot(*spot), 1e-9)
    calls.append(Callout(f.at(spot[0] * inner, spot[1] * inner), (("adapter's flange", "label"),)))
    if hole:
        spot = max(hole, key=lambda p: p[0] * 0.85 - p[1] * 0.5)
        calls.append(Callout(f.at(*spot), (("hole in the metal", "label"),), "arrow"))
    for radius, deg, text, look in (
        (frame, 62, f"speaker frame \u2300{fmt.full(2 * frame)}", "label"),
        (bore, 118, f"bore \u2300{fmt.full(2 * bore)}", "label"),
        *([] if ring is None else [(ring.outer_mm / 2, 200, "foam ring", "note")]),
    ):
        calls.append(Callout(_polar(f, radius * f.scale, deg), ((text, look),), "arrow"))
    return calls


def _deg(value: float) -> str:
    return f"{value:.1f}\u00b0".replace("-", "\u2212").replace(".0\u00b0", "\u00b0")
