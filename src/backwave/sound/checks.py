"""What a prediction finds: overloads, tweeters without protection, excursion, clipping, polarity, boxes, ports.

Pure: numbers in, checks out.  SI units, frequencies in Hz, voltages rms, excursion peak."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.sound.box import ClosedBox
from backwave.sound.stage import BandDifference

Real = NDArray[np.float64]
# the least impedance compares with this share of the rated load (IEC 60268-5, 16.1; common trade practice)
MIN_SHARE = 0.8
PEAK_DB = 3.0  # A peak above this is heard as one note (common trade practice)
PORT_SPEED = 17.0  # peak speed of air in a port above which it is heard, m/s (common trade practice)
# times a tweeter's resonance: below the first an active high-pass does not protect it, from the second it does
# (common trade practice)
CORNER_STOP, CORNER_GOOD = 1.5, 2.0
# resonance of a tweeter nobody gave one of, on the safe side (common trade practice: 800 to 1500 Hz)
TWEETER_FS_HZ = 1500.0
_HEARD_DB = 1.0


def load_check(
    f_hz: Real, z_ohm: Real, rated_ohm: float | None, lowest_ohm: float | None, part: str = ""
) -> Check | None:
    """The load on an output against the least it is rated for; None where nobody said what that is."""
    if lowest_ohm is None:
        return None
    heard = (f_hz >= 20) & (f_hz <= 20000)
    at = int(np.argmin(np.where(heard, z_ohm, np.inf)))
    least, limit = float(z_ohm[at]), MIN_SHARE * lowest_ohm
    # a rating is a rounded number: 3.9 against 4 is the same; two tweeters behind a network are not in parallel
    over_rated = rated_ohm is not None and rated_ohm < 0.95 * lowest_ohm
    dips = least < limit
    verdict: Verdict = "stop" if dips and over_rated else "caution" if dips or over_rated else "ok"
    where = (("least", least, "ohm"), ("f", float(f_hz[at]), "Hz"), ("lowest", lowest_ohm, "ohm"))
    rated: tuple[tuple[str, float, str], ...] = (("rated", rated_ohm or 0.0, "ohm"),) if over_rated else ()
    titles = {  # what it is rated for is too little, it dips too low
        (True, True): "Together {rated} rated, {least} at {f}: below what the output drives, {lowest}",
        (True, False):
            "Together {rated} rated, below the {lowest} that the output is rated for; its least is {least} at {f}",
        (False, True): "Dips to {least} at {f}; the output is rated for {lowest}",
        (False, False): "The output sees {least} or more (at {f}); it is rated for {lowest}",
    }  # fmt: skip
    remedy = Message("Drivers of a higher rating, in series instead of in parallel, or on an output each")
    parallel = CalculationLine("R", "rated loads in parallel", rated_ohm, "ohm", "the job")
    return Check(
        "sound.load", verdict, Message(titles[over_rated, dips], (*where, *rated)), least, limit, "ohm",
        remedy=None if verdict == "ok" else remedy,
        working=(
            CalculationLine("|Z|", "least impedance the output sees, 20 Hz to 20 kHz", least, "ohm", "the network, solved"),
            CalculationLine("f", "where", float(f_hz[at]), "Hz"),
            CalculationLine("0.8 R", "share of the rated load it may dip to", limit, "ohm", "IEC 60268-5 (from memory)"),
            *(() if rated_ohm is None else (parallel,)),
        ),
        sources=("IEC 60268-5 (from memory): the least impedance is 80 % of the rated one or more",), part=part,
    )  # fmt: skip


@dataclass(frozen=True)
class AtClip:
    """A tweeter behind its active filters while its output clips; None where its data sheet gives no figure."""

    travel_mm: float | None = None  # the most at any frequency, peak, one way
    x_max_mm: float | None = None
    heat_w: float | None = None  # of a simulated program
    power_w: float | None = None  # rated

    @property
    def over(self) -> bool:
        """One of the figures that are known is passed."""
        return _over(self.travel_mm, self.x_max_mm) or _over(self.heat_w, self.power_w)

    @property
    def known(self) -> bool:
        """Both travel and power can be told."""
        return None not in (self.travel_mm, self.x_max_mm, self.heat_w, self.power_w)


def _over(value: float | None, limit: float | None) -> bool:
    return value is not None and limit is not None and value > limit


def filter_holds(fs_hz: float | None, high_pass_hz: float | None, at_clip: AtClip | None = None) -> bool:
    """Whether an active high-pass alone keeps a tweeter whole: by its figures, else by its corner (trade practice)."""
    if high_pass_hz is None or (at_clip is not None and at_clip.over):
        return False
    if at_clip is not None and at_clip.known:
        return True
    return high_pass_hz >= CORNER_STOP * (TWEETER_FS_HZ if fs_hz is None else fs_hz)


def capacitor_most(fs_hz: float | None, rated_ohm: float | None) -> float:
    """The largest capacitor in series that protects a tweeter, F: 1/(2 pi R C) at 1.5 times its resonance (trade practice)."""
    fs, ohm = TWEETER_FS_HZ if fs_hz is None else fs_hz, 4.0 if rated_ohm is None else rated_ohm
    return 1 / (2 * pi * CORNER_STOP * fs * ohm)


def tweeter_check(
    fs_hz: float, rated_ohm: float, series_f: float | None, high_pass_hz: float | None, at_clip: AtClip | None = None,
    unsolved: bool = False,
) -> Check:  # fmt: skip
    """Whether a tweeter has something that keeps the bass out of it: a capacitor, or an active high-pass, that holds.
    `at_clip` has the parts of its path in it, but not a capacitor hidden in its plug: `unsolved` says that one is
    there."""
    passive_hz = None if series_f is None else 1 / (2 * pi * series_f * rated_ohm)
    blocks = passive_hz is not None and passive_hz >= CORNER_STOP * fs_hz
    wanted = max(CORNER_GOOD * fs_hz, 1500.0)
    farad = 1 / (2 * pi * wanted * rated_ohm)
    sized = (("c", farad * 1e6, "uF"), ("f", wanted, "Hz"))
    cap = Message("A capacitor of {c} in series: bass stays out of it from {f} down", sized)
    clip = at_clip or AtClip()
    names: list[tuple[str, float | str, str]] = [
        ("f", high_pass_hz or 0.0, "Hz"), ("fs", fs_hz, "Hz"), ("wanted", wanted, "Hz"),
        ("c", 1e6 / (2 * pi * wanted / 4 * rated_ohm), "uF"), ("x", clip.travel_mm or 0.0, "mm"), ("xmax", clip.x_max_mm or 0.0, "mm"),
        ("p", clip.heat_w or 0.0, "W"), ("power", clip.power_w or 0.0, "W"),
        ("good", 1e6 / (2 * pi * CORNER_GOOD * fs_hz * rated_ohm), "uF"),
    ]  # fmt: skip
    verdict: Verdict = "caution"
    words, remedy = "", "Leave a capacitor of {c} in series as well"
    if passive_hz is not None:
        names += [("pf", passive_hz, "Hz"), ("pc", 1e6 * (series_f or 0.0), "uF")]
    solved = passive_hz is not None and clip.known and not unsolved
    if blocks and clip.over and not unsolved:
        verdict = "stop"
        remedy = "A smaller capacitor and a resistor or divider before it, or an output of fewer volts"
        words = (
            "At the volts its output clips at, behind {pc} in series, this tweeter moves {x}; {xmax} is linear"
            if _over(clip.travel_mm, clip.x_max_mm)
            else "At the volts its output clips at, behind {pc} in series, this tweeter gets {p}; it is rated for {power}"
        )
    elif blocks and (solved or (passive_hz or 0.0) >= CORNER_GOOD * fs_hz):
        verdict, words, remedy = "ok", "A capacitor in series keeps the bass out of this tweeter", ""
    elif blocks:
        words = "{pc} in series lets everything from {pf} into this tweeter, near its resonance of {fs}, and its travel or power is not known"
        remedy = "A capacitor of at most {good}"
    elif passive_hz is not None and high_pass_hz is None:
        remedy = "A capacitor of at most {good}"
        words = "{pc} in series lets everything from {pf} into this tweeter, which resonates at {fs}"
        if solved and not clip.over:
            words += "; its travel and power hold while its output clips"
        else:
            verdict, words = "stop", words + ": bass will burn it"
    elif high_pass_hz is None:
        verdict, words = "stop", "Nothing keeps the bass out of this tweeter: it burns at the first loud note"
    elif not filter_holds(fs_hz, high_pass_hz, at_clip):
        verdict = "stop"
        remedy = "Set its high-pass to {wanted} or above, with a steeper slope, and add a capacitor in series"
        if _over(clip.travel_mm, clip.x_max_mm):
            words = (
                "At the volts its output clips at, behind a high-pass at {f}, this tweeter moves {x}; {xmax} is linear"
            )
        elif clip.over:
            words = "At the volts its output clips at, behind a high-pass at {f}, this tweeter gets {p}; it is rated for {power}"
        else:
            words = "A high-pass at {f} does not protect a tweeter that resonates at {fs}: bass will burn it"
    elif not clip.known and high_pass_hz < CORNER_GOOD * fs_hz:
        words = "A high-pass at {f} is near this tweeter's resonance of {fs}, and its travel or power is not known"
        remedy = "Set it to {wanted} or above, and leave a capacitor of {c} in series as well"
    else:
        words = "Only an active high-pass at {f} protects this tweeter: a thump at turn-on or a wrong setting burns it"
    return Check(
        "sound.tweeter", verdict, Message(words, tuple(names)),
        remedy=cap if verdict == "stop" and high_pass_hz is None and passive_hz is None else Message(remedy, tuple(names)) if remedy else None,
        working=(
            CalculationLine("fs", "its resonance", fs_hz, "Hz", "the job"),
            CalculationLine("f", "twice that, 1.5 kHz or more", wanted, "Hz", PRACTICE),
            CalculationLine("C", "1/(2 pi f R)", farad * 1e6, "uF", "first-order high-pass into the rated load"),
            CalculationLine("x", "travel while its output clips, the most at any frequency", clip.travel_mm, "mm", "the network, solved"),
            CalculationLine("Xmax", "linear travel", clip.x_max_mm, "mm", "its data sheet"),
            CalculationLine("P", "heat while its output clips: simulated program, crest 2", clip.heat_w, "W", "IEC 60268-1"),
            CalculationLine("Pd", "what it is rated for", clip.power_w, "W", "its data sheet"),
        ),
        sources=(PRACTICE,), key="network",
    )  # fmt: skip


def excursion_check(f_hz: Real, peak_m: Real, x_max: float, level_db: float, part: str = "") -> Check:
    """The cone's excursion at the level asked against what stays linear. `peak_m` (n_freq,): excursion there with a
    sine at each frequency, peak, one way; `x_max`, m."""
    heard = f_hz >= 20
    at = int(np.argmax(np.where(heard, peak_m, 0.0)))
    most = float(peak_m[at])
    over = 20 * np.log10(most / x_max)
    stays = f_hz[heard & (peak_m > x_max)]
    quantities = (
        ("x", most * 1e3, "mm"), ("f", float(f_hz[at]), "Hz"), ("limit", x_max * 1e3, "mm"), ("level", level_db, "dB"),
    )  # fmt: skip
    title, remedy = "At {level} the cone moves {x} at {f} at most; {limit} is linear", None
    if over > 0:
        title = "At {level} the cone moves {x} at {f}; only {limit} is linear"
        lower = (("f", float(stays.max()), "Hz"), ("over", float(over), "dB"))
        remedy = Message("High-pass it near {f}, or play {over} less loud", lower)
    return Check(
        "sound.excursion", "ok" if over <= 0 else "caution", Message(title, quantities), most * 1e3, x_max * 1e3, "mm",
        remedy=remedy,
        working=(
            CalculationLine("L", "mean level asked, 200 Hz to 2 kHz, at the first seat", level_db, "dB", "the job"),
            CalculationLine(
                "x", "greatest excursion at that volume, a sine at each frequency", most * 1e3, "mm",
                "the network, solved",
            ),
            CalculationLine("f", "where", float(f_hz[at]), "Hz"),
            CalculationLine("Xmax", "linear excursion", x_max * 1e3, "mm", "the job"),
        ),
        sources=("a sine at each frequency, as loud as the mid band; music has less deep bass or more",), part=part,
    )  # fmt: skip


def clip_check(f_hz: Real, volts: Real, clip_v: float, level_db: float, part: str = "") -> Check:
    """Whether an output clips at the level asked. `volts`, (n_freq,) V rms: at open terminals, at the level asked."""
    heard = (f_hz >= 20) & (f_hz <= 20000)
    at = int(np.argmax(np.where(heard, volts, 0.0)))
    most = float(volts[at])
    over = float(20 * np.log10(most / clip_v))
    quantities = (("v", most, "V"), ("clip", clip_v, "V"), ("level", level_db, "dB"), ("over", abs(over), "dB"))
    title, remedy = "At {level} a sine asks {v} of an output that clips at {clip}: {over} of headroom", None
    if over > 0:
        title = "At {level} a sine asks {v} of an output that clips at {clip}"
        remedy = Message("Play {over} less loud, or give these drivers more power", (("over", over, "dB"),))
    return Check(
        "sound.clip", "ok" if over <= 0 else "caution", Message(title, quantities), most, clip_v, "V", remedy=remedy,
        working=(
            CalculationLine("V", "sine at open terminals at the level asked", most, "V", "the network, solved"),
            CalculationLine("Vc", "where the output clips", clip_v, "V", "the source, by supply or rating"),
        ),
        sources=("a sine; peaks of music stand 10 dB or more above its mean level (common trade practice)",), part=part,
    )  # fmt: skip


def polarity_check(turned: BandDifference, part: str = "") -> Check:
    """Whether a path would give more where it meets the others if it were turned round. `turned`, dB."""
    cancels = turned.delta > _HEARD_DB and turned.low > 0
    band = (("low", turned.low_hz, "Hz"), ("high", turned.high_hz, "Hz"), ("d", abs(turned.delta), "dB"))
    remedy = None
    if cancels:
        title = "It cancels the others between {low} and {high}: swapping + and − gives {d} more"
        remedy = Message("Swap its two wires: polarity = -1 on its path, or 1 if it was -1; then listen, and measure")
    elif turned.high < 0:
        title = "Its polarity adds where it meets the others, {low} to {high}: {d} more than turned round"
    else:
        title = "Between {low} and {high} the model cannot tell which polarity is better ({d} apart)"
        remedy = Message("Try both by ear at the seat, or measure: this close the places of the drivers decide")
    told = "turned less as it is, mean over where both are within 10 dB of each other"
    return Check(
        "sound.polarity", "caution" if cancels else "ok", Message(title, band), turned.delta, _HEARD_DB, "dB",
        low=turned.low, high=turned.high, remedy=remedy,
        working=(
            CalculationLine("d", told, turned.delta, "dB"), CalculationLine("f1", "from", turned.low_hz, "Hz"),
            CalculationLine("f2", "to", turned.high_hz, "Hz"),
        ),
        sources=("pressures at the seat added with phase; below the changeover by the cabin's modes",),
        key="polarity", part=part,
    )  # fmt: skip


def box_check(box: ClosedBox) -> Check:
    """The peak of a closed box."""
    peaks = box.peak_db > PEAK_DB
    quantities = (("fc", box.fc, "Hz"), ("q", box.Qtc, ""), ("peak", box.peak_db, "dB"), ("f3", box.f3, "Hz"))
    rise = sqrt(1 + box.alpha)
    title, remedy = "Qtc {q}, resonance {fc}, 3 dB down at {f3}", None
    if peaks:
        title = "Too small: Qtc {q} makes a peak of {peak} near {fc}"
        remedy = Message("No box helps this driver: its own Qts is too high for one. Fill it, or choose another")
        if box.Qtc / rise < 0.9:
            liters = box.volume * (box.alpha / ((rise * 0.9 / box.Qtc) ** 2 - 1)) * 1e3
            remedy = Message("A box of {v} brings its Qtc to 0.9; or fill it with damping", (("v", liters, "L"),))
    return Check(
        "sound.box", "caution" if peaks else "ok", Message(title, quantities), box.peak_db, PEAK_DB, "dB",
        remedy=remedy,
        working=(
            CalculationLine("alpha", "Vas/Vb", box.alpha, "", "Small 1972"),
            CalculationLine("fc", "fs sqrt(1 + alpha)", box.fc, "Hz", "Small 1972"),
            CalculationLine("Qtc", "Qts sqrt(1 + alpha)", box.Qtc, "", "Small 1972"),
        ),
        sources=("Small 1972, JAES 20(10):798-808",), key="volume",
    )  # fmt: skip


def port_check(f_hz: Real, speed: Real, part: str = "") -> Check:
    """The air in a port at the loudest that the stage goes. `speed`, (n_freq,) m/s: peak, at the level asked."""
    at = int(np.argmax(np.where(f_hz >= 15, speed, 0.0)))
    most = float(speed[at])
    loud = most > PORT_SPEED
    title = "The air in the port reaches {v} at {f}" + (": it will be heard" if loud else "")
    larger = Message("A port of {k} times the area, and longer in proportion", (("k", most / PORT_SPEED, ""),))
    return Check(
        "sound.port", "caution" if loud else "ok", Message(title, (("v", most, "m/s"), ("f", float(f_hz[at]), "Hz"))),
        most, PORT_SPEED, "m/s", remedy=larger if loud else None,
        working=(CalculationLine("v", "peak speed at the level asked", most, "m/s", "the network, solved"),),
        sources=(PRACTICE,), key="port", part=part,
    )  # fmt: skip
