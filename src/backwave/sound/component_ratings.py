"""Whether parts as usually sold stand what a network asks of them.

Nobody measures the rating of a part that is not bought yet: the ratings here are defaults, shown as such, and what is
found is also what to ask for in the shop.  SI units; heat is that of music, the steady tone's stands in the working.
"""

from __future__ import annotations

from dataclasses import dataclass

from backwave.finding import PRACTICE, CalculationLine, Check, Message
from backwave.sound.design import PartStress


@dataclass(frozen=True)
class Ratings:
    """What a part as usually sold stands; each a default that may be set to what the part in hand says."""

    resistor_w: float = 10.0  # printed on a cemented resistor, in free air (common trade practice)
    # direct voltage printed on a film capacitor, taken as its peak; a bipolar electrolytic often says 50 V (common
    # trade practice)
    capacitor_v: float = 100.0
    # heat that leaves an air coil of 40 mm across, 38 cm2 of surface, 53 K hotter than still air: 10 W/(m2 K),
    # radiation included (from memory)
    coil_w: float = 2.0
    # 1, of a resistor's rating that is used: half, since in a vehicle its air is not free (common trade practice)
    share: float = 0.5


def part_check(stress: PartStress, ratings: Ratings | None = None) -> Check:
    """One part of a network against what parts as usually sold stand.

    A `caution`, never a `stop`: the remedy is another part of the same value.
    """
    rated = ratings or Ratings()
    part = (("name", stress.name, ""),)
    if stress.part.kind == "C":
        value, limit, unit = stress.volts, rated.capacitor_v, "V"
        said = ("The capacitor {name} sees {value} at its peak", "; {limit} is printed on the usual one")
        remedy = Message("A film capacitor for {wanted} or more", (("wanted", value, "V"),))
        basis = CalculationLine("V0", "voltage printed on it; a default", limit, "V", PRACTICE)
    elif stress.part.kind == "R":
        value, limit, unit = stress.music_watts, rated.share * rated.resistor_w, "W"
        said = ("The resistor {name} turns {value} of music to heat", "; the usual one is good for {limit}, enclosed")
        remedy = Message(
            "A resistor of {wanted} or more, or several that make the same value, in free air and away from trim",
            (("wanted", value / rated.share, "W"),),
        )
        basis = CalculationLine(
            "P0", f"{rated.share:g} of the {rated.resistor_w:g} W printed on it; a default", limit, "W", PRACTICE
        )
    else:
        value, limit, unit = stress.music_watts, rated.coil_w, "W"
        said = ("The coil {name} turns {value} of music to heat", "; the usual one is good for {limit}")
        remedy = Message("A coil of thicker wire, with air round it and away from trim")
        basis = CalculationLine("P0", "heat at 53 K over still air, 40 mm across; a default", limit, "W", "from memory")
    ok = value <= limit
    return Check(
        "sound.part-stress",
        "ok" if ok else "caution",
        Message("".join(said), (*part, ("value", value, unit), ("limit", limit, unit))),
        value,
        limit,
        unit,
        remedy=None if ok else remedy,
        working=(
            CalculationLine(
                "I", "greatest current through it, rms, at the source's full sine", stress.amps, "A", "Ohm's law"
            ),
            CalculationLine("V", "greatest voltage across it, peak", stress.volts, "V", "Ohm's law"),
            CalculationLine("P", "greatest heat of a steady tone", stress.watts, "W", "I2 R"),
            CalculationLine("Pm", "the same with music, a tenth", stress.music_watts, "W", PRACTICE),
            CalculationLine("f", "where its heat, or a capacitor's voltage, is greatest", stress.at_hz, "Hz"),
            basis,
        ),
        sources=("Ohm's law", PRACTICE) if stress.part.kind != "L" else ("Ohm's law", PRACTICE, "from memory"),
        part=stress.name,
    )
