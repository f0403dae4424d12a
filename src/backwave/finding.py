"""The outcome of one check, before and after anyone knows whose it is.

A room returns `Check`s and does not know what they are about; `assess` adds the subject and makes `Finding`s
(`fit.glass@front-door.left`).  Titles and remedies are templates with quantities in them; only faces format.
All codes stand in `CODES`.  What nobody gave is noted where a default is used (`Ledger`).  Ground floor: pure values."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from math import floor
from typing import Literal, overload

from backwave.errors import InputError
from backwave.notation.measures import wire_size
from backwave.units import convert, show

Verdict = Literal["ok", "caution", "stop"]
PRACTICE = "common trade practice"  # the source of what is done so in the trade and nobody published
VERDICTS: tuple[Verdict, ...] = ("ok", "caution", "stop")

CODES: dict[str, str] = {
    # fit: does it clear
    "fit.glass": "room between the driver's back and the glass or what moves with it",
    "fit.behind": "room between the driver's back and fixed metal, looms or the carrier",
    "fit.grille": "room between the cone at its mechanical limit and the grille",
    "fit.hole": "room between the driver and the edge of the hole in the metal",
    "fit.terminals": "room between the driver's terminals and what is behind, at the chosen turn",
    "fit.screw-tails": "room between screw tails behind the skin and what is behind",
    "fit.vent": "free air behind a pole vent",
    "fit.window": "stand-offs at which glass and grille both keep their margins",
    "fit.coverage": "directions and window states in which nothing was measured behind the face",
    "fit.reach": "how far out the readings behind the face go",
    "fit.assumed": "a number that nobody entered, and what a clearance comes to at all that it may be",
    "fit.read-once": "the tightest clearance rests on a single reading",
    "fit.read-again": "the one reading whose repetition would make the answer certain",
    "fit.stand-in": "what the dummy touched, or did not",
    "fit.seat": "a seat that is tilted or offset",
    "fit.mirrored": "the second side has no reading of its own",
    # fit: holes, foam, fixings
    "fit.clocking": "least distance between the driver's holes and the factory's fixings, at the best turn",
    "fit.terminals-side": "where the terminals end up",
    "fit.flat": "what stands before the metal, and the moving cone, against the flat of the trim",
    "fit.foam-ring": "compression, slenderness and closing force of the front ring",
    "fit.foam-back": "compression of the back gasket",
    "fit.choice": "thread, gasket or turn that was taken because the usual one leaves a stop",
    "fit.flange": "how far the back gasket lifts the flange between its fixings",
    "fit.play": "how far off the axis the driver may end up by the play of its bolts",
    "fit.total-height": "height over all against the factory unit",
    "fit.fixing": "load on each fixing at a door slam against what it holds",
    "fit.screw": "screw length and thread engagement",
    "fit.hold": "load on each of the driver's threads at a door slam against what the part holds them by",
    "fit.bearing": "pressure under screw heads against what the part bears for years in the heat",
    "fit.tightening": "how tight screws go",
    # mount: does the driver go into the part, and the part onto the metal
    "mount.way-in": "room for the driver's back on its way into the part",
    "mount.bore": "room for the driver's back where it sits in the part",
    "mount.terminals": "room for the terminals in the part, on the way in and in place",
    "mount.seat": "what the driver's frame lies on, and what it lies within",
    "mount.frame": "the driver's holes against its frame and its cutout",
    "mount.held": "what holds a driver that has no screw holes",
    "mount.flange": "how far the flange lies on metal round the hole",
    "mount.gasket": "whether the back gasket's groove lies on metal and within the flange",
    "mount.lip": "room for a lip round the hole",
    "mount.collar": "whether the foam's collar stands on the flange, whole and within the trim's flat",
    "mount.spigot": "the spigot in the hole, and what is behind it",
    "mount.place": "one speaker to an opening, and flanges beside each other",
    # part
    "part.ligament": "least material between two holes, or a hole and an edge, in plan",
    "part.insert-wall": "material round a threaded insert",
    "part.engagement": "material under a thread",
    "part.head": "screw heads against the land they must stay below",
    "part.spigot": "a spigot too thin to keep",
    "part.bed": "the part against the printer's bed",
    "part.print": "how the part prints: walls, overhangs",
    "part.heat": "the material against the heat of its zone",
    "part.water": "the material against the wet side of the door",
    "part.laser": "a sheet that must not be laser cut",
    "part.sheet": "layers of sheet stock that add up to the height",
    "part.solid": "the solid: closed, one body, positive volume",
    "part.wall": "least wall measured on the solid",
    "part.build": "a feature the solid kernel could not make",
    "part.read-back": "a written file read back and compared",
    # sound
    "sound.data": "a driver or source that lacks what a prediction needs",
    "sound.place": "where in the cabin something plays",
    "sound.parameters": "parameters of a driver that disagree",
    "sound.measured": "a measured curve that cannot be used",
    "sound.load": "the load on an output against the least it is rated for",
    "sound.clip": "the output's clipping against the level asked",
    "sound.excursion": "the cone's excursion at the level asked against what stays linear",
    "sound.tweeter": "what keeps the bass out of a tweeter",
    "sound.polarity": "whether a path cancels the others where it meets them",
    "sound.box": "the peak of a closed box",
    "sound.port": "speed of the air in a port",
    "sound.carcass": "whether driver and port go into a box",
    "sound.part-stress": "what a part of a network has to stand against what such parts are rated for",
    # power
    "power.load": "a load whose current nobody can tell",
    "power.budget": "what loads and vehicle draw against what the alternator gives",
    "power.reserve": "listening with the engine off",
    "power.sag": "voltage at a load during a peak, and what it costs in power",
    "power.cable": "the size of a cable against its drop, its heat and its fuse",
    "power.protection": "a conductor's temperature behind the fuses that are fitted before it",
    "power.cable-test": "what was measured on a cable against its size",
    "power.supply-test": "what the finished supply reads, and that the main fuse went in last",
    "power.ground-fuse": "a fuse in an amplifier's ground lead",
    "power.rating": "a load's rating against its own fuses",
    "power.tap": "a small load straight on the battery",
    "power.length": "a length of cable nobody measured",
    "power.clad": "a conductor of copper-clad aluminum",
    "power.fuse": "the rating of a fuse against what it carries",
    "power.fuse-breaking": "what a fuse breaks against what a short draws",
    "power.fuse-peak": "peaks against what a fuse lets through",
    "power.fuse-place": "how far from the battery the main fuse sits",
    "power.ground": "the ground point and its cable",
    "power.noise": "what keeps noise out: one ground, separate runs, turn-on lead",
    "power.channel": "the load on an amplifier's channel",
    "power.speaker-cable": "what a speaker cable loses",
    "power.gain": "setting a gain with a voltmeter",
    "power.voltage": "the supply that a device stands against what feeds it",
    "power.source": "a second battery or a converter: its fuses, its charge, where it sits",
    "power.precharge": "charging and discharging a bank of capacitors through a resistor",
    "power.hinge": "a supply cable through a hinge",
    "power.signal": "the signal's way from an output to an amplifier's input",
    "power.whine": "noise with the engine running",
    "power.sleep": "what the vehicle draws asleep, before and after the work",
    # job
    "job.trade-size": "a trade size where a measurement is meant",
    "job.not-used": "a key that nothing computes with yet",
    "job.missing": "a number that has to be measured before this can be judged",
    # safety
    "safe.door": "airbags and pressure sensors in doors",
    "safe.drilling": "drilling and cutting near glass",
    "safe.fumes": "print and solvent fumes",
    "safe.water": "vapor barrier and drains",
    "safe.battery": "disconnecting the battery; gas, shorts, lithium",
    "safe.airbag": "airbag and belt connectors near the wires",
    "safe.high-voltage": "orange cable",
    "safe.tapping": "self-tapping screws near tanks, lines and looms",
    "safe.hearing": "loud tones at gain setting",
    # measure
    "measure.clipped": "a recording whose loudest parts are cut off",
    "measure.gain": "the level of the same sound at the beginning and at the end of a recording",
    "measure.dropout": "pieces missing from a recording",
    "measure.clock": "the recorder's clock against the player's",
    "measure.channels": "which channels a recording has, and whether left and right were told apart",
    "measure.band": "a recording that ends at a frequency below the sweep's",
    "measure.noise": "signal over noise, by band",
    "measure.silent": "an output that did not sound",
    "measure.polarity": "polarity of an output, or of one against another",
    "measure.reading": "a reading that cannot be used, or belongs to no stage",
    "measure.promise": "how a band changed against what was predicted",
    "measure.distortion": "harmonics: where a loudspeaker breaks up",
    "measure.rattle": "sound that is not harmonically related to the drive",
    "measure.unmoved": "what a reading cannot tell of the prediction",
    "measure.headroom": "boost that excursion and headroom leave no room for",
    "measure.tuned": "what the settings promised against a new reading",
    "measure.null": "a dip that no bounded boost can fill",
    "measure.impedance": "an impedance curve and the parameters fitted to it",
    "safe.first-sound": "the first sound on a channel nobody has identified",
    "safe.jig": "where an impedance may be measured",
    # wires
    "wire.pin": "a contact with more than one wire",
    "wire.open": "a pin, terminal or lead that nothing reaches",
    "wire.short": "outputs that are joined",
    "wire.poles": "whether both poles of a driver are on one output",
    "wire.polarity": "polarity along a path",
    "wire.channel": "the output a driver is on against the one its path says",
    "wire.sides": "left and right crossed",
    "wire.crossover": "input and outputs of a crossover",
    "wire.tweeter": "a tweeter's protection in its path",
    "wire.hidden": "a series part hidden in a plug",
    "wire.thin": "a wire against its fuse",
    "wire.plan": "a supply or ground lead against the size of the plan",
    "wire.fuse": "a fuse of the plan that a lead has not",
    "wire.color": "colors of wires that mean danger, or that tell no two apart",
    "wire.feed": "what a supply, ground or turn-on lead joins",
    "wire.length": "lengths of wire nobody measured",
    "wire.phase": "polarity of one side against the other, from the factory output to the driver",
    "wire.plug": "what a factory plug carries, contact by contact",
    "wire.boot": "new wires through the boot at a door's hinge",
    "wire.reach": "a factory lead at the new height",
    "wire.pair": "what the readings of a factory pair allow to say",
    "wire.live": "readings on live factory outputs stand behind their gate",
    # the factory system
    "wire.sum": "factory outputs that carry bands to be summed, and their phase",
    "wire.bass-cut": "a factory output that takes bass away as the volume rises",
    "wire.load-resistor": "load detection, and the resistor that satisfies it",
    "wire.input": "a factory output against the input it drives",
    "wire.offset": "direct current on a factory output",
    "wire.turn-on": "what turns the amplifier on",
    "wire.microphones": "noise cancelling with microphones",
    "wire.keep": "what must still sound at hand-over",
    "wire.loud": "what a driver of another rated load does to the level",
    # the work as it goes
    "work.uneven": "fasteners and clips that came out against those that went back in",
    "work.early": "a task ticked before what it waits for",
    "work.disagree": "two people who said different things of one thing",
    "work.photo": "a picture named in the log that is not in the job folder",
    "work.gone": "a change of a task that is not on the list any more",
    "work.torn": "a row of the log that a crash cut off",
}


Quantities = tuple[tuple[str, float | str, str], ...]  # name in a template, value, unit


@dataclass(frozen=True)
class Message:
    """Words with quantities in them: a template such as "clears by {gap}" and what stands in its places."""

    template: str  # text with `{name}` places; `{name:0}` shows a number with so many decimals in metric units
    # unit as given, numbers with the unit they are in ("mm"), formatted by the face that shows them; a value may
    # also be plain text, with unit ""
    quantities: Quantities = ()


@dataclass(frozen=True)
class _Shown:
    """A number on its way into a template, which may say how many decimals it wants."""

    value: float
    unit: str
    system: str

    def __format__(self, places: str) -> str:
        return show(self.value, self.unit, self.system, int(places) if places else None)


@overload
def words(text: Message, system: str = "metric") -> str: ...
@overload
def words(text: Message | None, system: str = "metric") -> str | None: ...
def words(text: Message | None, system: str = "metric") -> str | None:
    """A template with its quantities filled in, in the system a person reads in; None stays None."""
    if text is None:
        return None
    return text.template.format(
        **{
            n: wire_size(v, system) if unit == "size" else v if isinstance(v, str) else _Shown(v, unit, system)
            for n, v, unit in text.quantities
        }
    )


@dataclass(frozen=True)
class CalculationLine:
    """One line of a working."""

    symbol: str  # the symbol used in the formula, and what it stands for (or the formula itself)
    meaning: str
    value: float | None  # unit as given, the number that went in or came out
    unit: str
    source: str = ""  # the reading, table row or published formula it is from


@dataclass(frozen=True)
class Check:
    """What one check found."""

    code: str
    verdict: Verdict  # `stop` is for harm or a part that cannot be used
    title: Message  # what was found, in a sentence a fitter would say
    value: float | None = None  # in `unit`, the number judged, and what it was judged against
    limit: float | None = None  # in `unit`
    unit: str = ""  # unit of value, limit, low and high
    chance: float | None = None
    low: float | None = None  # in `unit`, its 2.5 and 97.5 % points where it is uncertain
    high: float | None = None  # in `unit`
    remedy: Message | None = None  # what to change, or what to read again; never None at `stop`
    working: tuple[CalculationLine, ...] = ()  # every number that went in
    sources: tuple[str, ...] = ()  # published sources, or PRACTICE
    key: str = ""  # the job key that answers it, relative to the subject, or ""
    part: str = ""  # tells apart several checks of one code on one subject ("fixing-2"); "" where there is one
    tries: tuple[tuple[str, str], ...] = ()  # changes of the part's table that may lift it: key and what to write there
    waits: tuple[str, ...] = ()  # findings ("fit.assumed.front") to be answered before this is more than a caution

    @property
    def name(self) -> str:
        """Code and part: "fit.assumed.front"."""
        return f"{self.code}.{self.part}" if self.part else self.code

    def __post_init__(self) -> None:
        if self.code not in CODES:
            raise InputError("check code", self.code, "one of backwave.finding.CODES")
        if self.verdict == "stop" and self.remedy is None:
            raise InputError(f"{self.code}: a stop", "no remedy", "a remedy that says what to change")


# codes whose value is room in millimeters, the more the safer: no hand measures it to a tenth
ROOM = ("fit.glass", "fit.behind", "fit.grille", "fit.hole", "fit.terminals", "fit.screw-tails", "fit.vent", "fit.flat",
        "fit.clocking", "fit.assumed", "mount.")  # fmt: skip


def verdict_line(check: Check, system: str = "metric") -> str:
    """A check's title as verdicts are read: room in steps of 0.5 mm or 0.02 in; Why and JSON have the exact number."""
    title, room = check.title, _in_steps(check, system)
    if room:
        value = check.value or 0.0
        as_said = {-value: room.lstrip("-"), value: room}  # "too wide by 8" of -8; what is told as -8 keeps its sign
        shown = tuple(
            (n, as_said[v], "") if not isinstance(v, str) and unit == "mm" and v in as_said else (n, v, unit)
            for n, v, unit in title.quantities
        )
        title = replace(title, quantities=shown)
    return words(title, system)


