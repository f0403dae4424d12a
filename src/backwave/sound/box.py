"""Closed and vented boxes: the box with its losses in a network, its port, and the panels to cut for a net volume.

Small, closed-box systems, JAES 20(10):798-808 and 21(1):11-18 (1972, 1973); vented boxes, JAES 21 (1973, parts I
to IV).  Volumes in m3, all else SI.  The driver, the port and the bracing take room: the inside is larger than the net
volume by theirs.  Butt joints: top and bottom reach over everything, front and back stand between them, sides between
all four."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite, log10, pi, prod, sqrt

from backwave.acoustics import Air
from backwave.errors import InputError, require_positive
from backwave.finding import PRACTICE, CalculationLine, Check, Message
from backwave.network.circuit import Network
from backwave.network.element import END_FLANGED, END_FREE
from backwave.sound.driver import Driver

# width, height and depth by each other where nothing is fixed: no two alike (common trade practice)
PROPORTIONS = (1.6, 1.0, 1.25)
_NAMES = ("width", "height", "depth")
_BRACE_SHARE = 0.03  # of the inside, for battens and brace (common trade practice)
_BEHIND_M = 20e-3  # air kept behind a magnet or a port's end (common trade practice)


@dataclass(frozen=True)
class ClosedBox:
    """A driver in a closed box without losses."""

    volume: float  # m3
    alpha: float  # 1, compliance ratio Vas/Vb
    fc: float  # Hz, resonance in the box
    Qtc: float  # 1, total quality in the box
    f3: float  # Hz, where the response is 3 dB down
    peak_db: float  # greatest rise above the passband


def second_order(q: float) -> tuple[float, float]:
    """f3/fc and the peak of a second-order high-pass. f3/fc = sqrt(x + sqrt(x^2 + 1)), x = (1/Q^2 - 2)/2; the peak is
    Q^2/sqrt(Q^2 - 1/4) above Q = sqrt(1/2). `q`, 1: its quality, above 0; returns (float, float) no unit and dB."""
    require_positive(Q=q)
    x = (1 / q**2 - 2) / 2
    peak = 20 * log10(q**2 / sqrt(q**2 - 0.25)) if q > sqrt(0.5) else 0.0
    return sqrt(x + sqrt(x**2 + 1)), peak


def closed_box(driver: Driver, volume: float) -> ClosedBox:
    """A driver in a closed box without losses: alpha = Vas/Vb, fc = fs sqrt(1 + alpha), Qtc = Qts sqrt(1 + alpha).
    `volume`, m3: net volume, above 0."""
    require_positive(volume=volume)
    alpha = driver.Vas / volume
    rise = sqrt(1 + alpha)
    ratio, peak = second_order(driver.Qts * rise)
    return ClosedBox(volume, alpha, driver.fs * rise, driver.Qts * rise, driver.fs * rise * ratio, peak)


def port_length(
    volume: float, f_hz: float, area: float, ends: float = END_FLANGED + END_FREE, air: Air | None = None
) -> float:
    """Length of a round port that tunes a box: f = (c/2 pi) sqrt(S/(V l')), l' = l + ends a. `volume`, m3; `area`, m2:
    cross-section of the port; `ends`, 1: both end corrections by the radius; one end flush, one free unless said;
    returns m."""
    require_positive(volume=volume, tuning=f_hz, area=area)
    speed = (air or Air()).speed
    length = area / volume * (speed / (2 * pi * f_hz)) ** 2 - ends * sqrt(area / pi)
    if length <= 0:
        raise InputError(
            "port area", f"{area * 1e4:.3g} cm2", "a larger port: as a bare hole this one already tunes lower"
        )
    return float(length)


def place_box(
    network: Network, name: str, node: str, volume: float, f_hz: float, ql: float = inf, qa: float = inf,
    air: Air | None = None,
) -> None:  # fmt: skip
    """Put the air of a box at an acoustical node, with its absorption and leak. Adds `name.air` and, for finite
    qualities, `name.absorption` in series with it and `name.leak` to the still air; the qualities are at `f_hz` (Small
    1973: QL = w C R, QA = 1/(w C R)). `volume`, m3; `f_hz`: where the qualities hold: the tuning, or the closed box's
    resonance; `ql`, `qa`, 1: leakage and absorption quality."""
    require_positive(volume=volume, frequency=f_hz)
    compliance = volume / (air or Air()).stiffness
    reactance = 1 / (2 * pi * f_hz * compliance)
    inside = node
    if isfinite(qa):
        require_positive(QA=qa)
        inside = f"{name}.inside"
        network.resistor(f"{name}.absorption", node, inside, reactance / qa)
    network.capacitor(f"{name}.air", inside, "0", compliance)
    if isfinite(ql):
        require_positive(QL=ql)
        network.resistor(f"{name}.leak", node, "0", reactance * ql)


def place_port(
    network: Network, name: str, node: str, length: float, area: float, f_hz: float, qp: float = inf,
    ends: float = END_FLANGED + END_FREE, air: Air | None = None,
) -> None:  # fmt: skip
    """Put a port between an acoustical node and the still air: `name`, a mass with its loss. Its current is the volume
    velocity outward. `length`, m; `area`, m2: its cross-section; `qp`, 1; `ends`, 1: both end corrections by the
    radius."""
    require_positive(length=length, area=area, frequency=f_hz)
    mass = (air or Air()).density * (length + ends * sqrt(area / pi)) / area
    network.inductor(name, node, "0", mass, 2 * pi * f_hz * mass / qp)


@dataclass(frozen=True)
class Cut:
    """Panels to cut, all alike."""

    name: str  # "top and bottom", "front and back", "sides"
    count: int  # how many
    long: float  # m, their size
    short: float  # m


@dataclass(frozen=True)
class Carcass:
    """A box to build."""

    inner: tuple[float, float, float]  # (width, height, depth) m
    outer: tuple[float, float, float]  # (width, height, depth) m
    gross: float  # m3, inside, before anything is in it
    taken: tuple[tuple[str, float], ...]  # m3, what takes room inside
    net: float  # m3
    panel: float  # m
    cuts: tuple[Cut, ...]


def driver_volume(profile: tuple[tuple[float, float], ...]) -> float:
    """Room that a driver takes behind its mounting face: its profile turned about its axis, as truncated cones.
    `profile`, m; returns m3."""
    return sum(pi * (d1 - d0) * (r0 * r0 + r0 * r1 + r1 * r1) / 3 for (r0, d0), (r1, d1) in pairwise(profile))


def carcass(
    net: float, panel: float, outer: tuple[float | None, float | None, float | None] = (None, None, None),
    driver: float = 0.0, port_area: float = 0.0, port_length: float = 0.0,
) -> Carcass:  # fmt: skip
    """A box of a net volume. `net`, m3: air that has to be left; `panel`, m; `outer`, (width, height, depth) m: outer
    sizes that are fixed; the free ones follow, in `PROPORTIONS` where more than one is; `driver`, m3; `port_area`,
    `port_length`, m2 and m: of all ports together, as they stand in the box: its outer tube is taken as a tenth larger
    in area."""
    require_positive(**{"net volume": net, "panel": panel})
    for name, value in (("room of the driver", driver), ("area of the ports", port_area), ("length", port_length)):
        if not (isfinite(value) and value >= 0):
            raise InputError(name, value, "a finite number, 0 or more")
    taken = [("driver", driver), ("port", 1.1 * port_area * port_length)]
    gross = net + sum(v for _, v in taken)
    taken.append(("bracing", gross * _BRACE_SHARE / (1 - _BRACE_SHARE)))
    width, height, depth = _inside(net + sum(v for _, v in taken), panel, outer)
    gross = width * height * depth  # three fixed sizes may hold a little more or less
    out = (width + 2 * panel, height + 2 * panel, depth + 2 * panel)
    cuts = (
        Cut("top and bottom", 2, max(out[0], out[2]), min(out[0], out[2])),
        Cut("front and back", 2, max(out[0], height), min(out[0], height)),
        Cut("sides", 2, max(depth, height), min(depth, height)),
    )
    kept = tuple((name, v) for name, v in taken if v > 0)
    return Carcass((width, height, depth), out, gross, kept, gross - sum(v for _, v in kept), panel, cuts)


def _inside(gross: float, panel: float, outer: tuple[float | None, ...]) -> tuple[float, float, float]:
    for name, size in zip(_NAMES, outer, strict=True):
        if size is not None and not (isfinite(size) and size > 2 * panel):
            raise InputError(f"outer {name} of the box", f"{size:g} m", f"more than two panels, {2 * panel:g} m")
    inner = [None if size is None else size - 2 * panel for size in outer]
    free = inner.count(None)
    scale = gross / prod(PROPORTIONS[k] if n is None else n for k, n in enumerate(inner))
    if not free and abs(1 / scale - 1) > 1e-3:
        raise InputError(
            "outer sizes of the box",
            f"{gross / scale * 1e3:.1f} L inside",
            f"{gross * 1e3:.1f} L, or leave one size out",
        )
    side = scale ** (1 / max(free, 1))
    width, height, depth = (side * PROPORTIONS[k] if n is None else n for k, n in enumerate(inner))
    return width, height, depth


def fits_inside(box: Carcass, frame: float, depth: float, port_length: float = 0.0, hole: float = 0.0) -> Check:
    """Whether a driver, on whichever face suits it best, and a straight port go into a box. `box`, m; `frame`, m:
    diameter of the driver's frame; `depth`, m; `port_length`, m: of each port, along the longest way inside; 0 for
    none; `hole`, m: cutout of the driver, which passes between the walls; 0 where it is not known: the frame is
    taken."""
    through = hole or frame
    faces = {}
    for k, name in enumerate(("side", "top", "front")):
        rooms = {
            "frame": min(size for j, size in enumerate(box.outer) if j != k) - frame,
            "basket": min(size for j, size in enumerate(box.inner) if j != k) - through,
            "depth": box.inner[k] - depth - _BEHIND_M,
        }
        what = min(rooms, key=lambda one: rooms[one])
        faces[name] = (rooms[what], what)
    best = max(faces, key=lambda name: faces[name][0])
    gap, what = faces[best]
    if port_length and (port := max(box.inner) - port_length - _BEHIND_M) < gap:
        gap, what = port, "port"
    words = {
        "frame": "The driver's frame is {d} too wide for the best face, the {face}",
        "basket": "On the best face, the {face}, the driver is {d} too wide to pass between the walls",
        "depth": "On the best face, the {face}, the magnet comes {d} too near to the other side",
        "port": "A straight port is {d} too long: bend it, or make the box longer",
    }
    ok = gap >= 0
    title = "On the {face} the driver goes in with {d} to spare" if ok else words[what]
    inner = zip(_NAMES, box.inner, strict=True)
    passes = "what passes between the walls: the " + ("cutout" if hole else "frame")
    return Check(
        "sound.carcass", "ok" if ok else "caution",
        Message(title, (("d", abs(gap) * 1e3, "mm"), ("face", best, ""))), gap * 1e3, 0.0, "mm",
        remedy=None if ok else Message("Fix another outer size, or leave more of them free"),
        working=(
            *(CalculationLine(name[0], f"inner {name}", size * 1e3, "mm", "the box") for name, size in inner),
            CalculationLine("c", passes, through * 1e3, "mm"),
            CalculationLine("m", "air kept behind magnet and port", _BEHIND_M * 1e3, "mm", PRACTICE),
        ),
        sources=(PRACTICE,), part=what,
    )  # fmt: skip
