"""Which screws: through the driver's rim into the adapter, and through the adapter into the metal.

Thread engagement first (1 d in metal, an insert's length where there is room, 2 to 2.5 d in plastic; common trade
practice), with the doubt of the rim against it; then the shortest standard length that gives it and ends clear of
the floor of a blind hole.  What is left over stands behind the skin and is a clearance of its own."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Quantities, Verdict
from backwave.stock import FixingRow, Stock

HEAD_BELOW_MM = 0.5  # how far heads should end below the face over them; common trade practice
HEAD_FLOOR_MM = 3.0  # part that a head presses on; common trade practice
TIP_MM = 1.0  # from a screw's tip to the floor of its hole; common trade practice
NO_SCREW = ("hook", "pin")
_SAME = 1e-6


@dataclass(frozen=True)
class Threads:
    """What the driver's screws go into."""

    kind: str  # "insert" (set with heat), "nut" (in a pocket) or "screw" (self-tapping, in the part itself)
    name: str  # its row in the stock table: "M4", "M4 short", "ST4.2"

    @property
    def size(self) -> str:
        """The screw's size: "M4", "ST4.2"."""
        return self.name.split()[0]


@dataclass(frozen=True)
class ChosenScrew:
    """A screw that was chosen."""

    what: str  # "driver to adapter" or "adapter to metal"
    size: str  # "M5", "ST4.2"; "" for a pin or a hook
    head: str  # "button"; of a self-tapping screw "pan"; of a stud's nut "nut"
    length_mm: float | None  # standard; None where no standard screw does, or none is needed
    grip_mm: float  # from under the head to where the thread begins to hold
    wanted_mm: float  # thread wanted
    engagement_mm: float  # thread had
    tail_mm: float  # stands behind the skin; of the driver's: beyond its thread, inside the part
    head_mm: float  # diameter of the head
    head_height_mm: float
    head_below_mm: float | None  # below the face over it (negative: above); None where it need not be
    check: Check  # `fit.screw`
    depth_mm: float = 0.0  # of the driver's hole from the seat (0: through), of a counterbore from the front
    washer: str = ""  # under its head: "M4", "M4 large"


def read_threads(text: str) -> Threads:
    """What `threads` of an adapter means: "insert M4", "insert M4 short", "nut M5", "screw ST4.2"."""
    kind, _, name = text.strip().partition(" ")
    name = name.strip()
    if kind not in ("insert", "nut", "screw") or not name.startswith("ST" if kind == "screw" else "M"):
        raise InputError("threads", text, '"insert M4", "nut M4" or "screw ST4.2"')
    return Threads(kind, name)


@dataclass(frozen=True)
class _Thread:
    least_mm: float  # past where it begins, with the rim as thick as it may be
    liked_mm: float
    holds_mm: float  # of what a screw passes, how much holds it
    why: str
    head: str
    head_mm: float
    height_mm: float
    source: str


def _thread(stock: Stock, threads: Threads, head: str) -> _Thread:
    if threads.kind == "screw":
        tap = stock.tapping_screw(threads.size)
        why = "2 d in plastic, 2.5 where there is room"
        return _Thread(2.0 * tap.d_mm, 2.5 * tap.d_mm, float("inf"), why, "pan", tap.head_mm, tap.height_mm, tap.cited)
    screw = stock.screw(threads.size, head)
    of_head = (head, screw.head_mm, screw.height_mm, screw.cited)
    if threads.kind == "insert":
        insert = stock.insert(threads.name)
        why = f"1 d in metal, the insert's length where there is room ({insert.cited})"
        return _Thread(min(screw.d_mm, insert.length_mm), insert.length_mm, insert.length_mm, why, *of_head)
    nut = stock.nut(threads.size)
    why = f"all of the nut, two turns more where there is room ({nut.cited})"
    return _Thread(nut.height_mm, nut.height_mm + 2.0 * screw.pitch_mm, nut.height_mm, why, *of_head)