def sentences(check: Check, system: str = "metric") -> str:
    """What was found and what to do, each as a sentence."""
    texts = (words(check.title, system), words(check.remedy, system))
    return " ".join(f"{text.rstrip('.')}." for text in texts if text)


def figures(check: Check, system: str = "metric") -> tuple[str, str, str]:
    """A verdict line's value, its 95 % ends and its limit, each "" where there is none; room stands in steps."""
    value, limit = ("" if v is None else show(v, check.unit, system) for v in (check.value, check.limit))
    if room := _in_steps(check, system):
        return room, "", limit
    if check.low is None or check.high is None:
        return value, "", limit
    return value, " … ".join(show(v, check.unit, system, bare=True) for v in (check.low, check.high)), limit


def _in_steps(check: Check, system: str) -> str:
    """Room rounded down to the step, but never across its limit; "" for any other check."""
    if check.value is None or check.unit != "mm" or not check.code.startswith(ROOM):
        return ""
    unit, step, places = ("in", 0.02, 2) if system == "us" else ("mm", 0.5, 1)
    value = convert(check.value, "mm", unit)
    down, least = step * floor(value / step + 1e-6), step
    if check.limit is not None:
        limit = float(show(check.limit, "mm", system, bare=True))  # as it stands beside the value
        if check.value < check.limit:
            down, least = down if down < limit else down - step, min(step, limit)
        elif down < limit:
            down, places = limit, places if unit == "mm" else 3
    if abs(down) < 1e-9:
        return f"under {least:g} {unit}" if value > 0.0 else f"{0.0:.{places}f} {unit}"
    return f"{down:.{places}f} {unit}"


