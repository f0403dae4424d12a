"""Whether new wires go through the boot at a door's hinge beside what runs through it already.

    fill = (D_loom^2 + n d^2) / D_bore^2

against 40 %, what the National Electrical Code, chapter 9, table 1, lets more than two conductors fill of a conduit.
A boot is no conduit: it flexes at every opening of the door, and what chafes there breaks, so the
figure is taken as the most, and a try with the wires themselves outranks it.  Vehicle maker's information first.
"""

from __future__ import annotations

from math import isfinite

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message

FILL = 0.40  # share of the bore that may be filled (NEC chapter 9, table 1, over two conductors)
_LEAVE = "What is in it stays untouched: lines of airbags and sensors run through it"


def boot_check(
    wires: int, wire_mm: float, bore_mm: float | None = None, loom_mm: float | None = None, room: int | None = None
) -> Check:
    """New wires through one boot.

    `wires`: how many new ones, 0 or more; `bore_mm`: inner diameter of the boot where it is narrowest; None where
    nobody measured it; `loom_mm`: diameter of what runs through it; None where nobody measured it; `room`: how
    many went through when it was tried; outranks the rest; InputError: A number outside its range, or a loom no
    boot could hold.
    """
    for what, value, least in (
        ("wires through the boot", wires, 0), ("wire through the boot, mm", wire_mm, 1e-9),
        ("bore of the boot, mm", bore_mm, 1e-9), ("loom through the boot, mm", loom_mm, 0), ("room in the boot", room, 0),
    ):  # fmt: skip
        if value is not None and not (isfinite(value) and value >= least):
            raise InputError(what, value, "a finite number, 0 or more")
    if bore_mm is not None and loom_mm is not None and loom_mm > bore_mm:
        raise InputError("loom through the boot, mm", loom_mm, f"at most its bore, {bore_mm:g} mm")
    numbers: list[tuple[str, float | str, str]] = [("n", f"{wires}", ""), ("d", wire_mm, "mm")]
    if not wires:
        return _check(True, "No new wire goes through the boot", "", numbers)
    if room is not None:
        numbers.append(("room", f"{room}", ""))
        said = "{n} new wires through the boot; {room} went through when it was tried"
        return _check(wires <= room, said, "Feed them by the vehicle's own wires, or thinner pairs", numbers)
    if bore_mm is None or loom_mm is None:
        lacking = " and ".join(n for n, v in (("bore", bore_mm), ("loom", loom_mm)) if v is None)
        said = "{n} new wires of {d} go through a boot nobody measured: " + lacking
        return _check(False, said, "Pull the boot off one side and measure it, or try the wires", numbers)
    fill = (loom_mm**2 + wires * wire_mm**2) / bore_mm**2
    share = (("D", "bore", bore_mm, "mm"), ("D0", "loom", loom_mm, "mm"), ("d", "each new wire", wire_mm, "mm"))
    working = (
        *(CalculationLine(*one, "reading" if one[0] != "d" else "size") for one in share),
        CalculationLine("(D0^2 + n d^2)/D^2", "fill", fill, ""),
    )
    numbers += [("fill", 100 * fill, "%"), ("most", 100 * FILL, "%")]
    if loom_mm + wire_mm > bore_mm:
        said, right = "Not one wire of {d} goes through the boot beside its loom", False
    else:
        said, right = "{n} new wires of {d} fill the boot to {fill}; {most} is what lets it flex", fill <= FILL
    return _check(
        right, said, "Feed them by the vehicle's own wires, take thinner pairs, or try it", numbers, fill, working
    )


def _check(
    right: bool,
    said: str,
    remedy: str,
    numbers: list[tuple[str, float | str, str]],
    fill: float | None = None,
    working: tuple[CalculationLine, ...] = (),
) -> Check:
    return Check(
        "wire.boot",
        "ok" if right else "caution",
        Message(said, tuple(numbers)),
        fill,
        None if fill is None else FILL,
        remedy=None if right else Message(f"{remedy}. {_LEAVE}", tuple(numbers)),
        working=working,
        sources=("NEC chapter 9, table 1: 40 % for more than two conductors", PRACTICE),
        key="boot",
    )
