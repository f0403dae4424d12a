"""The harness drawn: every device and wire there, at right angles, nothing over anything."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from backwave.assess.power.results import Harnessed, PlugFace
from backwave.drawing.harness import LOOK, harness_sheet, harness_svg
from backwave.drawing.sheet import Poly, Sheet, overlaps
from backwave.drawing.wiring import faces_sheet, faces_svg
from backwave.power.harness import Contact, Device
from tests.drawing.demo_harness import harness
from tests.drawing.reading import faults, written
from tests.drawing.strategies import prose

KINDS = ("source", "splice", "connector", "crossover", "part", "speaker", "supply")
VAN = harness(
    (
        Device("amp", "source", ("1+", "1-", "2+", "2-")),
        Device("bass-amp", "source", ("1+", "1-")),
        Device("crossover-left", "crossover", ("in+", "in-", "woofer+", "woofer-", "tweeter+", "tweeter-")),
        Device("door-left", "speaker", ("+", "-"), "demo-165"),
        Device("dash-left", "speaker", ("+", "-"), "demo-25"),
        Device("right", "speaker", ("+", "-"), "demo-165"),
        Device("under-seat", "speaker", ("+", "-"), "demo-250"),
        Device("spare", "connector", ("1 in", "1 out")),
    ),
    (
        ("amp.1+", "crossover-left.in+", "w1 GY/RD"),
        ("amp.1-", "crossover-left.in-", "w2 GY/BK"),
        ("crossover-left.woofer+", "door-left.+", "w3"),
        ("crossover-left.woofer-", "door-left.-", "w4"),
        ("crossover-left.tweeter+", "dash-left.-", "w5"),
        ("crossover-left.tweeter-", "dash-left.+", "w6"),
        ("amp.2+", "right.+", "w7"),
        ("amp.2-", "right.-", "w8"),
        ("bass-amp.1+", "under-seat.+", "w9"),
        ("bass-amp.1-", "under-seat.-", "w10"),
    ),
    wrong=(4, 5),
)
LABELS = {row.color for row in VAN.schedule}


@st.composite
def harnesses(draw: DrawFn) -> Harnessed:
    """Any devices, any wires among their pins: circles, loops and contacts used twice too."""
    devices = [
        Device(f"{draw(prose)[:40]}{n}", draw(st.sampled_from(KINDS)), tuple("abcdef"[: draw(st.integers(1, 6))]), draw(prose)[:60])
        for n in range(draw(st.integers(0, 9)))
    ]  # fmt: skip
    pins = [f"{device.id}.{pin}" for device in devices for pin in device.pins]
    pair = st.tuples(st.sampled_from(pins), st.sampled_from(pins)) if pins else st.nothing()
    ends = draw(st.lists(pair.filter(lambda p: p[0] != p[1]), max_size=24)) if len(pins) > 1 else []
    wires = [(a, b, f"w{n} {draw(prose)[:14]}") for n, (a, b) in enumerate(ends)]
    return harness(devices, wires, [n for n in range(len(wires)) if draw(st.booleans())])


def boxes_of(sheet: Sheet) -> list[Poly]:
    return [m for m in sheet.marks if isinstance(m, Poly) and m.closed and m.look in {*LOOK.values(), "plate"}][1:]


def wires_of(sheet: Sheet) -> list[Poly]:
    looks = [m for m in sheet.marks if isinstance(m, Poly) and not m.closed and m.look in ("line", "wrong")]
    return [m for m in looks if len(set(m.points)) > 1]


def pieces(sheet: Sheet) -> list[tuple[str, float, float, float, int]]:
    """Every straight piece: which way, at what, from, to, of which wire mark."""
    found = []
    for n, poly in enumerate(wires_of(sheet)):
        for (x1, y1), (x2, y2) in pairwise(poly.points):
            assert x1 == x2 or y1 == y2, "not at right angles"
            if (x1, y1) == (x2, y2):
                continue
            if y1 == y2:
                found.append(("h", y1, min(x1, x2), max(x1, x2), n))
            else:
                found.append(("v", x1, min(y1, y2), max(y1, y2), n))
    return found


def wrong_with(sheet: Sheet) -> list[str]:
    """Wires that lie on one line (save two at one contact), run through a device; devices that overlap."""
    found = []
    wires = wires_of(sheet)
    ends = [{w.points[0], w.points[-1]} for w in wires]
    at = defaultdict(list)
    for way, place, low, high, n in pieces(sheet):
        at[way, round(place, 3)].append((low, high, n))
    for key, spans in at.items():
        spans.sort()
        found += [
            f"{key}: {a} over {b}"
            for k, a in enumerate(spans)
            for b in spans[k + 1 :]
            if b[0] < a[1] - 1e-6 and not ends[a[2]] & ends[b[2]]
        ]
    for box in boxes_of(sheet):
        xs, ys = [p[0] for p in box.points], [p[1] for p in box.points]
        left, right, top, bottom = min(xs), max(xs), min(ys), max(ys)
        for way, place, low, high, _ in pieces(sheet):
            inside = top < place < bottom and low < right - 1e-6 and high > left + 1e-6
            if way == "v":
                inside = left < place < right and low < bottom - 1e-6 and high > top + 1e-6
            if inside:
                found.append(f"{way} {place} runs through a device")
    boxes = boxes_of(sheet)
    for n, a in enumerate(boxes):
        for b in boxes[n + 1 :]:
            (l1, t1), (r1, b1) = a.points[0], a.points[2]
            (l2, t2), (r2, b2) = b.points[0], b.points[2]
            if l1 < r2 and l2 < r1 and t1 < b2 and t2 < b1:
                found.append("two devices overlap")
    return found


def test_the_van() -> None:
    sheet = harness_sheet(VAN, "two-way doors and dash")
    assert overlaps(sheet) == []
    assert wrong_with(sheet) == []
    assert len(boxes_of(sheet)) == len(VAN.harness.devices)
    svg = harness_svg(VAN, "two-way doors and dash")
    assert faults(svg) == []
    texts = {t.text for t in written(svg)}
    assert texts >= LABELS
    assert {d.id for d in VAN.harness.devices} <= texts


def test_every_wire_comes_to_both_of_its_pins() -> None:
    """Where its drawn ends lie, the words of its two pins stand, each at its own height."""
    sheet = harness_sheet(VAN, "two-way doors and dash")
    words = {(t.text, round(t.y, 3)) for t, _ in sheet.texts()}
    whole = wires_of(sheet)
    assert len(whole) == len(VAN.harness.wires)  # none passes a column here
    drawn = sorted((round(w.points[0][1] + 4, 3), round(w.points[-1][1] + 4, 3)) for w in whole)
    for start, end in drawn:
        pins = [(w.from_pin.partition(".")[2], w.to_pin.partition(".")[2]) for w in VAN.harness.wires]
        assert any((a, start) in words and (b, end) in words for a, b in pins)


def test_what_is_wrong_is_drawn_so() -> None:
    assert sum(w.look == "wrong" for w in wires_of(harness_sheet(VAN, "two-way doors and dash"))) == 2


def test_pairs_that_can_run_straight_do() -> None:
    straight = [w for w in wires_of(harness_sheet(VAN, "two-way doors and dash")) if len(w.points) == 2]
    assert len(straight) >= 4


@pytest.mark.parametrize("theme", ["light", "dark", "auto", "paper"])
def test_themes(theme: str) -> None:
    assert harness_svg(VAN, "", theme).startswith("<svg")  # type: ignore[arg-type]  # one of four


def test_a_wire_from_a_device_to_itself_is_told() -> None:
    made = harness(VAN.harness.devices[:1], [("amp.1+", "amp.1-", "w1")])
    assert any("w1" in t.text and "Not drawn" in t.text for t in written(harness_svg(made, "")))


def test_nothing_at_all() -> None:
    assert overlaps(harness_sheet(harness((), ()), "")) == []


@settings(deadline=None, max_examples=40)
@given(harnesses(), prose)
def test_any_harness_is_drawn_with_nothing_over_anything(made: Harnessed, title: str) -> None:
    sheet = harness_sheet(made, title)
    assert overlaps(sheet) == []
    assert wrong_with(sheet) == []
    assert len(boxes_of(sheet)) == len(made.harness.devices)


def pin(number: str, carries: str = "", out: str = "") -> Contact:
    return Contact(number, carries, "", out, "GY/RD", "", "")


PLUG = PlugFace("door plug left", "", 8, 2, (pin("3", "amp 1 +", "w5"), pin("A", "amp 1 -"), pin("8")))


def test_faces() -> None:
    sheet = faces_sheet((PLUG, PLUG), "Connector faces")
    assert overlaps(sheet) == []
    svg = faces_svg((PLUG,), "Connector faces")
    assert faults(svg) == []
    texts = [t.text for t in written(svg)]
    assert texts.count("3") == 2  # on the face and in the list
    assert texts.count("A") == 2
    # Two rows of four: 8 stands right of 7, under 4.
    at = {t.text: t for t in written(svg)}
    assert at["7"].top > at["4"].bottom
    assert at["4"].left > at["2"].right


@settings(deadline=None, max_examples=30)
@given(
    st.lists(
        st.builds(
            PlugFace,
            prose,
            prose,
            st.integers(4, 24),
            st.integers(1, 4),
            st.lists(st.builds(pin, st.sampled_from("1234AB"), prose, prose), max_size=4, unique_by=lambda c: c.number).map(tuple),
        ),
        max_size=4,
    ),
    prose,
)  # fmt: skip
def test_any_faces(faces: list[PlugFace], title: str) -> None:
    assert overlaps(faces_sheet(tuple(faces), title)) == []