def check_of(
    code: str,
    verdict: Verdict,
    title: str,
    remedy: str = "",
    quantities: Quantities = (),
    value: tuple[float | None, float | None, str] = (None, None, ""),
    working: tuple[CalculationLine, ...] = (),
    sources: tuple[str, ...] = (PRACTICE,),
    key: str = "",
    part: str = "",
) -> Check:
    """A check whose title and remedy ("" for none) share their quantities. `value`: what was judged, its limit, and the
    unit of both."""
    number, limit, unit = value
    do = Message(remedy, quantities) if remedy else None
    return Check(
        code, verdict, Message(title, quantities), number, limit, unit, remedy=do, working=working, sources=sources, key=key, part=part,
    )  # fmt: skip


@dataclass(frozen=True)
class Finding:
    """A check with its subject."""

    check: Check
    subject: str  # whose it is: "front-door.left", "vehicle"

    @property
    def id(self) -> str:
        """Stable name: `code@subject`, with the check's part between where there are several."""
        return f"{self.check.name}@{self.subject}"

    @property
    def topic(self) -> str:
        """The first word of the code: "fit", "part", "job", "safe"."""
        return self.check.code.partition(".")[0]


def worst(verdicts: list[Verdict]) -> Verdict:
    """The worst of several verdicts; `ok` for none."""
    return max(verdicts, key=VERDICTS.index, default="ok")


