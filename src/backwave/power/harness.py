"""The harness as a graph: devices with pins, wires between pins, and what each wire is for.

A pin's full name is "device.pin".  Lengths in m, cross sections in mm2.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from difflib import get_close_matches
from math import inf, isfinite
from typing import Literal

from backwave.errors import InputError
from backwave.notation.crossover import Branch, CrossoverPart, Group
from backwave.notation.wire_color import WireColor

MAX_CONTACTS = 1000
Kind = Literal["source", "splice", "crossover", "part", "connector", "speaker", "supply"]


class PlugConflictError(InputError):
    """Plugs of several paths that cannot all be as they are said to be."""


class UnknownPinError(InputError):
    """Wires at pins that are none: all of them at once, each with the nearest pin there is."""

    def __init__(self, wrong: Sequence[tuple[str, str]], pins: tuple[str, ...]) -> None:
        said = (f"{pin} (nearest: {', '.join(get_close_matches(pin, pins, 2, 0.3)) or 'none'})" for _, pin in wrong)
        super().__init__(f"pins of {', '.join(sorted({w for w, _ in wrong}))}", "; ".join(said), "pins there are")
        self.args = (wrong, pins)  # what makes it again in another process
        self.pins = pins


@dataclass(frozen=True)
class Device:
    """Something that wires end at."""

    id: str  # its name
    # "source", "splice", "crossover" (pins "in+", "in-" and a pair an output), "part" (in line, pins "in" and
    # "out"), "connector" (each contact "1 in" and "1 out"), "speaker" or "supply"
    kind: Kind
    pins: tuple[str, ...]  # names of its pins
    words: str = ""
    hides: tuple[str, ...] = ()  # of a connector: its contacts with a series part inside


@dataclass(frozen=True)
class Wire:
    """A wire between two pins. InputError: A number that is not finite and above 0, or both ends on one pin."""

    id: str  # its name, as on its labels
    from_pin: str  # full names of its pins, "device.pin"
    to_pin: str
    color: WireColor | None = None  # None where nobody said
    length_m: float | None = None  # None where nobody measured
    area_mm2: float | None = None  # cross section
    fuse_a: float | None = None  # the fuse that protects it; None where what feeds it limits the current itself
    stands_a: float | None = None  # what it stands in its place; None works it out for common insulation
    boot: bool = False  # it runs through the boot at a door's hinge
    there: bool = False  # it is in the vehicle already: nothing is cut
    behind_a: float | None = None  # A of the fuses before it, which its own may not be among

    def __post_init__(self) -> None:
        if self.from_pin == self.to_pin:
            raise InputError(f"wire {self.id}", self.to_pin, "two different pins")
        for name in ("length_m", "area_mm2", "fuse_a", "stands_a", "behind_a"):
            value = getattr(self, name)
            if value is not None and not (isfinite(value) and value > 0):
                raise InputError(f"{name} of wire {self.id}", value, "a finite number above 0")


@dataclass(frozen=True)
class Plug:
    """What a factory plug in a path is, as the person found it.

    InputError: one contact for both poles, no contacts, or a hidden part that is no series branch.
    """

    id: str  # its name
    plus: str = "1"  # numbers of the contacts, as molded on it
    minus: str = "2"
    _: KW_ONLY
    carries: Branch | None = None  # A series part hidden in it
    # it sits before the passive parts (the factory wires feed them); else right before the speaker
    before: bool = False
    contacts: int = 2  # how many contacts it has, in how many rows
    rows: int = 1
    at: Literal["+", "-"] = "+"  # the pole whose contact holds that part
    there: bool = False  # the vehicle's own wires feed it
    color_plus: WireColor | None = None  # of those wires, None where nobody said
    color_minus: WireColor | None = None
    area_mm2: float | None = None  # of those wires
    adapter_m: float | None = None  # of the adapter between it and the new terminals
    words: str = ""  # what a person should know of it, "" for nothing

    @property
    def hidden(self) -> str:
        """The contact with the part inside, "" for none."""
        return "" if self.carries is None else self.plus if self.at == "+" else self.minus

    def __post_init__(self) -> None:
        if self.plus == self.minus:
            raise InputError(f"contacts of plug {self.id}", self.plus, "two different contacts")
        numbers = [int(name) for name in (self.plus, self.minus) if name.isdecimal()]
        if max([self.contacts, *numbers]) > MAX_CONTACTS:
            raise InputError(f"contacts of plug {self.id}", max([self.contacts, *numbers]), f"up to {MAX_CONTACTS}")
        if not 1 <= self.rows <= self.contacts:
            raise InputError(f"rows of plug {self.id}", self.rows, f"1 to {self.contacts}")
        if self.carries is not None and self.carries.place != "series":
            raise InputError(f"what plug {self.id} carries", str(self.carries), 'a series part: "series C 4.7 uF"')


@dataclass(frozen=True)
class PathSpec:
    """One output to one speaker."""

    source: str  # device the signal comes from
    # the output, one pair of terminals: with the side in it where a channel has one a side ("front left")
    channel: str
    speaker: str
    place: str  # opening or box it sits in
    side: Literal["left", "right", ""] = ""
    _: KW_ONLY
    kind: str = "woofer"  # "woofer", "tweeter", ...: names the crossover's output; a tweeter has to be protected
    network: tuple[Branch, ...] = ()  # passive parts from source to speaker
    protected: bool = False  # an active high-pass stands before it that keeps a tweeter whole by itself
    most_farad: float = inf  # a capacitor above this does not keep the bass out of a tweeter
    polarity: int = 1  # -1 reverses it on purpose, at the speaker
    plug: Plug | None = None  # the factory plug that is kept
    boot: bool = False  # the run to it goes through a hinge boot
    area_mm2: float | None = None  # of its wires
    entry: Plug | None = None  # another that is kept, before the passive parts, where `plug` sits behind them
    # of its last run: from the output or crossover to the plug, or to the speaker where there is none
    length_m: float | None = None

    @property
    def first_plug(self) -> Plug | None:
        """The plug before the passive parts."""
        return self.entry or (self.plug if self.plug is not None and self.plug.before else None)

    @property
    def last_plug(self) -> Plug | None:
        """The plug right before the speaker."""
        return None if self.plug is None or self.plug.before else self.plug


@dataclass(frozen=True)
class Lead:
    """A supply, ground or turn-on lead, worked out elsewhere."""

    from_device: str  # its two ends; each end a pin of its own
    from_pin: str
    to_device: str
    to_pin: str
    length_m: float | None = None
    area_mm2: float | None = None  # cross section
    fuse_a: float | None = None  # the fuse at its head, and what it stands
    stands_a: float | None = None
    color: WireColor | None = None  # None where nobody said
    behind_a: float | None = None  # A of the fuses before it
    turn_on: Literal["lead", "signal", "none"] = "lead"  # what turns on the device that a supply lead feeds


@dataclass(frozen=True)
class Route:
    """A path as it should run through the harness."""

    path: PathSpec
    speaker: str  # id of the speaker's device, with pins "+" and "-"
    # what the leg from the source's plus (minus) passes, source to speaker: a part's id, a crossover's output with
    # its pole ("crossover-left.woofer+"), or a plug's contact with a part inside ("plug.1")
    plus: tuple[str, ...]
    minus: tuple[str, ...]
    blocks: frozenset[str]  # those of them that no direct current passes

    def source_pin(self, pole: str) -> str:
        """Full name of the source's pin."""
        return f"{self.path.source}.{self.path.channel}{pole}"


