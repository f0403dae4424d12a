"""Everything that is screwed: heads, holes and threads from the tables, lengths once the thickness is known."""

from __future__ import annotations

from dataclasses import replace

from backwave.assess.place_result import MetalFixing, Screws
from backwave.assumptions import PRACTICE, Ledger
from backwave.fit.fixing_load import screw_for
from backwave.fit.screw import Threads, driver_screw, metal_screw, read_threads
from backwave.job import Place, best_mm
from backwave.job.adapter import AdapterTable
from backwave.job.speaker import SpeakerTable
from backwave.part.types import Thread
from backwave.stock import Stock

__all__ = ["HEAD", "screws_at", "screws_of"]

HEAD = "button"  # low, so that the adapter may be thin
UNDER_INSERT_MM = (
    3.0  # room below an insert for the screw's end and for plastic pushed ahead; common trade practice
)
NUT_PLAY_MM = 0.3  # common trade practice
NUT_ROOM_MM = 4.0  # pocket over nut, so that a screw of standard length ends in it; common trade practice
PILOT_WALL_D = 0.75  # material round a pilot hole, in screw diameters; common trade practice


def screws_at(
    stock: Stock, screws: Screws, thickness_mm: float, recess_mm: float, skin_mm: float, gasket_mm: float
) -> Screws:
    """The same at a thickness: screws of standard lengths.

    Parameters
    ----------
    stock : Stock, mm
        The tables.
    screws : Screws, mm
        Before the thickness was known.
    thickness_mm, recess_mm, skin_mm, gasket_mm : float, mm
        The part's own, of its recessed seat, the metal's, the back gasket's as closed.
    """
    metal = tuple(
        replace(
            m,
            screw=metal_screw(
                stock, m.row, max(thickness_mm - m.depth_mm, 0.0), gasket_mm, skin_mm,
                m.depth_mm if m.head_mm else None, HEAD,
            ),
        )
        for m in screws.metal
    )  # fmt: skip
    thread, seat_z = screws.thread, thickness_mm - recess_mm
    room = thread.depth_mm or seat_z
    starts = seat_z - thread.nut_height_mm if thread.kind == "nut" else 0.0
    driver = driver_screw(stock, screws.threads, screws.rim_mm, screws.gasket_mm, room, starts, HEAD)
    return replace(screws, metal=metal, driver=driver)


def screws_of(
    stock: Stock, place: Place, adapter: AdapterTable, speaker: SpeakerTable, rim_mm: float, ledger: Ledger
) -> Screws:
    """Screws and threads of one place, before the thickness is known.

    Parameters
    ----------
    stock : Stock, mm
        The tables.
    place : Place, no unit
        The place.
    adapter : AdapterTable, no unit
        The part's table.
    speaker : SpeakerTable, no unit
        The driver's table.
    rim_mm : float, mm
        Thickness of the driver's rim.
    ledger : Ledger, no unit
        Takes what was assumed.

    Raises
    ------
    InputError
        A row that no table has.
    """
    threads = read_threads(adapter.threads)
    metal = []
    for i, f in enumerate(place.opening.fixings or ()):
        size = adapter.screw or screw_for(stock, f.holds, f.hole.to("mm"), f.metal)
        if adapter.screw is None and size:
            ledger.note(f"opening.{place.opening.id}.fixings[{i}]: screw", size, "", "by its hole; " + PRACTICE)
        row = stock.fixing(f.holds, size, f.metal)
        hole, head, height = _head(stock, size, f.hole.to("mm"))
        head = f.head.to("mm") if f.head is not None and size else head
        height = f.height.to("mm") if f.height is not None and size else height
        metal.append(MetalFixing(place.x("fixings", f.x.to("mm")), f.y.to("mm"), row, hole, head, height))
    gasket = best_mm(speaker.gasket) if speaker.gasket is not None else 0.0
    mass = speaker.mass.to("kg") if speaker.mass is not None else 0.0
    return Screws(threads, _thread(stock, threads), tuple(metal), rim_mm, gasket, mass)


def _head(stock: Stock, size: str, hole_mm: float) -> tuple[float, float, float]:
    """Hole through the adapter, head diameter and height."""
    if not size:
        return hole_mm, 0.0, 0.0
    if size.startswith("ST"):
        tap = stock.tapping_screw(size)
        return stock.clearance_hole(size).medium_mm, tap.head_mm, tap.height_mm
    screw = stock.screw(size, HEAD)
    return stock.clearance_hole(size).medium_mm, screw.head_mm, screw.height_mm


def _thread(stock: Stock, threads: Threads) -> Thread:
    if threads.kind == "insert":
        row = stock.insert(threads.name)
        return Thread(
            0.0,
            0.0,
            "insert",
            threads.size,
            row.hole_mm,
            row.length_mm + UNDER_INSERT_MM,
            row.wall_mm,
            row.length_mm,
        )
    if threads.kind == "nut":
        nut, hole = stock.nut(threads.size), stock.clearance_hole(threads.size)
        return Thread(
            0.0, 0.0, "nut", threads.size, hole.medium_mm,
            engagement_mm=nut.height_mm,
            nut_flats_mm=nut.flats_mm + NUT_PLAY_MM,
            nut_height_mm=nut.height_mm + NUT_ROOM_MM,
        )  # fmt: skip
    tap = stock.tapping_screw(threads.size)
    return Thread(
        0.0, 0.0, "screw", threads.size, tap.plastic_hole_mm, 2.5 * tap.d_mm + 1.0, PILOT_WALL_D * tap.d_mm, 2.0 * tap.d_mm
    )  # fmt: skip
