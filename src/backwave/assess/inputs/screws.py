"""Everything that is screwed: heads, holes and threads from the tables, lengths once the thickness is known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import atan2, degrees, hypot

from backwave.assess.inputs.adapter import best
from backwave.assumptions import PRACTICE, Ledger
from backwave.finding import Check
from backwave.fit import Tail
from backwave.fit.fixing_load import FixingPoint, fixing_checks, screw_for
from backwave.fit.screw import HEAD_BELOW_MM, ChosenScrew, Threads, driver_screw, metal_screw, read_threads
from backwave.job import Place
from backwave.job.adapter import Adapter
from backwave.job.speaker import Speaker
from backwave.part.types import AdapterSpec, Thread
from backwave.stock import Fixing as FixingRow
from backwave.stock import Stock
from backwave.uncertainty import exact

__all__ = ["MetalFixing", "Screws", "screws_of"]

HEAD = "button"  # low, so that the adapter may be thin
HEAD_PLAY_MM = 1.0  # counterbore over head, in diameter; common trade practice
UNDER_INSERT_MM = (
    3.0  # room below an insert for the screw's end and for plastic pushed ahead; common trade practice
)
NUT_PLAY_MM = 0.3  # common trade practice
NUT_ROOM_MM = 4.0  # pocket over nut, so that a screw of standard length ends in it; common trade practice
PILOT_WALL_D = 0.75  # material round a pilot hole, in screw diameters; common trade practice


@dataclass(frozen=True)
class MetalFixing:
    """One of the factory's fixings, as the adapter meets it.

    Parameters
    ----------
    x_mm, y_mm : float, mm
        Its place on this side.
    row : backwave.stock.Fixing, mm and N
        How it holds.
    hole_mm : float, mm
        Hole through the adapter.
    head_mm, height_mm : float, mm
        The screw head's diameter and height.
    screw : ChosenScrew or None, mm
        Chosen once the thickness is known.
    """

    x_mm: float
    y_mm: float
    row: FixingRow
    hole_mm: float
    head_mm: float
    height_mm: float
    screw: ChosenScrew | None = None

    @property
    def counterbore_mm(self) -> float:
        """Diameter of the counterbore: the head and its play."""
        return self.head_mm + HEAD_PLAY_MM if self.head_mm else self.hole_mm

    @property
    def depth_mm(self) -> float:
        """Depth of the counterbore, so that the head ends below the land."""
        return self.height_mm + HEAD_BELOW_MM if self.head_mm else 0.0


@dataclass(frozen=True)
class Screws:
    """Everything that is screwed.

    Parameters
    ----------
    stock : Stock, mm
        The tables.
    threads : Threads, no unit
        What the driver's screws go into.
    thread : Thread, mm
        A thread for the driver, at the axis; placed by `spec_of`.
    metal : tuple of MetalFixing, mm
        The factory's fixings.
    rim_mm, gasket_mm, mass_kg : float, mm and kg
        Driver: rim, own gasket as closed, mass (0: not known).
    thickness_mm, skin_mm : float, mm
        Once known.
    """

    stock: Stock
    threads: Threads
    thread: Thread
    metal: tuple[MetalFixing, ...]
    rim_mm: float
    gasket_mm: float
    mass_kg: float
    thickness_mm: float = 0.0
    skin_mm: float = 0.8

    @property
    def thread_hole_mm(self) -> float:
        """Largest diameter cut for a driver's thread."""
        return max(self.thread.hole_mm, self.thread.nut_flats_mm)

    def at(self, thickness_mm: float, skin_mm: float, gasket_mm: float) -> Screws:
        """The same at a thickness: screws of standard lengths.

        Parameters
        ----------
        thickness_mm, skin_mm, gasket_mm : float, mm
            The part's own, the metal's, the back gasket's as closed.
        """
        chosen = tuple(
            replace(
                m,
                screw=metal_screw(
                    self.stock, m.row, max(thickness_mm - m.depth_mm, 0.0), gasket_mm, skin_mm,
                    m.depth_mm if m.head_mm else None, HEAD,
                ),
            )
            for m in self.metal
        )  # fmt: skip
        return replace(self, metal=chosen, thickness_mm=thickness_mm, skin_mm=skin_mm)

    def tails(self, place: Place) -> tuple[Tail, ...]:
        """Screw ends behind the metal, as the fit wants them.

        Parameters
        ----------
        place : Place, no unit
            The place.
        """
        found = []
        for i, m in enumerate(self.metal, 1):
            if m.screw is None or m.screw.tail_mm <= 0.0:
                continue
            name = f"{place.opening.id}.screw {i}"
            direction = angle_deg(m.x_mm, m.y_mm)
            found.append(
                Tail(
                    exact(f"{name}.radius", hypot(m.x_mm, m.y_mm)),
                    exact(f"{name}.tail", m.screw.tail_mm),
                    direction,
                    f"screw {i}",
                )
            )
        return tuple(found)

    def checks(self, spec: AdapterSpec, driver_depth_mm: float, part_kg: float) -> tuple[Check, ...]:
        """Screws, and what holds at a slam.

        Parameters
        ----------
        spec : AdapterSpec, mm
            The part.
        driver_depth_mm : float, mm
            The driver's mounting depth, for where its mass is.
        part_kg : float, kg
            Mass of the part.
        """
        room = self.thread.depth_mm or spec.seat_z_mm
        starts = spec.seat_z_mm - self.thread.nut_height_mm if self.thread.kind == "nut" else 0.0
        found: list[Check] = [
            driver_screw(self.stock, self.threads, self.rim_mm, self.gasket_mm, room, starts, HEAD).check
        ]
        worst: dict[str, tuple[float, Check]] = {}
        for m in self.metal:
            if m.screw is not None:
                rank = (m.screw.tail_mm, m.screw.check)
                key = f"{m.row.holds} {m.screw.size} {m.screw.length_mm}"
                if key not in worst or rank[0] > worst[key][0]:
                    worst[key] = rank
        for i, (_, check) in enumerate(worst.values(), 1):
            found.append(replace(check, part="metal" if len(worst) == 1 else f"metal-{i}"))
        if self.metal and self.mass_kg:
            # No edge distance: where its own fixings sit in the metal is the factory's choice.
            points = [FixingPoint(m.x_mm, m.y_mm, m.row, f"fixing {i}") for i, m in enumerate(self.metal, 1)]
            # Most of a driver's mass is its magnet, three quarters of the way back; common trade practice.
            behind = spec.seat_z_mm - 0.75 * driver_depth_mm
            total = self.mass_kg + part_kg
            middle = (self.mass_kg * behind + part_kg * spec.thickness_mm / 2.0) / total
            found += fixing_checks(points, total, (0.0, 0.0, middle), self.skin_mm)
        return tuple(found)


def angle_deg(x_mm: float, y_mm: float) -> float:
    """Direction of a point, from +x toward +y.

    Parameters
    ----------
    x_mm, y_mm : float, mm
        The point.
    """
    return degrees(atan2(y_mm, x_mm)) % 360.0


def screws_of(
    stock: Stock, place: Place, adapter: Adapter, speaker: Speaker, rim_mm: float, ledger: Ledger
) -> Screws:
    """Screws and threads of one place, before the thickness is known.

    Parameters
    ----------
    stock : Stock, mm
        The tables.
    place : Place, no unit
        The place.
    adapter : Adapter, no unit
        The part's table.
    speaker : Speaker, no unit
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
    gasket = best(speaker.gasket) if speaker.gasket is not None else 0.0
    mass = speaker.mass.to("kg") if speaker.mass is not None else 0.0
    return Screws(stock, threads, _thread(stock, threads), tuple(metal), rim_mm, gasket, mass)


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