def driver_screw(
    stock: Stock, threads: Threads, rim_mm: float, gasket_mm: float, room_mm: float, thread_at_mm: float = 0.0,
    head: str = "button", *, rim_error_mm: float = 0.0, deepest_mm: float | None = None, washer: str = "",
    washer_mm: float = 0.0,
) -> ChosenScrew:  # fmt: skip
    """The screw through the driver's rim into the adapter. `stock`, mm; `rim_mm`, `gasket_mm`, `rim_error_mm`: the rim
    under the head, the driver's own gasket as closed, and what both may be out by, either way; `room_mm`: from the seat
    down to where the screw would bottom: the hole's depth, or the part's thickness where the metal closes a through
    hole; `thread_at_mm`: from the seat down to where the thread begins: the part that a nut in its pocket leaves above
    it; `head`: socket, button or countersunk; a self-tapping screw has its own; `deepest_mm`: how deep the hole may be
    made for a longer screw; None: as deep as it is; `washer`, `washer_mm`, mm: A washer under the head, and its
    thickness."""
    thread = _thread(stock, threads, head)
    under = rim_mm + gasket_mm + washer_mm  # from under the head to the seat
    begins, room = under + thread_at_mm, max(room_mm, deepest_mm or 0.0)
    low, high = begins + thread.least_mm + rim_error_mm, under - rim_error_mm + room - TIP_MM
    lengths = stock.lengths_mm(threads.size)
    verdict: Verdict = "ok"
    remedy = None
    length = _shortest(lengths, low, high, begins + thread.liked_mm)
    if length is None and rim_error_mm > 0.0:
        # Good for the rim as entered, not for all it may be: then that is the thing to measure.
        length = _shortest(lengths, begins + thread.least_mm, under + room - TIP_MM, begins + thread.least_mm)
        if length is not None:
            spare = min(length - begins - thread.least_mm, under + room - TIP_MM - length)
            verdict = "caution"
            ask = "Measure the rim and its gasket where the screws sit to ± {spare} or better; now they may be {doubt} out"
            remedy = Message(ask, (("spare", spare, "mm"), ("doubt", rim_error_mm, "mm")))
    if length is None:
        verdict, remedy = _none(lengths, threads.size, low, high)
    past = 0.0 if length is None else length - begins  # past where the thread begins
    depth = room_mm
    if length is not None and deepest_mm is not None:
        depth = min(max(room_mm, length - under + rim_error_mm + TIP_MM), max(room_mm, deepest_mm))
    check = Check(
        "fit.screw", verdict, _title("Driver to adapter", threads.size, thread.head, length, washer), value=past,
        limit=thread.least_mm, unit="mm", remedy=remedy,
        working=(
            CalculationLine(
                "g", "rim, gasket, washer and part above the thread", begins, "mm", "driver's rim + gasket + part",
            ),
            CalculationLine("d_g", "what rim and gasket may be out by, either way", rim_error_mm, "mm"),
            CalculationLine("e_min", f"thread wanted: {thread.why}", thread.least_mm, "mm", PRACTICE),
            CalculationLine("e", "screw past where the thread begins", past, "mm"),
            CalculationLine("h", "depth of its hole from the seat", depth, "mm", "the part"),
            CalculationLine(
                "t", "tip to the floor of the hole", None if length is None else under + depth - length, "mm",
            ),
            CalculationLine(
                "t_min", f"wanted, with the doubt: d_g + {TIP_MM:g} mm", rim_error_mm + TIP_MM, "mm", PRACTICE,
            ),
            CalculationLine("L", "standard length", length, "mm", thread.source),
        ),
        sources=(PRACTICE, thread.source), key="threads", part="driver",
    )  # fmt: skip
    engagement = min(past, thread.holds_mm)
    return ChosenScrew(
        "driver to adapter", threads.size, thread.head, length, begins, thread.least_mm, engagement,
        past - engagement, thread.head_mm, thread.height_mm, None, check, depth, washer,
    )  # fmt: skip


