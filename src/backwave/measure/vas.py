"""Compliance and moving mass from a second impedance: with a mass on the cone, or in a box of known volume.

SI units.  First-order uncertainty from both fits and from what was weighed and measured (JCGM 100:2008, 5.1).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, pi, sqrt

from backwave.acoustics.air import Air
from backwave.errors import InputError
from backwave.measure.impedance import Fitted, Motor


@dataclass(frozen=True)
class Suspension:
    """What a second measurement adds."""

    Vas: Fitted  # m3, volume of air as compliant as the suspension
    Mms: Fitted  # kg, moving mass with its air load
    Cms: Fitted  # m/N
    Bl: Fitted  # N/A, force factor


def added_mass(
    free: Motor, loaded: Motor, mass: float, Sd: float, u_mass: float = 0.0, u_Sd: float = 0.0, air: Air | None = None
) -> Suspension:
    """Moving mass and compliance from how far an added mass lowers the resonance: Mms = m/((fs/fs')^2 - 1).

    `mass`, kg; `Sd`, m2: effective cone area; `u_mass`, `u_Sd`, kg and m2: their standard uncertainties;
    InputError: A resonance lowered by less than a tenth: the difference would be all noise.
    """
    _positive(mass=mass, Sd=Sd)
    ratio = free.fs.value / loaded.fs.value
    if ratio < 1.1:
        raise InputError(
            "resonance with the added mass",
            f"{loaded.fs.value:.4g} Hz",
            f"below {free.fs.value / 1.1:.4g} Hz: more mass",
        )
    mms = mass / (ratio**2 - 1)
    gain = 2 * ratio**2 / (ratio**2 - 1)  # d ln Mms by d ln fs', and by -d ln fs
    uf, ul = free.fs.u / free.fs.value, loaded.fs.u / loaded.fs.value
    u_m = sqrt((u_mass / mass) ** 2 + (gain * uf) ** 2 + (gain * ul) ** 2)
    # Cms = 1/(ws^2 Mms): the free resonance enters by gain - 2
    u_c = sqrt((u_mass / mass) ** 2 + ((gain - 2) * uf) ** 2 + (gain * ul) ** 2)
    return _suspension(free, mms, u_m, u_c, Sd, u_Sd, air)


def known_box(
    free: Motor, boxed: Motor, volume: float, Sd: float, u_volume: float = 0.0, u_Sd: float = 0.0,
    air: Air | None = None,
) -> Suspension:  # fmt: skip
    """Vas from a tight box of known volume: Vas = Vb (fc Qec/(fs Qes) - 1) (Small 1972, JAES 20(10):798-808).

    Written with the qualities it does not mind that the air's load differs between free air and box.

    `volume`, m3: net volume, with what the driver's own body leaves of it; `Sd`, m2: effective cone area;
    `u_volume`, `u_Sd`, m3 and m2: their standard uncertainties; InputError: A box that hardly raises the
    resonance.
    """
    _positive(volume=volume, Sd=Sd)
    product = boxed.fs.value * boxed.Qes.value / (free.fs.value * free.Qes.value)
    if product < 1.2:
        raise InputError(
            "resonance in the box", f"{boxed.fs.value:.4g} Hz", "a good deal higher: a smaller, tighter box"
        )
    vas = volume * (product - 1)
    u_product = sqrt(sum((x.u / x.value) ** 2 for x in (free.fs, free.Qes, boxed.fs, boxed.Qes)))
    u_v = sqrt((u_volume / volume) ** 2 + (product / (product - 1) * u_product) ** 2)
    stiffness = (air or Air()).stiffness
    cms = vas / (stiffness * Sd**2)
    u_c = sqrt(u_v**2 + (2 * u_Sd / Sd) ** 2)
    mms = 1 / ((2 * pi * free.fs.value) ** 2 * cms)
    u_m = sqrt(u_c**2 + (2 * free.fs.u / free.fs.value) ** 2)
    made = _suspension(free, mms, u_m, u_c, Sd, 0.0, air)
    return Suspension(Fitted(vas, vas * u_v), made.Mms, made.Cms, made.Bl)


def _suspension(free: Motor, mms: float, u_m: float, u_c: float, Sd: float, u_Sd: float, air: Air | None) -> Suspension:
    cms = 1 / ((2 * pi * free.fs.value) ** 2 * mms)
    vas = (air or Air()).stiffness * Sd**2 * cms
    bl = sqrt(2 * pi * free.fs.value * mms * free.Re.value / free.Qes.value)
    u_bl = 0.5 * sqrt(u_m**2 + sum((x.u / x.value) ** 2 for x in (free.fs, free.Re, free.Qes)))
    return Suspension(
        Fitted(vas, vas * sqrt(u_c**2 + (2 * u_Sd / Sd) ** 2)), Fitted(mms, mms * u_m), Fitted(cms, cms * u_c),
        Fitted(bl, bl * u_bl),
    )  # fmt: skip


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not (isfinite(value) and value > 0):
            raise InputError(name, value, "a finite number above 0")