# A chance counts what may go wrong as it was stated, and knows nothing of a slip of the hand: more than one in a hundred.
MAX_CHANCE = 0.99  # common trade practice
_CHANCE_WORDS = ((0.95, "sure"), (0.6, "likely"), (0.4, "even"))


def in_a_word(chance_share: float) -> str:
    """sure, likely, even or unlikely."""
    return next((word for least, word in _CHANCE_WORDS if chance_share >= least), "unlikely")


def capped(chance_share: float) -> float:
    """The chance, `MAX_CHANCE` at most."""
    return min(chance_share, MAX_CHANCE)


def percent(chance_share: float) -> str:
    """The number in whole percent, for who asks why."""
    return "99 % or more" if chance_share >= MAX_CHANCE else f"{100.0 * chance_share:.0f} %"


@dataclass(frozen=True)
class Assumed:
    """A value nobody gave, and what was taken for it."""

    key: str  # what was not given: its key in the job, or as its owner names it ("feed.insulation")
    # `unit`, what was taken; a Text where words stand with the number, or where there are several ("{value} ±
    # {half}")
    value: float | str | Message
    unit: str
    why: str
    places: int | None = None  # decimals of the metric display; None shows up to six figures


@dataclass
class Ledger:
    """What was assumed on the way, each thing once."""

    assumed: dict[str, Assumed] = field(default_factory=dict)

    def note(self, key: str, value: float | str | Message, unit: str, why: str, places: int | None = None) -> None:
        """Note a default that was used."""
        self.take([Assumed(key, value, unit, why, places)])

    def take(self, others: Iterable[Assumed], owner: str = "") -> None:
        """Note what a room assumed, or all that another ledger holds."""
        for one in others:
            self.assumed.setdefault(owner + one.key, replace(one, key=owner + one.key) if owner else one)


def value_words(one: Assumed, system: str | None = None) -> str:
    """What was taken, as a text."""
    if isinstance(one.value, str):
        return one.value
    if isinstance(one.value, Message):
        return words(one.value, system or "metric")
    plain = f"{one.value:g}" if one.places is None else f"{one.value:.{one.places}f}"
    if system is None or "e" in plain:
        return f"{plain} {one.unit}".strip()
    return show(one.value, one.unit, system, len(plain.partition(".")[2]))
