"""What the factory system does: a record of each output pair, and what follows from it for the new parts.

    sum of two bands at their crossover, each at the same level there:  20 lg |1 + exp(j phi)| - 20 lg 2
    load resistor:  P = U^2 / R at the loudest that was recorded
    another rated load on the same voltage:  10 lg (R_old / R_new)

Recorded, not guessed: a sweep at two volumes with the volume's own number written down, polarity and offset by meter
or scope.  What was not recorded is asked for.  Not covered: how a processor's delay and all-pass filters are undone
(only an electrical sum and an equalizer can), data buses, head units that pair with one amplifier alone."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import cos, isfinite, log2, log10, radians

import numpy as np

from backwave.errors import InputError, check_number
from backwave.finding import PRACTICE, CalculationLine, Check, Verdict, check_of

E6 = (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)  # IEC 60063, from 1 to 10
# ratings of wire-wound resistors in a metal case (common trade practice)
RATINGS_W = (5.0, 10.0, 25.0, 50.0, 100.0, 200.0)

Levels = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class FactoryPair:
    """What was recorded of one factory output. None is "nobody has looked". InputError: A number outside its range, or
    frequencies that do not rise."""

    id: str  # its name
    group: str = ""  # what it is part of: pairs of one group are bands of one signal ("front left")
    low_hz: float | None = None  # where its band begins and ends
    high_hz: float | None = None
    # A sweep at a low and a high volume, frequencies rising; each against its own reference
    quiet_db: Levels = ()
    loud_db: Levels = ()
    loud_v: float | None = None  # the loudest that comes out, rms, between its two wires
    polarity: int | None = None  # against the group's first pair
    # against the next higher band of its group, at their crossover, both in one take
    phase_deg: float | None = None
    offset_v: float | None = None  # direct current between its two wires
    bridge_tied: bool | None = None  # both wires swing; neither may be grounded
    rated_ohm: float | None = None  # rated load of the factory driver, and of the new one on it
    new_ohm: float | None = None
    detects_load: bool | None = None  # it mutes or sets a fault when the speaker is missing
    keeps_speaker: bool = False  # nothing takes its signal: a speaker stays on it
    # (float, float), least and most that the input it drives takes for full output, rms
    input_v: tuple[float, float] | None = None
    differential: bool | None = None  # that input is differential, or a transformer stands before it

    def __post_init__(self) -> None:
        for name in ("low_hz", "high_hz", "loud_v", "rated_ohm", "new_ohm"):
            check_number(f"{name} of factory output {self.id}", getattr(self, name))
        for name in ("phase_deg", "offset_v"):
            value = getattr(self, name)
            if value is not None and not isfinite(value):
                raise InputError(f"{name} of factory output {self.id}", value, "a finite number")
        if self.input_v is not None and not 0 < self.input_v[0] < self.input_v[1] < float("inf"):
            found = f"{self.input_v[0]:g} to {self.input_v[1]:g}"
            raise InputError(f"input that factory output {self.id} drives, V", found, "above 0, the least first")
        if self.polarity not in (1, -1, None):
            raise InputError(f"polarity of factory output {self.id}", self.polarity, "1 or -1")
        if self.low_hz is not None and self.high_hz is not None and not self.low_hz < self.high_hz:
            raise InputError(f"band of factory output {self.id}, Hz", f"{self.low_hz:g} to {self.high_hz:g}", "rising")
        for levels in (self.quiet_db, self.loud_db):
            f = [hz for hz, _ in levels]
            if not np.isfinite(levels).all() or any(b <= a for a, b in zip((0.0, *f), f)):
                raise InputError(f"levels of factory output {self.id}", f, "finite, at rising frequencies above 0")


@dataclass(frozen=True)
class FactorySystem:
    """The factory system as a whole. InputError: A pair twice, or something that sounds from a pair that is none."""

    pairs: tuple[FactoryPair, ...]  # its outputs
    accessory: bool | None = None  # there is a line that is live only while the system plays
    microphones: bool | None = None  # it cancels noise, or makes engine sound, with microphones in the cabin
    # what has to sound at hand-over (chimes, parking tones, the phone), and the pair it comes from, "" where
    # nobody knows
    must_sound: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        names = [pair.id for pair in self.pairs]
        if len(set(names)) != len(names):
            raise InputError("factory outputs", names, "names used once")
        for what, pair in self.must_sound:
            if pair and pair not in names:
                raise InputError(f"factory output of {what}", pair, ", ".join(names))


@dataclass(frozen=True)
class LoadResistor:
    """A resistor in place of a factory speaker."""

    ohm: float  # ohm, of the E6 series, at or above the rated load
    heat_w: float  # what it turns to heat at the loudest steady tone
    rating_w: float | None  # twice that, of those that are sold; None where none is


def summed_db(phase_deg: float) -> float:
    """What two bands of one level make together at their crossover, against both in phase. Returns dB: 0 in phase,
    -6.02 dB at 120 degrees, minus infinity opposed."""
    share = (1 + cos(radians(phase_deg))) / 2  # |1 + exp(j phi)|^2 / 4
    return 10 * log10(share) if share > 1e-15 else float("-inf")


def load_resistor(rated_ohm: float, loud_v: float) -> LoadResistor:
    """The resistor that keeps load detection quiet. `loud_v`: the loudest that comes out, rms, above 0; InputError: A
    number that is not finite and above 0."""
    check_number("rated load, ohm", rated_ohm)
    check_number("loudest output, V", loud_v)
    decade = 10.0 ** np.floor(np.log10(rated_ohm))
    ohm = float(next(v * decade for v in (*E6, 10.0) if v * decade >= rated_ohm * (1 - 1e-9)))
    heat = loud_v**2 / ohm
    return LoadResistor(ohm, heat, next((w for w in RATINGS_W if w >= 2 * heat), None))


def bass_cut(pair: FactoryPair) -> tuple[float, float] | None:
    """By how much more the lowest octave rises less than the rest when the volume goes up. Returns (Hz, dB): top of the
    octave and what it lacks at the high volume (negative where it gains); None without both sweeps over a band of two
    octaves."""
    if not (pair.quiet_db and pair.loud_db):
        return None
    (fq, q), (fl, loud) = (np.array(levels).T for levels in (pair.quiet_db, pair.loud_db))
    low, high = max(fq[0], fl[0]), min(fq[-1], fl[-1])
    if high < 4 * low:
        return None
    f = np.geomspace(low, high, int(24 * log2(high / low)) + 1)
    rise = np.interp(np.log(f), np.log(fl), loud) - np.interp(np.log(f), np.log(fq), q)
    edge = 2 * low
    return float(edge), float(np.median(rise[f > edge]) - np.mean(rise[f <= edge]))


MAKER = "vehicle maker's service information comes first"
_LIVE = "With every airbag and seat connector closed and the battery on: "
# warmer than a hand likes; offset that is let pass; bass cut and loss in a sum that are heard (all common trade
# practice)
HOT_W, OFFSET_V, CUT_DB, SUM_DB = 5.0, 0.05, 2.0, 1.0


def check_factory(system: FactorySystem, senses: bool = False) -> tuple[Check, ...]:
    """Everything that follows from the record, worst for the speakers first. `senses`: every new amplifier turns itself
    on by the signal."""
    found: list[Check] = []
    for pair in system.pairs:
        if not pair.keeps_speaker:
            found += [*_input(pair), *_detection(pair)]
        found += [*_offset(pair), *_cut(pair), *_loud(pair)]
    for group in dict.fromkeys(p.group for p in system.pairs if p.group):
        found += _sums([p for p in system.pairs if p.group == group])
    return (*found, _turn_on(system, senses), _microphones(system), *(_keep(*one) for one in system.must_sound))


def _check(
    code: str, verdict: Verdict, words: str, remedy: str = "", part: str = "", value: tuple[float | None, float | None, str] = (None, None, ""),
    working: tuple[CalculationLine, ...] = (), **numbers: tuple[float | str, str],
) -> Check:  # fmt: skip
    key = f"factory_output.{numbers['pair'][0]}" if "pair" in numbers else "factory_system"
    quantities = tuple((name, *number) for name, number in numbers.items())
    return check_of(code, verdict, words, remedy, quantities, value, working, (PRACTICE, MAKER), key, part)


def _input(pair: FactoryPair) -> list[Check]:
    found, whose = [], (pair.id, "")
    if pair.bridge_tied and pair.differential is False:
        said = "{pair} is bridge-tied, both wires at half the supply; this input grounds one of them"
        remedy = "A differential input, or a transformer before it"
        found.append(_check("wire.input", "stop", said, remedy, pair.id, pair=whose))
    elif pair.bridge_tied is None or (pair.bridge_tied and pair.differential is None):
        said = "Not entered yet whether {pair} is bridge-tied and the input on it differential"
        remedy = _LIVE + "look for half the supply on both wires"
        found.append(_check("wire.input", "caution", said, remedy, pair.id, pair=whose))
    return [*found, _level(pair)]


def _level(pair: FactoryPair) -> Check:
    whose, part = (pair.id, ""), f"{pair.id} level"
    if pair.loud_v is None:
        said = "No loudest volts entered yet for {pair}"
        remedy = (
            _LIVE
            + "a 1 kHz tone (100 Hz on a bass output), volume at its largest clean step, AC volts between its wires"
        )
        return _check("wire.input", "caution", said, remedy, part, pair=whose)
    if pair.input_v is None:
        said = "Not entered yet what the input that {pair} drives takes for full output"
        return _check(
            "wire.input", "caution", said, "Least and most of its input, from its data sheet", part, pair=whose
        )
    least, most = pair.input_v
    verdict: Verdict = "caution"
    limit = most
    if pair.loud_v > most:
        said = "{pair} gives up to {v}: the input clips from {most}"
        remedy = "A divider of {db} before it, or the input's higher range"
    elif pair.loud_v < least:
        said, limit = "{pair} gives up to {v}: full output needs {least}", least
        remedy = "An input of a lower range; more gain brings noise"
    else:
        verdict, said, remedy = "ok", "{pair} gives up to {v}, within the input's {least} to {most}", ""
    return _check(
        "wire.input", verdict, said, remedy, part, (pair.loud_v, limit, "V"), pair=whose, v=(pair.loud_v, "V"),
        least=(least, "V"), most=(most, "V"), db=(20 * log10(pair.loud_v / most), "dB"),
    )  # fmt: skip


def _detection(pair: FactoryPair) -> list[Check]:
    code, whose = "wire.load-resistor", (pair.id, "")
    if pair.detects_load is False:
        return []
    if pair.detects_load is None:
        said = "Not entered yet whether {pair} mutes when its speaker is missing"
        remedy = (
            "Ignition off, unplug the speaker; close every airbag and seat connector; ignition on, listen to the others"
        )
        return [_check(code, "caution", said, remedy, pair.id, pair=whose)]
    if pair.loud_v is None or pair.rated_ohm is None:
        said = "{pair}: mutes without a load; no rated load or no loudest volts entered yet"
        return [_check(code, "caution", said, "Measure both; the resistor follows from them", pair.id, pair=whose)]
    made = load_resistor(pair.rated_ohm, pair.loud_v)
    working = (
        CalculationLine("U", "loudest, rms", pair.loud_v, "V", "reading"),
        CalculationLine("R", "E6 at or above the rated load (IEC 60063)", made.ohm, "ohm", "rated load"),
        CalculationLine("P", "U^2/R: a steady tone; music makes a tenth of it", made.heat_w, "W", "Joule"),
    )
    if made.rating_w is None:
        said = "Load resistor for {pair}: {ohm} would turn {heat} to heat, more than one resistor takes"
        remedy = "Find the largest resistance it still accepts: ten times as much is often enough"
    else:
        said = "Load resistor for {pair}: {ohm}, rated {rating}; it turns up to {heat} to heat"
        remedy = "Screw it to bare metal, clear of trim, foam, looms and hands; try a larger resistance first"
    return [_check(
        code, "caution" if made.heat_w > HOT_W or made.rating_w is None else "ok", said, remedy, pair.id,
        (made.heat_w, HOT_W, "W"), working, pair=whose, ohm=(made.ohm, "ohm"), heat=(made.heat_w, "W"),
        rating=(made.rating_w or 0.0, "W"),
    )]  # fmt: skip


def _offset(pair: FactoryPair) -> list[Check]:
    if pair.offset_v is None:
        return []
    volts = abs(pair.offset_v)
    verdict: Verdict = "ok"
    said, remedy = "{pair} has {v} of direct current between its wires", ""
    if volts > OFFSET_V:
        verdict, said = "caution", said + ": it pushes cones and thumps inputs"
        remedy = "Its fault first; an input that is not blocked by a capacitor amplifies it"
    return [
        _check(
            "wire.offset", verdict, said, remedy, pair.id, (volts, OFFSET_V, "V"), pair=(pair.id, ""), v=(volts, "V")
        )
    ]


def _cut(pair: FactoryPair) -> list[Check]:
    cut = bass_cut(pair)
    if cut is None:
        return []
    verdict: Verdict = "ok"
    said, remedy = "{pair} keeps its bass when the volume rises", ""
    if cut[1] >= CUT_DB:
        verdict, said = "caution", "{pair} takes {db} away below {hz} when the volume rises"
        remedy = "Set gains at the volume that is listened at, volume after that at the new amplifier; or take the signal before it"
    value, whose = (cut[1], CUT_DB, "dB"), (pair.id, "")
    return [
        _check("wire.bass-cut", verdict, said, remedy, pair.id, value, pair=whose, hz=(cut[0], "Hz"), db=(cut[1], "dB"))
    ]


def _loud(pair: FactoryPair) -> list[Check]:
    if pair.rated_ohm is None or pair.new_ohm is None or pair.rated_ohm == pair.new_ohm:
        return []
    change = 10 * log10(pair.rated_ohm / pair.new_ohm)
    said, remedy = "more power out of it", "Look at the least load this output is rated for"
    if change < 0:
        said, remedy = "less power from it", "A driver that is so much more sensitive, or an amplifier"
    return [_check(
        "wire.loud", "caution", "{new} in place of {old} on {pair}: {db} " + said, remedy, pair.id, (change, 0.0, "dB"),
        pair=(pair.id, ""), old=(pair.rated_ohm, "ohm"), new=(pair.new_ohm, "ohm"), db=(abs(change), "dB"),
    )]  # fmt: skip


def _sums(pairs: list[FactoryPair]) -> list[Check]:
    """Bands of one signal, each against the next."""
    if len(pairs) < 2:
        return []
    unknown = [p.id for p in pairs if p.low_hz is None or p.high_hz is None]
    if unknown:
        said = "No bands of {group} entered yet on " + ", ".join(unknown)
        return [_check("wire.sum", "caution", said, "A sweep on each pair", pairs[0].group, group=(pairs[0].group, ""))]
    return [_sum(low, high) for low, high in pairwise(sorted(pairs, key=lambda p: p.low_hz or 0.0))]


def _sum(low: FactoryPair, high: FactoryPair) -> Check:
    assert low.high_hz is not None
    assert high.low_hz is not None
    middle = (low.high_hz * high.low_hz) ** 0.5

    def found(said: str, remedy: str, loss_db: float | None = None, working: tuple[CalculationLine, ...] = ()) -> Check:
        return _check(
            "wire.sum", "caution" if remedy else "ok", said, remedy, f"{low.id} {high.id}",
            (None, None, "") if loss_db is None else (loss_db, SUM_DB, "dB"), working,
            group=(low.group, ""), low=(low.id, ""), high=(high.id, ""), hz=(middle, "Hz"), db=(loss_db or 0.0, "dB"),
        )  # fmt: skip

    if high.low_hz > low.high_hz * 2 ** (1 / 3):
        said = "{group} has a hole between {low} and {high}: a pair is missing"
        return found(said, "Find the output that carries it")
    phase = low.phase_deg
    if phase is None and low.polarity is not None and high.polarity is not None:
        phase = 0.0 if low.polarity == high.polarity else 180.0
    if phase is None:
        said = "{low} and {high} are bands of {group} to be summed; no phase entered yet"
        return found(said, "Both in one take, or polarity of each")
    loss = max(-summed_db(phase), 0.0)
    shown = min(loss, 60.0)
    known = "one take" if low.phase_deg is not None else "polarity alone"
    working = (CalculationLine("phi", "between them at their crossover", phase, "deg", known),)
    if loss <= SUM_DB:
        return found("{low} and {high} sum to {group} in phase", "", shown, working)
    said = (
        "{low} and {high} of {group} summed as they are lose {db}" + (" or more" if loss > shown else "") + " at {hz}"
    )
    opposed = abs((phase + 180) % 360 - 180) > 90
    remedy = "Turn one over when summing" if opposed else "Delay or all-pass one of them"
    return found(said, remedy + "; read the sum again", shown, working)


def _turn_on(system: FactorySystem, senses: bool) -> Check:
    if senses:
        return _check("wire.turn-on", "ok", "The amplifier turns itself on by the signal; see that it goes off again")
    if system.accessory:
        return _check("wire.turn-on", "ok", "An accessory line turns the amplifier on")
    said = "No accessory line looked for yet"
    if system.accessory is False:
        said = "No line is live only while the system plays"
    remedy = "Choose an amplifier that senses the signal or its offset, or a switched and fused line of the maker's; it must go off again"
    return _check("wire.turn-on", "caution", said, remedy)


def _microphones(system: FactorySystem) -> Check:
    if system.microphones is False:
        return _check("wire.microphones", "ok", "No microphones listen to the cabin")
    said = "Not entered yet whether microphones in the cabin cancel noise"
    if system.microphones:
        said = "Microphones cancel noise or add engine sound: with other speakers they can drone"
    remedy = "Drive with it before the trim goes back on; the maker's information says how it is turned off"
    return _check("wire.microphones", "caution", said, remedy)


def _keep(what: str, pair: str) -> Check:
    if pair:
        said, remedy = "{what} must still sound from {pair} at hand-over", ""
    else:
        said, remedy = (
            "{what} must still sound; no output entered yet for it",
            "Make it sound and listen at each speaker",
        )
    return _check("wire.keep", "caution" if remedy else "ok", said, remedy, what, what=(what, ""), pair=(pair, ""))
