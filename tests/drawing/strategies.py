"""Random doors, drivers and flanges: possible ones, most of them bad ideas."""

from __future__ import annotations

from math import cos, pi, sin

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from backwave.drawing import (
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
from backwave.finding import VERDICTS
from tests.drawing.demo_views import polar

prose = st.text(
    st.characters(min_codepoint=32, max_codepoint=0x45F, exclude_categories=("Cc", "Mn", "Me", "Cf")), max_size=70
)
verdicts = st.sampled_from(VERDICTS)


def mm(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda v: round(v, 2))


@st.composite
def clearances(draw: DrawFn, reach: float) -> ClearanceView:
    z, r = draw(mm(-80, 40)), draw(mm(-reach, reach))
    value = draw(mm(-20, 60))
    a = (z, r)
    b = (z + value, r) if draw(st.booleans()) else (z, r + abs(value) / 4)
    low, high = (value - 1.5, value + 1.5) if draw(st.booleans()) else (None, None)
    return ClearanceView(draw(prose), a, b, value, low, high, draw(st.none() | mm(0, 10)), draw(verdicts), draw(prose))


@st.composite
def sections(draw: DrawFn) -> SectionView:
    frame = draw(mm(15, 160))
    deep = draw(mm(8, 180))
    basket, magnet = draw(mm(0.75, 0.95)) * frame, draw(mm(0.2, 0.7)) * frame
    front = draw(mm(1, 25))
    bore = basket + draw(mm(0.2, 4))
    outer = frame + draw(mm(1, 30))
    seat = draw(mm(0, 45))
    thick = draw(mm(1.5, 45))
    trim = draw(st.none() | mm(2, 90))
    obstacles = []
    for _ in range(draw(st.integers(0, 4))):
        radii = sorted(draw(st.lists(mm(0, 1.3 * outer), min_size=1, max_size=4, unique=True)))
        what, window = (
            draw(st.sampled_from(("glass", "carriage", "rail"))),
            draw(st.sampled_from(("", "down", "half"))),
        )
        half = draw(st.sampled_from(("both", "up", "down")))
        obstacles.append(ObstacleView(what, tuple((r, draw(mm(3, 150))) for r in radii), window, half))
    low = draw(st.none() | mm(0, 40))
    None if low is None else low + draw(mm(0, 5))
    least = draw(mm(0, 20))
    least + draw(mm(1, 60))
    return SectionView(
        title=draw(prose),
        subtitle=draw(prose),
        verdict=draw(verdicts),
        verdict_text=draw(prose),
        verdict_note=draw(prose),
        skin_mm=draw(mm(0.5, 3)),
        hole_up_mm=bore + 0.5,
        hole_down_mm=bore + draw(mm(0.1, 5)),
        seat=SeatWindow(
            seat,
            low,
            None if low is None else low + draw(mm(0, 5)),
            least,
            least + draw(mm(1, 60)),
            draw(st.booleans()),
        ),
        driver=DriverCut(
            frame,
            draw(mm(1, 8)),
            ((basket, 0.0), (0.9 * basket, 0.2 * deep), (magnet, 0.6 * deep), (magnet, deep)),
            front,
            draw(st.none() | mm(0.5, 20)),
            draw(st.just(0.0) | mm(1, 20)),
            draw(mm(0, 20)),
            draw(mm(0, 2)),
            tuple(
                TerminalCut(h, basket, 0.4 * deep, draw(st.booleans()))
                for h in draw(st.sampled_from(((), ("up",), ("up", "down"))))
            ),
        ),
        adapter=AdapterCut(
            outer,
            outer + draw(mm(0, 40)),
            bore,
            thick,
            draw(mm(0, 3)),
            0.4 * thick if draw(st.booleans()) else 0.0,
            frame + 0.5,
            draw(mm(0, 5)),
            (bore + 4, 2.5, 1.0) if draw(st.booleans()) else None,
            (bore + 6, bore + 12) if draw(st.booleans()) else None,
            (bore, 3.0) if draw(st.booleans()) else None,
            (FixingCut("up", frame, 5, 5.5, 10, 3, 11, 0.5 * thick, draw(mm(0, 20))),),
            (InsertCut("up", 0.97 * frame, 5.6, 0.6 * thick, 4),),
            draw(prose),
        ),
        obstacles=tuple(obstacles),
        clearances=tuple(draw(st.lists(clearances(outer), max_size=8))),
        trim_clear_mm=trim,
        trim_land_mm=None if trim is None else trim - draw(mm(0, 2)),
        trim_half_mm=draw(st.none() | mm(0.1, 3)),
        foam=None
        if trim is None
        else FoamRingView(0.9 * frame, frame, min(seat, trim), max(seat, trim), draw(st.none() | mm(2, 40))),
        notes=tuple(draw(st.lists(prose, max_size=3))),
    )


@st.composite
def faces(draw: DrawFn) -> FaceView:
    frame = draw(mm(15, 160))
    bore = frame * draw(mm(0.5, 0.95))
    reach, wave, lobes = frame + draw(mm(1, 40)), draw(mm(0, 0.1)), draw(st.integers(2, 5))
    outline = tuple(
        (reach * (1 + wave * cos(lobes * t)) * cos(t), reach * (1 + wave * cos(lobes * t)) * sin(t))
        for t in (2 * pi * k / 72 for k in range(72))
    )
    count, turn = draw(st.integers(1, 8)), draw(mm(0, 360))
    period = 360 / count
    start = draw(mm(0, 0.5 * period))
    holes = tuple(
        DriverHole(*polar(0.95 * frame, period * k + turn), 5, draw(st.sampled_from((0.0, 9.0))), 30, 8)
        for k in range(count)
    )
    fixings = tuple(
        FaceFixing(*polar(reach * 0.95, draw(mm(0, 360))), draw(mm(2, 8)), draw(mm(0, 14)), draw(prose))
        for _ in range(draw(st.integers(0, 6)))
    )
    gap = None
    if fixings:
        f, h = fixings[0], holes[0]
        gap = ClearanceView(
            draw(prose), (h.x_mm, h.y_mm), (f.x_mm, f.y_mm), 3.0, None, None, 3.0, draw(verdicts), draw(prose)
        )
    return FaceView(
        draw(prose),
        draw(prose),
        draw(verdicts),
        draw(prose),
        draw(prose),
        draw(st.sampled_from(("left", "right", ""))),
        outline,
        tuple(polar(bore + 0.5, 5 * k) for k in range(72)) if draw(st.booleans()) else (),
        bore,
        frame,
        fixings,
        holes,
        draw(st.none() | st.builds(TerminalFace, mm(0, 360), mm(5, 40), st.just(0.4 * bore), st.just(0.9 * bore))),
        turn,
        draw(st.none() | mm(0, period)),
        period,
        draw(st.sampled_from(((), ((start, start + 0.3 * period),)))),
        draw(mm(-90, 90)),
        gap,
        draw(st.none() | st.just((0.9 * frame, frame))),
        tuple(draw(st.lists(prose, max_size=2))),
    )
