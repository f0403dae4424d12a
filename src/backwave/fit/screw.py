"""Which screws: through the driver's rim into the adapter, and through the adapter into the metal.

Thread engagement first (1 d in metal, an insert's length, 2 to 2.5 d in plastic; common trade practice), then the
shortest standard length that gives it.  What is left over stands behind the skin and is a clearance of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

from backwave.errors import InputError
from backwave.finding import CalculationLine, Check, Message, Verdict
from backwave.stock import FixingRow, Stock

__all__ = ["HEAD_BELOW_MM", "ChosenScrew", "Threads", "driver_screw", "metal_screw", "read_threads"]

PRACTICE = "common trade practice"
HEAD_BELOW_MM = 0.5  # how far heads should end below the land; common trade practice
_NO_SCREW = ("hook", "pin")
_SAME = 1e-6


@dataclass(frozen=True)
class Threads:
    """What the driver's screws go into.

    Parameters
    ----------
    kind : "insert", "nut" or "screw", no unit
        A heat-set insert, a nut in a pocket, or a self-tapping screw in the part itself.
    name : str, no unit
        Its row in the stock table: "M4", "M4 short", "ST4.2".
    """

    kind: str
    name: str

    @property
    def size(self) -> str:
        """The screw's size: "M4", "ST4.2"."""
        return self.name.split()[0]


@dataclass(frozen=True)
class ChosenScrew:
    """A screw that was chosen.

    Parameters
    ----------
    what : str, no unit
        "driver to adapter" or "adapter to metal".
    size, head : str, no unit
        "M5", "socket"; of a self-tapping screw "pan"; of a stud's nut "nut".
    length_mm : float or None, mm
        Standard length; None where no standard screw does, or none is needed.
    grip_mm : float, mm
        From under the head to where the thread begins to hold.
    wanted_mm, engagement_mm : float, mm
        Thread wanted, and had.
    tail_mm : float, mm
        How far screw or fixing stands behind the skin (for the driver's: beyond its thread, inside the part).
    head_mm, head_height_mm : float, mm
        Diameter and height of the head.
    head_below_mm : float or None, mm
        How far the head ends below the land (negative: above it); None where it need not.
    check : Check, no unit
        `fit.screw`.
    """

    what: str
    size: str
    head: str
    length_mm: float | None
    grip_mm: float
    wanted_mm: float
    engagement_mm: float
    tail_mm: float
    head_mm: float
    head_height_mm: float
    head_below_mm: float | None
    check: Check


def read_threads(text: str) -> Threads:
    """What `threads` of an adapter means.

    Parameters
    ----------
    text : str, no unit
        "insert M4", "insert M4 short", "nut M5", "screw ST4.2".

    Raises
    ------
    InputError
        Anything else.
    """
    kind, _, name = text.strip().partition(" ")
    name = name.strip()
    if kind not in ("insert", "nut", "screw") or not name.startswith("ST" if kind == "screw" else "M"):
        raise InputError("threads", text, '"insert M4", "nut M4" or "screw ST4.2"')
    return Threads(kind, name)


