"""Everything that is screwed: heads, holes, threads, lengths once the thickness is known, and what lies under the heads
where the part's material would creep without."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import hypot, pi
from typing import TypedDict

from backwave.assess.place_result import HEAD_PLAY_MM, MAGNET_SHARE, MetalFixing, Screws
from backwave.finding import PRACTICE, Ledger
from backwave.fit.bolt_pattern import Hole
from backwave.fit.fixing_load import fixing_loads_n, screw_for
from backwave.fit.gasket import BackGasket
from backwave.fit.screw import NO_SCREW, Threads, driver_screw, metal_screw, read_threads
from backwave.fit.screw_holes import CLAMP_N, SLEEVE_PLAY_MM, STRAIN, Support, Washer, head_support, washer_over
from backwave.job import Place, best_mm
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.part.checks import FLOOR
from backwave.part.types import Thread
from backwave.shape import Outline
from backwave.stock import FixingRow, Stock
from backwave.uncertainty import Reading
from backwave.units import in_unit

USUAL_THREADS = "insert M4"  # common trade practice
HEAD = "button"  # low, so that the adapter may be thin
UNDER_INSERT_MM = 3.0  # room below an insert for the screw's end and for plastic pushed ahead; common trade practice
NUT_PLAY_MM = 0.3  # common trade practice
NUT_ROOM_MM = 4.0  # pocket over nut, so that a screw of standard length ends in it; common trade practice
SEAT_MM = 0.5  # radius of a recessed seat over the frame's
WASHER_MM = 19.0  # the widest counterbore for a washer
POCKET_MM = 0.3  # over what stands proud of the metal; common trade practice
GASKET_SHARE = 0.25  # of the driver's gasket as closed, either way; common trade practice
PILOT_WALL_D = 0.75  # material round a pilot hole, in screw diameters; common trade practice


def screws_at(
    stock: Stock, screws: Screws, thickness_mm: float, recess_mm: float, skin_mm: float, gasket_mm: float,
    floor_mm: float = FLOOR,
) -> Screws:  # fmt: skip
    """The same at a thickness: screws of standard lengths, holes and counterbores as deep as these want.
    `thickness_mm`, `recess_mm`, `skin_mm`, `gasket_mm`: the part's own, of its recessed seat, the metal's, the back
    gasket's as closed."""
    metal = tuple(
        replace(
            m,
            screw=metal_screw(
                stock, m.row, thickness_mm, gasket_mm, skin_mm, m.depth_mm, over_mm=m.over_mm, head=HEAD,
                stack_mm=m.height_mm, stands_mm=m.stands_mm, **_under(m.washer),
            ),
        )
        for m in screws.metal
    )  # fmt: skip
    thread, seat_z = screws.thread, thickness_mm - recess_mm
    starts = seat_z - thread.nut_height_mm if thread.kind == "nut" else 0.0
    driver = driver_screw(
        stock, screws.threads, screws.rim_mm, screws.gasket_mm, thread.depth_mm or seat_z, starts, HEAD,
        rim_error_mm=screws.rim_error_mm, deepest_mm=seat_z - floor_mm if thread.depth_mm else None,
        **_under(screws.washer),
    )  # fmt: skip
    return replace(screws, metal=metal, driver=driver)


class _Under(TypedDict):
    washer: str
    washer_mm: float


def _under(washer: Washer | None) -> _Under:
    return (
        {"washer": "", "washer_mm": 0.0} if washer is None else {"washer": washer.name, "washer_mm": washer.height_mm}
    )


