"""What is played, what a recording of it says, and what to set: sweep, response, distortion, rattle, tuning, impedance.

Computes test signals and their description; from a recording made on another clock the clock difference, responses,
harmonics, decay, arrival and polarity, and whether the recording can be used; bands, extension and differences with
their repeatability; rattles; equalizer, delays and crossover from readings; impedance and the parameters that fit it;
the unknowns of a prediction that a reading settles.  From arrays of samples against full scale, rates and frequencies
in Hz, times in s, levels in dB, impedances in ohm, all else SI.  It reads and writes no file.
A room: stands on the ground (`air`, `errors`, `filters`, `filter_text`, `finding`) and knows no other room; a model
that is fitted to a reading is handed over as a function.  scipy is imported inside, when first used.

sweep       the sweep as a formula, the take between two pilots, its description
tones       noise, pulses, level tones, beeps; gates on the first sound and on hearing
find        where a take lies in a recording, and the recorder's clock
response    deconvolution, harmonics, windows, signal over noise
arrival     arrival and polarity by two methods
quality     recordings that cannot be used, or only with care
heard       what the sweeps show of it: whole, to the top, told apart, clear of noise
read        the whole way from a recording to responses; the mean of several places
distortion  by order and level, where it breaks up
gather      several readings of one thing: mean, repeatability, distortion at one level
recording   one recording whole, by its description: responses, or what rattles
smooth      bands, smoothing, weightings, a microphone's correction
bands       a response in few numbers; differences that are more than chance
rattle      what does not repeat with the drive of a slow sweep
equalizer   a few bounded filters toward a target; fixed bands
tune        target, table of settings, delays and levels, the joint of two channels
impedance   two channels over a known resistor; parameters with their uncertainty
suspension  Vas and moving mass by an added mass or a known box
learn       unknowns of a model fitted to a reading within bounds
"""

from __future__ import annotations

from backwave.measure.alignment import align_channels, choose_joint, settings_table, target_curve
from backwave.measure.analysis import Response, TakeRead, place_average, read_take
from backwave.measure.bands import LevelDifference, Summary, compare, repeatability, summary
from backwave.measure.distortion import Distortion, overload_ranges
from backwave.measure.equalizer import Equalizer, FilterLimits, fit_bands, fit_equalizer
from backwave.measure.impedance import ImpedanceCurve, Motor, check_jig, fit_motor, read_impedance
from backwave.measure.model_fit import Learned, Unknown, distance_db, learn
from backwave.measure.rattle import Buzz, buzz_index, check_rattle
from backwave.measure.sweep import Sweep, Take, describe, plan_take, take_from, take_signal
from backwave.measure.synchronize import Clock, find_take
from backwave.measure.vas import Suspension, added_mass, known_box

__all__ = [
    "Buzz",
    "Clock",
    "Distortion",
    "Equalizer",
    "FilterLimits",
    "ImpedanceCurve",
    "Learned",
    "LevelDifference",
    "Motor",
    "Response",
    "Summary",
    "Suspension",
    "Sweep",
    "Take",
    "TakeRead",
    "Unknown",
    "added_mass",
    "align_channels",
    "buzz_index",
    "check_jig",
    "check_rattle",
    "choose_joint",
    "compare",
    "describe",
    "distance_db",
    "find_take",
    "fit_bands",
    "fit_equalizer",
    "fit_motor",
    "known_box",
    "learn",
    "overload_ranges",
    "place_average",
    "plan_take",
    "read_impedance",
    "read_take",
    "repeatability",
    "settings_table",
    "summary",
    "take_from",
    "take_signal",
    "target_curve",
]
