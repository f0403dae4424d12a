"""Views to draw in tests: a bakery van's front door as it might come out, and worse; all invented."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, radians, sin

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
from backwave.finding import Verdict

Point = tuple[float, float]


def polar(radius: float, deg: float) -> Point:
    return radius * cos(radians(deg)), radius * sin(radians(deg))


def ring(radius: float, n: int = 90) -> tuple[Point, ...]:
    return tuple(polar(radius, 360 * k / n) for k in range(n))


WOOFER = DriverCut(
    frame_radius_mm=83.0,
    rim_mm=5.2,
    profile_mm=((70.0, 0.0), (66.0, 14.0), (46.0, 38.0), (46.0, 64.0)),
    moving_mm=9.0,
    crest_mm=6.0,
    xmech_mm=9.0,
    gasket_mm=0.8,
    terminals=(TerminalCut("down", 62.0, 26.0),),
    vent_radius_mm=5.0,
)
ADAPTER = AdapterCut(
    outer_up_mm=91.0,
    outer_down_mm=91.0,
    bore_mm=71.0,
    thickness_mm=13.7,
    relief_mm=4.0,
    groove_mm=(78.0, 4.0, 2.2),
    fixings=(FixingCut("up", 80.5, 5.0, 5.5, 10.0, 3.0, 11.0, 6.0, 7.0),),
    inserts=(InsertCut("down", 78.0, 5.6, 8.0, 4.0),),
    label="13.7 mm ASA adapter",
)


def door(verdict: Verdict = "caution", glass: float = 6.2) -> SectionView:
    return SectionView(
        title="Front door, left: section",
        subtitle="Demo 165 mm woofer on a 13.7 mm ASA adapter, back gasket in its groove",
        verdict=verdict,
        verdict_text="clears, margins kept",
        verdict_note="the glass was read once: read it again" if verdict == "caution" else "",
        skin_mm=0.8,
        hole_up_mm=71.75,
        hole_down_mm=71.75,
        seat=SeatWindow(14.5, 13.2, 16.0, 5.0, 30.0),
        driver=WOOFER,
        adapter=ADAPTER,
        obstacles=(ObstacleView("glass", ((0.0, 58.0), (60.0, 55.0)), "down"),),
        clearances=(
            ClearanceView("glass", (-55.7, 46.0), (-49.5, 46.0), glass, glass - 0.9, glass + 0.9, 5.0, verdict),
            ClearanceView("grille", (32.5, 0.0), (37.0, 0.0), 4.5, 3.6, 5.4, 3.0),
            ClearanceView("hole edge", (-0.4, 66.0), (-0.4, 71.75), 5.75, 5.3, 6.2, 1.0),
        ),
        trim_clear_mm=37.0,
        trim_land_mm=35.0,
        trim_half_mm=1.0,
        foam=FoamRingView(74.0, 83.0, 19.7, 35.0, 18.0),
        notes=("Cone, cap and surround are sketched through the heights that are known.",),
    )


def collision() -> SectionView:
    """The magnet through the glass, a rail below, no window of seat heights."""
    view = door("stop", -1.3)
    return replace(
        view,
        verdict_text="the magnet meets the glass",
        seat=SeatWindow(14.5, None, None, 5.0, 30.0),
        obstacles=(
            ObstacleView("glass", ((0.0, 50.0), (60.0, 47.6)), "down"),
            ObstacleView("rail", ((30.0, 44.0), (70.0, 44.0)), "", "down"),
            ObstacleView("glass", ((0.0, 62.0), (60.0, 58.0)), "half"),
        ),
        clearances=(
            ClearanceView("glass", (-48.2, 46.0), (-49.5, 46.0), -1.3, -2.2, -0.4, 5.0, "stop"),
            *view.clearances[1:],
            ClearanceView("rail", (-44.0, -46.0), (-49.5, -46.0), -5.5, -6.4, -4.6, 3.0, "stop"),
            ClearanceView("terminals to rail", (-44.0, -61.0), (-11.5, -61.0), 32.5, 31.5, 33.5, 5.0),
            ClearanceView("vent air", (-50.0, 0.0), (-49.5, 0.0), 0.5, -0.3, 1.3, 8.0, "stop", "read again"),
        ),
    )


def tweeter() -> SectionView:
    return SectionView(
        title="Mirror corner, right: section",
        subtitle="Demo 25 mm tweeter",
        verdict="ok",
        verdict_text="clears, margins kept",
        verdict_note="",
        skin_mm=2.0,
        hole_up_mm=24.0,
        hole_down_mm=24.0,
        seat=SeatWindow(4.0, 2.0, 7.5, 0.0, 10.0),
        driver=DriverCut(26.0, 2.5, ((22.5, 0.0), (22.0, 6.0), (17.0, 8.0), (17.0, 15.0)), 4.2, 3.0, 0.0, 0.6),
        adapter=AdapterCut(
            34.0, 34.0, 22.9, 5.0, 1.0, 2.0, 26.5, spigot_mm=(23.5, 2.0), label="5.0 mm PETG adapter",
            fixings=(FixingCut("up", 30.0, 3.0, 3.4, 6.0, 2.0, 6.5, 2.6, 5.0),),
        ),
        obstacles=(ObstacleView("metal", ((0.0, 25.0), (30.0, 22.0))),),
        clearances=(
            ClearanceView("metal", (-22.8, 17.0), (-11.0, 17.0), 11.8, 10.9, 12.7, 3.0),
            ClearanceView("grille", (8.8, 0.0), (12.0, 0.0), 3.2, 3.0, 3.4, 3.0),
        ),
        trim_clear_mm=12.0,
        foam=FoamRingView(22.0, 26.0, 6.5, 12.0, 6.0),
    )  # fmt: skip


def front(turn: float = 20.0, verdict: Verdict = "ok") -> FaceView:
    places = ((0.0, 80.5), (-69.715, -40.25), (69.715, -40.25))
    return FaceView(
        title="Front door, left: face",
        subtitle="Demo 165 mm woofer, four holes on a 156 mm circle",
        verdict=verdict,
        verdict_text="holes keep their distance" if verdict == "ok" else "a hole meets a fixing",
        verdict_note="",
        side="left",
        outline_mm=ring(91.0),
        hole_mm=ring(71.75),
        bore_radius_mm=71.0,
        frame_radius_mm=83.0,
        fixings=tuple(FaceFixing(x, y, 5.5, 10.0, "rivet nut") for x, y in places),
        driver_holes=tuple(DriverHole(*polar(78.0, 90 * k + turn), 5.0, boss_mm=8.5) for k in range(4)),
        terminals=TerminalFace(225.0 + turn, 34.0, 44.0, 62.0),
        turn_deg=turn,
        best_deg=20.0,
        period_deg=90.0,
        allowed_deg=((8.0, 52.0),) if verdict == "ok" else (),
        gap=ClearanceView("hole to fixing", (-22.9, 73.9), (-5.0, 80.3), 17.1, None, None, 3.0, verdict),
        foam_mm=(74.0, 83.0),
    )


def free_form() -> FaceView:
    outline = tuple(
        (100 * cos(t) * (1 + 0.06 * sin(3 * t)), 84 * sin(t) * (1 + 0.05 * cos(2 * t)))
        for t in (2 * pi * k / 120 for k in range(120))
    )
    return replace(
        front(),
        title="Rear side panel: face",
        verdict="caution",
        side="",
        outline_mm=outline,
        hole_mm=ring(56.5),
        bore_radius_mm=55.0,
        frame_radius_mm=69.0,
        fixings=(FaceFixing(82.0, 30.0, 6.0, 12.0, "stud"), FaceFixing(-84.0, 20.0, 6.0, 12.0, "hook")),
        driver_holes=tuple(
            DriverHole(*polar(64.0, 120 * k + 75), 4.2, 9.0, 120 * k + 165, 8.0) for k in range(3)
        ),
        terminals=TerminalFace(270.0, 30.0, 30.0, 50.0),
        turn_deg=75.0,
        best_deg=75.0,
        period_deg=120.0,
        allowed_deg=((60.0, 90.0), (100.0, 104.0)),
        foam_mm=None,
    )  # fmt: skip
