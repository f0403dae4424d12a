"""What the choice of a cable says: why each smaller size fails, what a guessed length does, clad aluminum."""

from __future__ import annotations

from collections.abc import Sequence

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.power.results import SizeTried

_HEAT = "Churchill and Chu 1975, convection; radiation; IEC 60028 resistance"


def size_check(
    best: SizeTried | None,
    tried: Sequence[SizeTried],
    current_a: float,
    fuse_a: float | None,
    limit_v: float,
    insulation_degc: float,
    ambient_degc: float,
    better: str = "",
) -> Check:
    """The size of one run, with why each smaller one fails.

    `best` is None where no size will do; `better`: the least that will, where `best` is one already there that will not.
    """
    smaller = [t for t in tried if best is None or t.area_mm2 < best.area_mm2]
    working = (
        CalculationLine("I", "current it is laid out for", current_a, "A"),
        CalculationLine("dU", "drop allowed", limit_v, "V", PRACTICE),
        CalculationLine("Ta", "air around it", ambient_degc, "degC"),
        CalculationLine("T", "what the insulation stands", insulation_degc, "degC"),
        *(() if fuse_a is None else (CalculationLine("F", "fuse at its head", fuse_a, "A"),)),
        *(
            CalculationLine(t.name, _why(t), t.drop_v, "V", _HEAT)
            for t in (*smaller, *(() if best is None else (best,)))
        ),
    )
    asked = max(current_a, fuse_a or 0.0)
    remedy: Message | None = Message("Take {size}", (("size", better, "size"),)) if better else None
    verdict: Verdict = "stop"
    if insulation_degc <= ambient_degc:
        said = Message(
            "The insulation is rated {t}; the air there reaches {air}",
            (("t", insulation_degc, "degC"), ("air", ambient_degc, "degC")),
        )
        remedy = Message(
            "Cable whose insulation stands {better} or more, or a cooler way for it", (("better", 105.0, "degC"),)
        )
    elif best is None or set(best.fails) & {"heat", "fuse"}:
        most = max((t.ampacity_a for t in tried), default=0.0) if best is None else best.ampacity_a
        size = "" if best is None else best.name
        said = Message(
            "{size} is rated {most} here; its load and fuse ask for {i}"
            if size
            else "No single cable carries {i} here: the thickest is rated {most}",
            ((("size", size, "size"),) if size else ()) + (("i", asked, "A"), ("most", most, "A")),
        )
        remedy = remedy or Message("Two runs with a fuse each, insulation that stands more heat, or a smaller load")
    else:
        assert best.conductor_degc is not None  # else it would fail by heat
        verdict = "caution" if "drop" in best.fails else "ok"
        said = Message(
            "{size} drops {drop}; {limit} is allowed. Its conductor settles at {t}",
            (
                ("size", best.name, "size"),
                ("drop", best.drop_v, "V"),
                ("limit", limit_v, "V"),
                ("t", best.conductor_degc, "degC"),
            ),
        )
        if "drop" in best.fails:
            remedy = remedy or Message(
                "A shorter way, or two runs with a fuse each: the loss costs power, it is no danger"
            )
    return Check(
        "power.cable",
        verdict,
        said,
        None if best is None else best.drop_v,
        limit_v,
        "V",
        remedy=None if verdict == "ok" else remedy,
        working=working,
        sources=("IEC 60228 class 5", "IEC 60028", _HEAT, PRACTICE),
    )


def length_check(size: str, length_m: float, drop_v: float, by_meter_v: float, limit_v: float) -> Check:
    """What a guessed length does: drop by the meter, and how long this size may get."""
    reach = length_m + max(0.0, limit_v - drop_v) / by_meter_v
    return Check(
        "power.length",
        "caution",
        Message(
            "Nobody measured this run: {l} is a guess. Another {one} drops {m}; {size} reaches {reach}",
            (
                ("l", length_m, "m"),
                ("one", 1.0, "m"),
                ("m", by_meter_v, "V"),
                ("size", size, "size"),
                ("reach", reach, "m"),
            ),
        ),
        length_m,
        reach,
        "m",
        remedy=Message("Lay a string where the cable will go, and measure that"),
        working=(
            CalculationLine("I r", "drop by the meter", by_meter_v, "V"),
            CalculationLine("L", "longest that keeps the drop", reach, "m"),
        ),
        sources=(PRACTICE,),
        key="length",
    )


def clad_check() -> Check:
    """What copper-clad aluminum asks for."""
    return Check(
        "power.clad",
        "caution",
        Message("Copper-clad aluminum: it carries less than copper of its size, and its ends creep and corrode"),
        remedy=Message("Take copper, or crimp with lugs made for aluminum and check them after a month"),
        sources=("ASTM B566 class 10A (from memory)", PRACTICE),
        key="material",
    )


def _why(tried: SizeTried) -> str:
    words = {
        "drop": "drops too much",
        "heat": "gets too hot",
        "fuse": f"is rated {tried.ampacity_a:.1f} A, less than its fuse",
        "overload": f"is rated {tried.ampacity_a:.1f} A, less than 1.35 times its fuse",
    }
    return "; ".join(words[f] for f in tried.fails) or "will do"