def driver_screw(
    stock: Stock,
    threads: Threads,
    rim_mm: float,
    gasket_mm: float,
    room_mm: float,
    thread_at_mm: float = 0.0,
    head: str = "button",
) -> ChosenScrew:
    """The screw through the driver's rim into the adapter.

    Parameters
    ----------
    stock : Stock, mm
        Tables.
    threads : Threads, no unit
        What it goes into.
    rim_mm : float, mm
        Thickness of the rim under the head.
    gasket_mm : float, mm
        The driver's own gasket as closed.
    room_mm : float, mm
        From the seat down to where the screw would bottom: the hole's depth, or the part's thickness where the
        metal closes a through hole.
    thread_at_mm : float, mm
        From the seat down to where the thread begins: the part that a nut in its pocket leaves above it.
    head : str, no unit
        socket, button or countersunk; a self-tapping screw has its own.
    """
    if threads.kind == "screw":
        tap = stock.tapping_screw(threads.size)
        wanted, least, thread = 2.5 * tap.d_mm, 2.0 * tap.d_mm, float("inf")
        head, head_mm, height, source = "pan", tap.head_mm, tap.height_mm, tap.cited
        why = "2 to 2.5 d in plastic"
    else:
        screw = stock.screw(threads.size, head)
        head_mm, height, source = screw.head_mm, screw.height_mm, screw.cited
        if threads.kind == "insert":
            insert = stock.insert(threads.name)
            wanted = thread = insert.length_mm
            least, why = screw.d_mm, f"the insert's length ({insert.cited})"
        else:
            nut = stock.nut(threads.size)
            wanted, least = nut.height_mm + 2.0 * screw.pitch_mm, nut.height_mm
            thread, why = nut.height_mm, f"all of the nut, two turns more where there is room ({nut.cited})"
    begins = rim_mm + gasket_mm + thread_at_mm
    most = rim_mm + gasket_mm + room_mm
    length = _shortest(stock, threads.size, begins + least, most, begins + wanted)
    past = 0.0 if length is None else length - begins  # past where the thread begins
    verdict: Verdict = "ok"
    remedy = None
    asked = wanted if threads.kind == "insert" else least
    if length is None:
        verdict, remedy = "caution", _no_length(stock, threads.size, begins + least, most)
    elif past < asked - _SAME:
        verdict = "caution"
        remedy = Message(
            "It reaches {had} of {asked}: make room for {more} more, or take a shorter insert",
            (
                ("had", past, "mm"),
                ("asked", asked, "mm"),
                ("more", _next(stock, threads.size, length) - most, "mm"),
            ),
        )
    check = Check(
        "fit.screw",
        verdict,
        _title("Driver to adapter", threads.size, head, length),
        value=past,
        limit=asked,
        unit="mm",
        remedy=remedy,
        working=(
            CalculationLine(
                "g", "rim, gasket and part above the thread", begins, "mm", "driver's rim + gasket + part"
            ),
            CalculationLine("e_least", f"thread wanted: {why}", asked, "mm", PRACTICE),
            CalculationLine("e", "screw past where the thread begins", past, "mm"),
            CalculationLine("L_most", "longest that does not bottom", most, "mm"),
            CalculationLine("L", "standard length", length, "mm", source),
        ),
        sources=(PRACTICE, source),
        key="threads",
        part="driver",
    )
    engagement = min(past, thread)
    return ChosenScrew("driver to adapter", threads.size, head, length, begins, asked, engagement,
                       past - engagement, head_mm, height, None, check)  # fmt: skip


