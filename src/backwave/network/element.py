"""What a network is made of: one frozen value for each element, and what its number is at each frequency."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError

Real: TypeAlias = NDArray[np.float64]
Complex: TypeAlias = NDArray[np.complex128]
Value: TypeAlias = complex | ArrayLike | Callable[[Real], ArrayLike]
Kind: TypeAlias = Literal[
    "resistor", "inductor", "capacitor", "impedance", "voltage", "current",
    "transformer", "gyrator", "controlled voltage", "controlled current",
]  # fmt: skip

REFERENCE = "0"  # the node that all voltages are measured from, in every domain


class NetworkError(InputError):
    """A network that has no answer, or not one answer: a floating part, a loop of sources, an unknown name."""


@dataclass(frozen=True, eq=False)
class Element:
    """One element between two nodes, or between two pairs of nodes."""

    kind: Kind
    name: str  # unique in its network
    nodes: tuple[str, ...]  # (a, b), or (a, b, c, d) for two ports
    # SI unit of the kind, ohm, henry, farad, ohm (impedance), volt, ampere, ratio, siemens (gyrator, controlled
    # current), ratio (controlled voltage).  An array has a number for each frequency; a callable is given f in Hz.
    value: Value
    ohm: float = 0.0  # ohm, series resistance of an inductor


@dataclass(frozen=True)
class Probe:
    """What is asked of a network: a voltage, a current, or the impedance that a source sees."""

    # voltage of node `of` from node `to` (V), current of element `of` (A), impedance seen by source `of` (ohm)
    kind: Literal["v", "i", "z"]
    of: str  # A node ("v") or an element ("i", "z")
    to: str = REFERENCE  # the other node of a voltage


def at(name: str, value: Value, f_hz: Real) -> Complex:
    """The number of an element at each frequency.
    `value`, unit of the element; returns (n_freq,) unit of the element.
    """
    found = np.asarray(value(f_hz) if callable(value) else value, dtype=np.complex128)
    accepted = f"one number, or one for each of {f_hz.size} frequencies"
    if found.shape not in ((), (1,), f_hz.shape):
        raise NetworkError(f"{name}: its values", f"shape {found.shape}", accepted)
    if not np.isfinite(found).all():
        bad = f_hz[~np.isfinite(np.broadcast_to(found, f_hz.shape))][0]
        raise NetworkError(f"{name}: its value", f"not finite at {bad:g} Hz", "a finite number at every frequency")
    return np.broadcast_to(found, f_hz.shape)


def named(what: str, name: str, known: Iterable[str]) -> str:
    """The name itself where it is known; otherwise an error that offers the nearest."""
    known = list(known)
    if name in known:
        return name
    near = get_close_matches(str(name), known, n=3) or known[:8]
    raise NetworkError(f"{what} of the network", name, " or ".join(near) or "nothing: the network is empty")