def metal_screw(
    stock: Stock, row: FixingRow, thickness_mm: float, gasket_mm: float, skin_mm: float, depth_mm: float = 0.0, *,
    over_mm: float = 0.0, head: str = "socket", stack_mm: float | None = None, stands_mm: float | None = None,
    washer: str = "", washer_mm: float = 0.0,
) -> ChosenScrew:  # fmt: skip
    """The screw (or the nut of a stud) that holds the adapter to the metal, and how deep its head is sunk. A
    counterbore is made deeper than asked where the longest standard screw, or the stud, wants it so and enough part is
    left under the head. `stock`, mm; `row`, mm; `thickness_mm`, `gasket_mm`, `skin_mm`: the part's own, the back
    gasket's as closed (0 in a groove), the metal's; `depth_mm`: depth of the counterbore from the front face; 0: none,
    the head need not be sunk; `over_mm`: how far the surface over the head lies below the front face: the recess, under
    a sunk driver; `head`: socket, button or countersunk; a self-tapping screw has its own; `stack_mm`: height of head
    and washer; None: the head's own row, and the washer; `stands_mm`: how far a stud stands out of the metal; None: not
    measured; `washer`, `washer_mm`, mm: A washer under the head, and its thickness."""
    if row.holds in NO_SCREW:
        return _left_out(row, stands_mm)
    size, source = row.screw, row.cited
    if row.holds == "stud":
        nut = stock.nut(size)
        head, head_mm, height, source = "nut", nut.corners_mm, nut.height_mm, nut.cited
    elif size.startswith("ST"):
        tap = stock.tapping_screw(size)
        head, head_mm, height, source = "pan", tap.head_mm, tap.height_mm, tap.cited
    else:
        screw = stock.screw(size, head)
        head_mm, height, source = screw.head_mm, screw.height_mm, screw.cited
    tall = height + washer_mm if stack_mm is None else stack_mm
    # A nut behind the metal begins behind it; a rivet nut's thread and a tapped sheet at its face.
    behind = skin_mm if row.holds in ("bolt", "sheet nut", "expansion nut") else 0.0
    wanted = height + stock.screw(size, "socket").pitch_mm if row.holds == "stud" else row.engage_mm
    sunk = depth_mm
    length: float | None = None
    verdict: Verdict = "ok"
    remedy: Message | None = None
    tries: tuple[tuple[str, str], ...] = ()

    def begins() -> float:
        return thickness_mm - sunk + washer_mm + gasket_mm + behind  # from under the head to where the thread holds

    if row.holds == "stud":
        top = thickness_mm - over_mm + gasket_mm
        shortest = HEAD_FLOOR_MM + washer_mm + gasket_mm + wanted
        reach = (("low", ceil(10.0 * shortest - _SAME) / 10.0, "mm"), ("high", floor(10.0 * top + _SAME) / 10.0, "mm"))
        if stands_mm is None:
            verdict = "caution"
            remedy = Message("Measure how far the studs stand out of the metal: {low} to {high} will do", reach)
        elif stands_mm < shortest - _SAME:
            verdict = "stop"
            remedy = Message(
                "Set rivet nuts in place of the studs: they would have to stand {low} out of the metal", reach
            )
        else:
            sunk = max(depth_mm, begins() + wanted - stands_mm + depth_mm)
            if stands_mm > top + _SAME:
                verdict, remedy = "stop", Message("Cut the studs down to {high} out of the metal", reach)
                tries = (("thickness", f"{ceil(10.0 * (thickness_mm + stands_mm - top)) / 10.0:g} mm"),)
    else:
        lengths = stock.lengths_mm(size)
        over = begins() + wanted - lengths[-1]
        if over > _SAME and depth_mm > 0.0 and thickness_mm - depth_mm - over >= HEAD_FLOOR_MM - _SAME:
            sunk = depth_mm + over
        length = _shortest(lengths, begins() + wanted, float("inf"), begins() + wanted)
        if length is None:
            verdict, sink = "stop", "Sink the heads {deeper} deeper, or make the part {deeper} thinner there"
            remedy = Message(sink, (("deeper", over, "mm"),))
    engagement = 0.0 if length is None else length - begins()
    tail = max(0.0 if length is None else length - begins() + behind - skin_mm, row.behind_mm)
    below = None
    if depth_mm > 0.0:
        below = sunk - over_mm - tall
        if below < HEAD_BELOW_MM - _SAME and verdict != "stop":
            # A head above the face over it holds the driver or the foam off it.
            verdict = "stop" if below < -_SAME else "caution"
            deeper = (("deeper", HEAD_BELOW_MM - below, "mm"),)
            remedy = Message("Sink the heads {deeper} deeper, or take a lower head", deeper)
    working = [
        CalculationLine("g", "part, washer and gasket under the head, to where the thread holds", begins(), "mm", "the part"),
        CalculationLine("s", "metal", skin_mm, "mm", "the job"),
        CalculationLine("e_min", f"thread wanted in a {row.holds}", wanted, "mm", row.cited),
        CalculationLine("e", "thread had", engagement, "mm"),
        CalculationLine("L", "shortest standard length that gives it", length, "mm", source),
        CalculationLine("t", "stands behind the metal (screw or fixing, the longer)", tail, "mm"),
    ]  # fmt: skip
    if below is not None:
        working.append(CalculationLine("c", "counterbore below the front face", sunk, "mm", "the part"))
        working.append(CalculationLine("b", "head below the face over it", below, "mm", PRACTICE))
    if row.holds == "stud":
        nuts = "Adapter to metal: a nut {size} on each stud"
        nuts += "" if stands_mm is None else ", which stands {stands} out of the metal"
        title = Message(nuts, (("size", size, ""), ("stands", stands_mm or 0.0, "mm")))
        engagement = 0.0 if stands_mm is None else min(height, max(0.0, stands_mm - begins()))
    else:
        title = _title("Adapter to metal", size, head, length, washer)
    check = Check(
        "fit.screw", verdict, title, value=engagement, limit=wanted if length else None, unit="mm", remedy=remedy,
        working=tuple(working), sources=(PRACTICE, source), key="screw", part="metal", tries=tries,
    )  # fmt: skip
    return ChosenScrew(
        "adapter to metal", size, head, length, begins(), wanted, engagement, tail, head_mm, tall, below, check,
        sunk, washer,
    )  # fmt: skip