def screws_of(
    stock: Stock, place: Place, adapter: AdapterTable, speaker: SpeakerTable, rim: Reading | None, frame_mm: float,
    holes: Sequence[Hole], closed_mm: float, ledger: Ledger,
) -> Screws:  # fmt: skip
    """Screws and threads of one place, before the thickness is known. InputError: A row that no table has."""
    threads = read_threads(USUAL_THREADS if adapter.threads == "auto" else adapter.threads)
    recess = adapter.recess.to("mm")
    metal = []
    for i, f in enumerate(place.opening.fixings or ()):
        size = adapter.screw or screw_for(stock, f.holds, f.hole.to("mm"), f.metal)
        if f.holds in NO_SCREW:
            size = ""
        if adapter.screw is None and size:
            ledger.note(f"opening.{place.opening.id}.fixings[{i}]: screw", size, "", "by its hole; " + PRACTICE)
        row = stock.fixing(f.holds, size, f.metal)
        hole, head, height = _head(stock, row)
        head = f.head.to("mm") if f.head is not None and size else head
        height = f.height.to("mm") if f.height is not None and size else height
        stands = in_unit(f.stands, "mm")
        fixing = MetalFixing(
            place.x("fixings", f.center_mm[0]), f.center_mm[1], row, f.hole.to("mm"), hole, head, height,
            socket_mm=stock.nut(size).socket_mm if f.holds == "stud" else 0.0, stands_mm=stands,
        )  # fmt: skip
        reach = hypot(fixing.x_mm, fixing.y_mm) - max(fixing.counterbore_mm, WASHER_MM) / 2.0
        if recess > 0.0 and reach < frame_mm / 2.0 + SEAT_MM:
            fixing = replace(fixing, over_mm=recess)
        pocket, deep = _pocket(fixing, closed_mm)
        metal.append(replace(fixing, pocket_mm=pocket, pocket_depth_mm=deep))
    gasket = best_mm(speaker.gasket) if speaker.gasket is not None else 0.0
    error = (rim.bound if rim is not None else 0.0) + GASKET_SHARE * gasket
    washer = None
    if holes:
        size = threads.size
        head = stock.tapping_screw(size).head_mm if size.startswith("ST") else stock.screw(size, HEAD).head_mm
        washer = washer_over(stock, stock.clearance_hole(size).d_mm, head, max(h.diameter_mm for h in holes))
    return Screws(
        threads, _thread(stock, threads), tuple(metal), rim.value if rim is not None else 0.0, gasket, error,
        in_unit(speaker.mass, "kg"), washer,
    )  # fmt: skip


def _pocket(fixing: MetalFixing, closed_mm: float) -> tuple[float, float]:
    """Diameter and depth of room in the back for what stands proud of the metal, where the gasket gives none."""
    row = fixing.row
    across, proud = row.flange_mm + 1.0, row.proud_mm
    if row.holds == "pin":
        across, proud = fixing.read_mm + 1.0, fixing.stands_mm or 0.0
    deep = proud + POCKET_MM - closed_mm
    if proud <= 0.0 or deep <= POCKET_MM / 2.0:
        return 0.0, 0.0
    return across, deep


def _head(stock: Stock, row: FixingRow) -> tuple[float, float, float]:
    """Hole through the adapter, diameter and height of head or nut."""
    if row.holds in NO_SCREW:
        return 0.0, 0.0, 0.0
    hole = stock.clearance_hole(row.screw).medium_mm
    if row.holds == "stud":
        nut = stock.nut(row.screw)
        return hole, nut.corners_mm, nut.height_mm
    if row.screw.startswith("ST"):
        tap = stock.tapping_screw(row.screw)
        return hole, tap.head_mm, tap.height_mm
    screw = stock.screw(row.screw, HEAD)
    return hole, screw.head_mm, screw.height_mm


def _thread(stock: Stock, threads: Threads) -> Thread:
    if threads.kind == "insert":
        row = stock.insert(threads.name)
        return Thread(
            0.0, 0.0, "insert", threads.size, row.hole_mm, row.length_mm + UNDER_INSERT_MM, row.wall_mm, row.length_mm
        )
    if threads.kind == "nut":
        nut, hole = stock.nut(threads.size), stock.clearance_hole(threads.size)
        return Thread(
            0.0, 0.0, "nut", threads.size, hole.medium_mm, engagement_mm=nut.height_mm,
            nut_flats_mm=nut.flats_mm + NUT_PLAY_MM, nut_height_mm=nut.height_mm + NUT_ROOM_MM,
        )  # fmt: skip
    tap = stock.tapping_screw(threads.size)
    return Thread(
        0.0, 0.0, "screw", threads.size, tap.plastic_hole_mm, 2.5 * tap.d_mm + 1.0, PILOT_WALL_D * tap.d_mm, 2.0 * tap.d_mm
    )  # fmt: skip


