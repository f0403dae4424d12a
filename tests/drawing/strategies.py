"""Random doors, drivers and flanges: possible ones, most of them bad ideas."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, sin

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from backwave.assess import PlaceResult
from backwave.finding import VERDICTS, Message
from backwave.fit import Clearance, DriverShape, FrontHeights, Opening, Terminals
from backwave.fit.assembly import Doubted
from backwave.fit.bolt_pattern import Hole
from backwave.fit.clocking import Clocking
from backwave.fit.laps import FlangeLap
from backwave.part.types import AdapterSpec, Fixing, Groove, Spigot, Thread
from backwave.shape import circle, polygon
from tests.drawing.demo_places import behind, bounded, clearance, door, fit, fixings, foam_of, mm, polar, read, ring

prose = st.text(
    st.characters(min_codepoint=32, max_codepoint=0x45F, exclude_categories=("Cc", "Mn", "Me", "Cf")), max_size=70
)
verdicts = st.sampled_from(VERDICTS)


def lengths(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda v: round(v, 2))


@st.composite
def clearances(draw: DrawFn, reach: float) -> Clearance:
    code = draw(st.sampled_from(("fit.behind", "fit.glass", "fit.grille", "fit.hole")))
    angle, of = draw(st.sampled_from((None, 90.0, 270.0))), draw(st.sampled_from(("back", "crest")))
    spread = draw(st.sampled_from((0.0, 1.5)))
    z, radius = draw(lengths(-80, 40)), draw(lengths(0, reach))
    return clearance(draw(prose), draw(lengths(-20, 60)), draw(lengths(0, 10)), z, radius, angle, code, of, spread)


@st.composite
def sections(draw: DrawFn) -> PlaceResult:
    frame, deep = draw(lengths(15, 160)), draw(lengths(8, 180))
    basket, magnet = draw(lengths(0.75, 0.95)) * frame, draw(lengths(0.2, 0.7)) * frame
    bore, outer = basket + draw(lengths(0.2, 4)), frame + draw(lengths(1, 30))
    seat, thick = draw(lengths(0, 45)), draw(lengths(1.5, 45))
    trim = draw(st.none() | lengths(2, 90))
    land = None if trim is None else trim - draw(lengths(0, 2))
    rows = []
    for _ in range(draw(st.integers(0, 4))):
        radii = sorted(draw(st.lists(lengths(0, 1.3 * outer), min_size=1, max_size=4, unique=True)))
        what = draw(st.sampled_from(("glass", "carriage", "rail")))
        angle = draw(st.sampled_from((None, 90.0, 270.0)))
        read_ = [(r, draw(lengths(3, 150))) for r in radii]
        rows.append(behind(what, read_, draw(st.sampled_from(("", "down", "half"))), angle))
    heights = FrontHeights(
        mm(draw(lengths(1, 25))), draw(st.none() | lengths(0.5, 20).map(mm)), draw(st.none() | lengths(1, 20).map(mm))
    )
    sunk = draw(st.booleans())
    spec = AdapterSpec(
        circle(outer), thick, bore, recess_mm=0.4 * thick if sunk else 0.0, seat_mm=max(frame, bore) + 0.5 if sunk else 0.0,
        relief_mm=draw(lengths(0, 5)), spigot=Spigot(bore + 6.0, 3.0) if draw(st.booleans()) else None,
        grooves=(Groove("back", "flange", outer - bore - 4, 2.5, 1.0),) if draw(st.booleans()) else (),
        fixings=(Fixing(0.0, frame, 5.5, 11.0, 0.5 * thick, 10.0, 3.0, "fixing 1"),),
        threads=(Thread(0.0, -0.97 * frame, "insert", "M4", 5.6, 0.6 * thick),),
    )  # fmt: skip
    low = draw(st.none() | lengths(0, 40))
    gaps = draw(st.lists(clearances(outer), max_size=8))
    allowed = None if low is None else (low, low + draw(lengths(0, 5)))
    closed = ring(0.9 * frame, frame, min(seat, trim), max(seat, trim) + 0.1, draw(lengths(2, 40))) if trim else None
    base = door()
    verdict = draw(verdicts)
    profile = ((basket, 0.0), (0.9 * basket, 0.2 * deep), (magnet, 0.6 * deep), (magnet, deep))
    terminals = Terminals(mm(basket), mm(20.0), mm(0.4 * deep), draw(st.sampled_from((None, 0.0, 70.0, 250.0))))
    return replace(
        base, name=draw(prose), speaker_name=draw(prose), frame_mm=2 * frame, spec=spec,
        driver=DriverShape(tuple((mm(r), mm(d)) for r, d in profile), heights, mm(draw(lengths(0, 20))),
                           mm(draw(lengths(1, 8))), draw(st.sampled_from((None, terminals)))),
        opening=Opening(mm(2 * bore + draw(lengths(1, 5))), skin=mm(draw(lengths(0.5, 3))),
                        trim_clear=None if trim is None else bounded(trim, draw(lengths(0, 3))), behind=tuple(rows)),
        fit=fit(seat, gaps, allowed, draw(st.booleans()), draw(st.booleans())), fit_checks=(read(verdict),),
        choice=draw(st.none() | prose.map(lambda text: Message(text.replace("{", "").replace("}", "")))),
        **foam_of(base, closed, land, draw(lengths(0, 3))), **fixings(base, spec.fixings, [draw(prose)], draw(lengths(0, 20))),
    )  # fmt: skip


def laps(bore: float, reach: float) -> st.SearchStrategy[FlangeLap]:
    def lap(value: float, angle: float) -> FlangeLap:
        ends = (polar(bore, angle), polar(min(bore + abs(value), reach), angle))
        return FlangeLap(Doubted(value, value - 1.0, value + 1.0), 8.0, angle, ends)

    return st.builds(lap, lengths(-3, 30), lengths(0, 360))


@st.composite
def faces(draw: DrawFn) -> PlaceResult:
    frame = draw(lengths(15, 160))
    bore = frame * draw(lengths(0.5, 0.95))
    reach, wave, lobes = frame + draw(lengths(1, 40)), draw(lengths(0, 0.1)), draw(st.integers(2, 5))
    outline = polygon(
        [
            (reach * (1 + wave * cos(lobes * t)) * cos(t), reach * (1 + wave * cos(lobes * t)) * sin(t))
            for t in (2 * pi * k / 72 for k in range(72))
        ]
    )
    count, turn = draw(st.integers(1, 8)), draw(lengths(0, 360))
    period = 360 / count
    start = draw(lengths(0, 0.5 * period))
    slot, mark = draw(st.sampled_from((0.0, 9.0))), draw(lengths(-90, 90))
    at = tuple(
        Fixing(*polar(reach * 0.95, draw(lengths(0, 360))), draw(lengths(2, 8)), head_mm=draw(lengths(0, 14)), name=f"fixing {n}")
        for n in range(1, draw(st.integers(1, 6)) + 1)
    )  # fmt: skip
    threads = tuple(Thread(*polar(0.95 * frame, period * k + mark + turn), "insert", "M4", 8.0) for k in range(count))
    gap = draw(st.none() | lengths(-3, 9))
    hole = (threads[0].x_mm, threads[0].y_mm)
    turned = Clocking(
        turn, gap, draw(st.none() | lengths(0, period)), gap, period,
        draw(st.sampled_from(((), ((start, start + 0.3 * period),)))), 3.0, hole, (at[0].x_mm, at[0].y_mm),
    )  # fmt: skip
    base = door()
    terminals = st.builds(
        lambda deg, wide: Terminals(mm(0.9 * bore), mm(wide), mm(10.0), deg), lengths(0, 360), lengths(5, 40)
    )
    front = draw(st.none() | st.just(ring(0.9 * frame, frame, 0.0, 10.0, 12.0)))
    return replace(
        base, name=draw(prose), speaker_name=draw(prose), side=draw(st.sampled_from(("left", "right", ""))),
        frame_mm=2 * frame, spec=AdapterSpec(outline, 10.0, bore, fixings=at, threads=threads),
        holes=tuple(Hole(*polar(0.95 * frame, period * k + mark), 5.0, slot, 30.0) for k in range(count)),
        opening=replace(base.opening, hole=mm(2 * bore + 1) if draw(st.booleans()) else None),
        driver=replace(base.driver, terminals=draw(st.none() | terminals)),
        clocking=draw(st.sampled_from((None, turned))), lap=draw(st.none() | laps(bore, reach)), hole_checks=(read(draw(verdicts)),),
        **foam_of(base, front, 20.0), **fixings(base, at, [draw(prose) for _ in at]),
    )  # fmt: skip