def _left_out(row: FixingRow, stands_mm: float | None) -> ChosenScrew:
    title = "The part has no {holds}: it is screwed at its other fixings"
    if row.holds == "pin" and stands_mm is not None:
        title = "The part has a blind hole for the pin that stands out of the metal"
    check = Check(
        "fit.screw", "ok", Message(title, (("holds", row.holds, ""),)), sources=(row.cited,), key="fixings",
        part="metal",
    )  # fmt: skip
    return ChosenScrew("adapter to metal", "", "", None, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, None, check)


def _shortest(lengths: tuple[float, ...], least: float, most: float, liked: float) -> float | None:
    """Shortest length at or above `liked` that fits; failing that the longest at or above `least`."""
    fitting = [x for x in lengths if least - _SAME <= x <= most + _SAME]
    return next((x for x in fitting if x >= liked - _SAME), fitting[-1] if fitting else None)


def _none(lengths: tuple[float, ...], size: str, low: float, high: float) -> tuple[Verdict, Message]:
    """No standard length lies between the two: whether one can be cut down, or what it takes for the next to fit."""
    longer = next((x for x in lengths if x >= low - _SAME), None)
    about: Quantities = (("size", size, ""), ("low", low, "mm"), ("high", high, "mm"), ("longest", lengths[-1], "mm"))
    if longer is None:
        thicker = "take a thicker thread, or a thinner rim or washer"
        return "stop", Message(
            f"{{size}} would have to be {{low}} long, the longest standard screw is {{longest}}: {thicker}", about
        )
    about += (("longer", longer, "mm"), ("more", longer - high, "mm"))
    if high >= low - _SAME:
        return "caution", Message("Cut a {size} of {longer} down to between {low} and {high}", about)
    return "stop", Message("Make the part {more} thicker: then {size} of {longer} fits", about)


def _title(what: str, size: str, head: str, length: float | None, washer: str = "") -> Message:
    if length is None:
        return Message(f"{what}: no standard screw {{size}} fits", (("size", size, ""),))
    under = {"": "", size: ", with a washer"}.get(washer, ", with a large washer")
    about = (("size", size, ""), ("length", length, "mm"))
    return Message(f"{what}: {{size}}, {{length}} long, {head} head{under}", about)