PART_KG = 0.2  # of a part whose thickness is not known yet
PART_Z_MM = 10.0
WALL_MM = 0.9  # round a counterbore, two print lines


def hot_modulus(stock: Stock, material: str, hot_degc: float) -> tuple[float, str]:
    """What is left of a material's modulus for years at a temperature, Pa, and its source."""
    row, creep = stock.material(material), stock.creep(material)
    if creep is None:  # nobody has said how it creeps
        return row.e_pa * 0.25, f"a quarter of its modulus; {PRACTICE}"
    return min(creep.modulus_pa(hot_degc), row.e_pa), creep.cited


def bears_mpa(stock: Stock, material: str, hot_degc: float) -> float:
    """Pressure that a material bears for years at a temperature."""
    return STRAIN * hot_modulus(stock, material, hot_degc)[0] * 1e-6


def clamps_n(
    screws: Screws, back: BackGasket | None, part_kg: float, z_mm: float, edge: Outline
) -> tuple[list[float], float]:
    """What each screw into the metal has to clamp with, in their order, and the gasket's share of it."""
    held = [m for m in screws.metal if m.hole_mm > 0.0]
    if not held:
        return [0.0 for _ in screws.metal], 0.0
    steady = 0.0 if back is None or back.force_n is None else back.force_n[1] / len(held)
    total = (screws.mass_kg or 0.0) + part_kg
    loads = fixing_loads_n([(m.x_mm, m.y_mm) for m in held], total, (0.0, 0.0, z_mm), edge=edge)
    pulls = iter(loads)
    return [max(CLAMP_N, steady + next(pulls)) if m.hole_mm > 0.0 else 0.0 for m in screws.metal], steady


def supported(
    stock: Stock, screws: Screws, adapter: AdapterTable, hot_degc: float, back: BackGasket | None, outline: Outline,
    bore_mm: float, driver_depth_mm: float,
) -> Screws:  # fmt: skip
    """The same with washers and sleeves where heads need them and there is room."""
    allowed = bears_mpa(stock, adapter.material, hot_degc)
    clamps, steady = clamps_n(screws, back, PART_KG, PART_Z_MM - MAGNET_SHARE * driver_depth_mm, outline)
    metal = []
    for m, clamp in zip(screws.metal, clamps):
        if m.hole_mm == 0.0 or m.head_mm == 0.0:
            metal.append(m)
            continue
        room = min(outline.inside_mm(m.x_mm, m.y_mm), hypot(m.x_mm, m.y_mm) - bore_mm) - WALL_MM
        widest = 2.0 * room - HEAD_PLAY_MM
        under = head_support(stock, m.row.screw, m.head_mm, m.hole_mm, clamp, steady, allowed, widest)
        washer, sleeve = under.washer, under.sleeve
        metal.append(replace(
            m, washer=washer, sleeve=sleeve, head_mm=max(m.head_mm, 0.0 if washer is None else washer.outer_mm),
            height_mm=m.height_mm + (0.0 if washer is None else washer.height_mm),
            hole_mm=m.hole_mm if sleeve is None else sleeve.outer_mm + SLEEVE_PLAY_MM,
        ))  # fmt: skip
    return replace(screws, metal=tuple(metal))


def support_of(fixing: MetalFixing, clamp_n: float, steady_n: float) -> Support:
    """What lies under the head of a fixing as it was chosen, with what it has to hold."""
    area = pi / 4.0 * (fixing.head_mm**2 - fixing.hole_mm**2)
    return Support(fixing.washer, fixing.sleeve, clamp_n if fixing.sleeve is None else max(steady_n, 1.0), area)
