"""The harness as a graph: devices with pins, wires between pins, what each wire is for; and the lists a person works from.

A pin's full name is "device.pin".  Lengths in m, cross sections in mm2.  Allowances are common trade practice: 50 mm at
each end to strip, crimp and do over once, 100 mm more through a hinge boot.  A lead that reached the factory unit reaches
the new terminals, in the worst direction, by what they moved (triangle inequality)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from difflib import get_close_matches
from math import hypot, inf, isfinite
from typing import Literal

from backwave.errors import InputError, check_number
from backwave.notation.crossover import Branch, CrossoverPart, Group
from backwave.notation.wires import WireColor
from backwave.power.cable import GUESS_M

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
            check_number(f"{name} of wire {self.id}", getattr(self, name))


@dataclass(frozen=True)
class Plug:
    """What a factory plug in a path is, as the person found it. InputError: one contact for both poles, no contacts, or
    a hidden part that is no series branch."""

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
    """Devices, wires, and what they are for. InputError: an id or pin twice; UnknownPinError: wires at pins that are
    none: all of those at once, with the nearest that is one."""

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
    `most_farad`, F: above it a capacitor does not count."""
    farad = series_farad(branch)
    return farad < inf and farad <= most_farad


END_M = 0.05  # kept at each end of a wire (common trade practice)
BOOT_M = 0.10  # kept more where a wire runs through a hinge boot (common trade practice)


@dataclass(frozen=True)
class ScheduleRow:
    """A wire on the schedule."""

    id: str
    from_pin: str
    to_pin: str
    color: str  # letters and words, "" where nobody said
    color_words: str
    length_m: float  # its length, or what is taken for it
    guessed: bool  # nobody measured it
    area_mm2: float | None  # cross section
    fuse_a: float | None
    boot: bool  # through a hinge boot
    there: bool = False  # in the vehicle already


@dataclass(frozen=True)
class CutRow:
    """All wires to be cut from one reel."""

    color: str  # letters, "" where nobody said
    area_mm2: float | None  # cross section
    cuts: tuple[tuple[str, float], ...]  # no unit and m, each wire with its allowance, longest first
    total_m: float  # their sum
    guessed: bool  # A length in it was never measured: do not cut yet


@dataclass(frozen=True)
class LabelRow:
    """A label for one end of a wire."""

    wire: str  # the wire, the pin this end goes to, and the pin at the other end
    here: str
    there: str


@dataclass(frozen=True)
class Contact:
    """A contact of a plug with what is on either side of it."""

    number: str  # as molded on the plug
    carries: str  # "amp front left +"
    wire_in: str  # wires, "" where there is none
    wire_out: str
    color_in: str  # their colors, "" where nobody said
    color_out: str
    hides: str  # the part hidden in it, "" for none; on a plug that is kept with "(bridged)" where it is

    @property
    def words(self) -> str:
        """What it carries, its wires, what it hides."""
        said = [self.carries, f"factory wire {self.color_in or 'of a color nobody read'}"]
        said += [f"to {self.wire_out}" + (f", {self.color_out}" if self.color_out else "")] if self.wire_out else []
        said += [f"hides {self.hides}"] if self.hides else []
        return "; ".join(said if self.wire_out else [*said, "stays as it is"])


@dataclass(frozen=True)
class Face:
    """A connector's face."""

    id: str  # its name
    contacts: int  # how many contacts in how many rows
    rows: int
    used: tuple[Contact, ...]  # those with wires, in their order


@dataclass(frozen=True)
class LeadReach:
    """A lead at a new height."""

    needed_m: float  # what it has to be to reach in the worst direction
    short_m: float  # by how much what is there falls short; 0 where it reaches
    adapter_m: float  # an adapter lead that makes up for it, with both ends' allowance; 0 where none is needed