def metal_screw(
    stock: Stock,
    row: FixingRow,
    floor_mm: float,
    gasket_mm: float,
    skin_mm: float,
    counterbore_mm: float | None = None,
    head: str = "socket",
) -> ChosenScrew:
    """The screw through the adapter into the metal.

    Parameters
    ----------
    stock : Stock, mm
        Tables.
    row : backwave.stock.FixingRow, mm
        What it goes into.
    floor_mm : float, mm
        Part under its head (of a countersunk one, under its top): thickness less the counterbore's depth, and a
        washer where there is one.
    gasket_mm : float, mm
        Back gasket as closed (0 in a groove).
    skin_mm : float, mm
        Thickness of the metal.
    counterbore_mm : float or None, mm
        Depth of the counterbore below the land; None: the head need not end below it.
    head : str, no unit
        socket, button or countersunk; a self-tapping screw has its own.
    """
    face = floor_mm + gasket_mm  # from under the head to the metal's face
    size = row.screw
    length: float | None = None
    begins, wanted, engagement = face, row.engage_mm, 0.0
    head_mm = height = 0.0
    source = row.cited
    verdict: Verdict = "ok"
    remedy = None
    if row.holds in _NO_SCREW:
        title = Message("Adapter to metal: a {holds}, no screw", (("holds", row.holds, ""),))
        tail, head = row.behind_mm, ""
    elif row.holds == "stud":
        nut = stock.nut(size)
        head, head_mm, height, tail, source = "nut", nut.corners_mm, nut.height_mm, 0.0, nut.cited
        engagement = nut.height_mm
        title = Message(
            "Adapter to metal: a nut {size} on the stud, which must stand {long} out of the metal",
            (("size", size, ""), ("long", face + nut.height_mm + 1.0, "mm")),
        )
    else:
        if size.startswith("ST"):
            tap = stock.tapping_screw(size)
            head, head_mm, height = "pan", tap.head_mm, tap.height_mm
            source = tap.cited
        else:
            screw = stock.screw(size, head)
            head_mm, height, source = screw.head_mm, screw.height_mm, screw.cited
        # A nut behind the metal begins behind it; a rivet nut's thread and a tapped sheet at its face.
        begins = face + (skin_mm if row.holds in ("bolt", "sheet nut", "expansion nut") else 0.0)
        length = _shortest(stock, size, begins + wanted, float("inf"), begins + wanted)
        if length is None:
            verdict, tail = "caution", row.behind_mm
            remedy = _no_length(stock, size, begins + wanted, None)
        else:
            engagement = length - begins
            tail = max(length - face - skin_mm, row.behind_mm)
        title = _title("Adapter to metal", size, head, length)
    below = None if counterbore_mm is None or not head_mm else counterbore_mm - height
    if below is not None and below < HEAD_BELOW_MM - _SAME:
        # A head above the land holds the driver or the foam off it.
        verdict = "stop" if below < -_SAME else "caution"
        remedy = Message(
            "Counterbore {deeper} deeper, or take a lower head", (("deeper", HEAD_BELOW_MM - below, "mm"),)
        )
    working = [
        CalculationLine("g", "part and gasket under the head, to the metal's face", face, "mm", "the part"),
        CalculationLine("s", "metal", skin_mm, "mm", "the job"),
        CalculationLine("e_least", f"thread wanted in a {row.holds}", wanted, "mm", row.cited),
        CalculationLine("e", "thread had", engagement, "mm"),
        CalculationLine("L", "shortest standard length that gives it", length, "mm", source),
        CalculationLine("t", "stands behind the metal (screw or fixing, the longer)", tail, "mm"),
    ]
    if below is not None:
        working.append(CalculationLine("b", "head below the land", below, "mm", PRACTICE))
    check = Check(
        "fit.screw",
        verdict,
        title,
        value=engagement,
        limit=wanted if length else None,
        unit="mm",
        remedy=remedy,
        working=tuple(working),
        sources=(PRACTICE, source),
        key="screw",
        part="metal",
    )
    return ChosenScrew(
        "adapter to metal", size, head, length, begins, wanted, engagement, tail, head_mm, height, below, check
    )


def _shortest(stock: Stock, size: str, least: float, most: float, liked: float) -> float | None:
    """Shortest standard length at or above `liked` that fits; failing that the longest at or above `least`."""
    fitting = [x for x in stock.lengths_mm(size) if least - _SAME <= x <= most + _SAME]
    return next((x for x in fitting if x >= liked - _SAME), fitting[-1] if fitting else None)


def _next(stock: Stock, size: str, length: float) -> float:
    return next((x for x in stock.lengths_mm(size) if x > length), length)


def _no_length(stock: Stock, size: str, least: float, most: float | None) -> Message:
    longest = stock.lengths_mm(size)[-1]
    if most is None or longest < least:
        return Message(
            "{size} should be {least} long; the longest standard one is {longest}: make the part thinner there",
            (("size", size, ""), ("least", least, "mm"), ("longest", longest, "mm")),
        )
    if most < least:
        return Message(
            "{size} needs {more} more depth in the part: make it thicker, or use a shorter thread",
            (("size", size, ""), ("more", least - most, "mm")),
        )
    return Message(
        "No standard {size} is {least} to {most} long: cut a longer one down, or put washers under it",
        (("size", size, ""), ("least", least, "mm"), ("most", most, "mm")),
    )


def _title(what: str, size: str, head: str, length: float | None) -> Message:
    if length is None:
        return Message(f"{what}: no standard screw {{size}} fits", (("size", size, ""),))
    return Message(
        f"{what}: {{size}}, {{length}} long, {head} head", (("size", size, ""), ("length", length, "mm"))
    )
