"""What a run of speaker cable does: loss, damping, and where a crossover on the other side of it lands.

With Rc out and back: loss 20 lg Z/(Z + Rc), damping factor Z/(Rs + Rc), Qes' = Qes (Re + Rs + Rc)/Re (Small 1972,
J. AES 20:383; from memory), a first-order corner before the cable moves by (Z + Rc)/Z (low-pass) or its inverse
(high-pass).  Inductance of the cable is left out: about 0.6 uH/m (from
memory), 0.04 dB at 20 kHz for 5 m into 4 ohm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log10

from backwave.errors import InputError
from backwave.finding import Check, Step, Text
from backwave.power.cable import sizes_of
from backwave.stock import CableSize, Conductor, Stock, shipped

__all__ = ["LOSS_DB", "SpeakerCable", "speaker_cable"]

LOSS_DB = 0.3
"""Loss that is let pass (common trade practice: a fifth of a dB to half of one is not heard)."""
PRACTICE = "common trade practice"


@dataclass(frozen=True)
class SpeakerCable:
    """A pair from an output to a speaker.

    Parameters
    ----------
    size : str, no unit
        Its size.
    area_mm2 : float, mm2
        Cross section.
    loop_ohm : float, ohm
        Out and back.
    loss_db : float, dB
        In level, below 0.
    damping_factor : float or None, no unit
        Load by source and cable; None for a source and cable of no resistance.
    qes_factor : float or None, no unit
        By which Qes grows; None where Re is not known.
    low_pass_factor, high_pass_factor : float, no unit
        By which a first-order corner before the cable moves.
    checks : tuple of Check, no unit
        What was found.
    """

    size: str
    area_mm2: float
    loop_ohm: float
    loss_db: float
    damping_factor: float | None
    qes_factor: float | None
    low_pass_factor: float
    high_pass_factor: float
    checks: tuple[Check, ...]


def speaker_cable(
    length_m: float,
    load_ohm: float,
    size: str = "",
    re_ohm: float | None = None,
    source_ohm: float = 0.0,
    material: str = "copper",
    loss_db: float = LOSS_DB,
    stock: Stock | None = None,
) -> SpeakerCable:
    """What a pair does; at 20 degC.

    Parameters
    ----------
    length_m : float, m
        One way, above 0.
    load_ohm : float, ohm
        Rated load, above 0.
    size : str, no unit
        Name of a size of the stock; "" takes the least metric one whose loss passes.
    re_ohm : float or None, ohm
        Coil's resistance, for the damping.
    source_ohm : float, ohm
        Output resistance of the amplifier, and of a coil in series.
    material : str, no unit
        "copper" or "copper-clad aluminum".
    loss_db : float, dB
        Largest loss, above 0.
    stock : Stock or None, no unit
        Tables; None is those that ship.

    Raises
    ------
    InputError
        A length or load that is not above 0, an unknown size or conductor.
    """
    for what, value in (
        ("length of the speaker cable, m", length_m),
        ("load, ohm", load_ohm),
        ("largest loss, dB", loss_db),
    ):
        if not value > 0:
            raise InputError(what, value, "above 0")
    metals = {r.name: r for r in (stock or shipped()).rows("conductor") if isinstance(r, Conductor)}
    if material not in metals:
        raise InputError("conductor", material, " or ".join(metals))
    by_copper = metals[material].resistivity_ohm_mm2_m / metals["copper"].resistivity_ohm_mm2_m

    def loop(row: CableSize) -> float:
        return 2 * length_m * row.mohm_m * 1e-3 * by_copper

    def loss(row: CableSize) -> float:
        return 20 * log10(load_ohm / (load_ohm + loop(row)))

    row = _pick(sizes_of(stock), size, [r for r in sizes_of(stock, "metric") if -loss(r) <= loss_db])
    ohm = loop(row)
    source = source_ohm + ohm
    check = Check(
        "power.speaker-cable",
        "ok" if -loss(row) <= loss_db else "caution",
        Text(
            "{size}, {l} one way, into {z}: {loss}",
            (("size", row.name, ""), ("l", length_m, "m"), ("z", load_ohm, "ohm"), ("loss", loss(row), "dB")),
        ),
        loss(row),
        -loss_db,
        "dB",
        remedy=None if -loss(row) <= loss_db else Text("A thicker pair or a shorter way"),
        working=(
            Step("Rc", "out and back", ohm, "ohm", row.cited),
            Step("Z", "rated load", load_ohm, "ohm"),
            Step("Z/(Rs + Rc)", "damping factor", load_ohm / source if source else None, ""),
        ),
        sources=("Ohm's law", row.cited, PRACTICE),
    )
    return SpeakerCable(
        row.name,
        row.area_mm2,
        ohm,
        loss(row),
        load_ohm / source if source else None,
        None if re_ohm is None else (re_ohm + source) / re_ohm,
        (load_ohm + ohm) / load_ohm,
        load_ohm / (load_ohm + ohm),
        (check,),
    )


def _pick(rows: Sequence[CableSize], size: str, passing: Sequence[CableSize]) -> CableSize:
    if size:
        for row in rows:
            if row.name == size:
                return row
        raise InputError("cable size", size, ", ".join(r.name for r in rows))
    return passing[0] if passing else max(rows, key=lambda r: (r.series == "metric", r.area_mm2))