def schedule(harness: Harness) -> tuple[ScheduleRow, ...]:
    """Every wire, in the harness's order."""
    rows = []
    for w in harness.wires:
        code, words = ("", "") if w.color is None else (w.color.code, w.color.words)
        length, guessed = w.length_m or GUESS_M, w.length_m is None
        row = (w.id, w.from_pin, w.to_pin, code, words, length, guessed, w.area_mm2, w.fuse_a, w.boot, w.there)
        rows.append(ScheduleRow(*row))
    return tuple(rows)


def cut_list(harness: Harness, end_m: float = END_M, boot_m: float = BOOT_M) -> tuple[CutRow, ...]:
    """Wires by color and size, each with its allowance; largest size first. What is there already is not cut. `boot_m`:
    kept more through a hinge boot, 0 or more; InputError: an allowance below 0."""
    check_number("allowance at each end, m", end_m, 0)
    check_number("allowance through a boot, m", boot_m, 0)
    reels: dict[tuple[str, float | None], list[ScheduleRow]] = {}
    for row in schedule(harness):
        if not row.there:
            reels.setdefault((row.color, row.area_mm2), []).append(row)
    found = []
    for (color, area), rows in sorted(reels.items(), key=lambda r: (-(r[0][1] or 0.0), r[0][0])):
        cuts = sorted(((r.id, r.length_m + 2 * end_m + boot_m * r.boot) for r in rows), key=lambda c: -c[1])
        found.append(CutRow(color, area, tuple(cuts), sum(c[1] for c in cuts), any(r.guessed for r in rows)))
    return tuple(found)


def labels(harness: Harness) -> tuple[LabelRow, ...]:
    """Two labels a wire, its two ends after each other."""
    return tuple(
        LabelRow(w.id, here, there)
        for w in harness.wires
        for here, there in ((w.from_pin, w.to_pin), (w.to_pin, w.from_pin))
    )


def faces(harness: Harness) -> tuple[Face, ...]:
    """Every plug with what its contacts carry."""
    ends: dict[str, Wire] = {pin: w for w in harness.wires for pin in (w.from_pin, w.to_pin)}
    plugs: dict[str, tuple[Plug, list[Contact]]] = {}
    for route, plug in ((r, p) for r in harness.routes for p in (r.path.first_plug, r.path.last_plug) if p):
        known = plugs.setdefault(plug.id, (plug, []))[1]
        for pole, number in (("+", plug.plus), ("-", plug.minus)):
            if any(c.number == number for c in known):
                continue
            first, last = (ends.get(f"{plug.id}.{number} {end}") for end in ("in", "out"))
            wires = [(w.id, w.color.code if w.color else "") if w else ("", "") for w in (first, last)]
            (wire_in, color_in), (wire_out, color_out) = wires
            hides = str(plug.carries) if number == plug.hidden else ""
            carries = f"{route.path.source} {route.path.channel} {pole}"
            known.append(Contact(number, carries, wire_in, wire_out, color_in, color_out, hides))
    found = []
    for name, (plug, used) in plugs.items():
        highest = max((int(c.number) for c in used if c.number.isdecimal()), default=1)
        found.append(Face(name, max(plug.contacts, len(used), highest), plug.rows, tuple(used)))
    return tuple(found)


def lead_reach(
    lead_m: float, out_mm: float, across_mm: float = 0.0, slack_mm: float = 0.0, end_m: float = END_M
) -> LeadReach:
    """Whether a factory lead still reaches when the terminals move. `out_mm`: by how much the terminals move out of the
    metal (or into it), with the new part's height; `slack_mm`: slack the lead had at the factory unit, 0 or more;
    InputError: A number outside its range."""
    check_number("lead, m", lead_m)
    check_number("slack, mm", slack_mm, 0)
    moved = hypot(out_mm, across_mm)
    if not isfinite(moved):
        raise InputError("move of the terminals, mm", moved, "a finite number")
    short = max(0.0, moved - slack_mm) / 1e3
    return LeadReach(lead_m + short, short, short + 2 * end_m if short else 0.0)