@dataclass(frozen=True)
class Harness:
    """Devices, wires, and what they are for.

    InputError: an id or pin twice; UnknownPinError: wires at pins that are none: all of those at once, with the
    nearest that is one.
    """

    devices: tuple[Device, ...]  # sources first, speakers last
    wires: tuple[Wire, ...]  # in the order of the paths
    routes: tuple[Route, ...]  # one a path
    leads: tuple[Lead, ...] = ()  # supply, ground and turn-on

    def __post_init__(self) -> None:
        pins = self.pins()
        for what, names in (("pin", pins), ("device", [d.id for d in self.devices]), ("wire", [w.id for w in self.wires])):  # fmt: skip
            twice = [name for name, n in Counter(names).items() if n > 1]
            if twice:
                raise InputError(f"{what} named twice", ", ".join(twice), "names used once")
        known = frozenset(pins)
        wrong = [(w.id, p) for w in self.wires for p in (w.from_pin, w.to_pin) if p not in known]
        if wrong:
            raise UnknownPinError(wrong, pins)

    def pins(self) -> tuple[str, ...]:
        """Full names of all pins, in the order of the devices."""
        return tuple(f"{d.id}.{p}" for d in self.devices for p in d.pins)


def series_farad(branch: Branch) -> float:
    """Capacitance of a branch in line, F: capacitors add side by side, their inverses in a row; inf where direct current passes."""

    def farad(what: CrossoverPart | Group) -> float:
        if isinstance(what, CrossoverPart):
            return what.value if what.kind == "C" else inf
        each = [farad(p) for p in what.parts]
        if what.how == "parallel":
            return sum(each)
        inverse = sum(1 / one for one in each)
        return 1 / inverse if inverse else inf

    return farad(branch.what) if branch.place == "series" else inf


def blocks_bass(branch: Branch, most_farad: float = inf) -> bool:
    """Whether a branch is in line and passes no direct current, with a capacitance of at most `most_farad`.

    `most_farad`, F: above it a capacitor does not count.
    """
    farad = series_farad(branch)
    return farad < inf and farad <= most_farad
