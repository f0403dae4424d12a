"""The readings of a job as they were heard, each recording read by a function that the face hands over; and, for the
demo and for tests of the whole way, what a recorder at a seat would have by the model.

A reading that cannot be used spoils no other: what is wrong with it is a finding of its own.  A simulated take is no
measurement: it is played through the predicted levels (with the least phase they allow, and each output's own way),
with harmonics of the bass, roughness that no model has, noise, and a recorder on a clock of its own."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from backwave.assess.sound.results import Prediction
from backwave.errors import InputError, MissingError
from backwave.finding import Check, Finding, check_of
from backwave.job import Job
from backwave.job.signal_chain import COLUMNS, ReadingTable
from backwave.measure.analysis import Recording, Response, check_overload
from backwave.measure.averaging import One
from backwave.measure.sweep import take_from
from backwave.sound.measured_curves import minimum_phase

FACTORY = "factory"
Real = NDArray[np.float64]


class Reader(Protocol):
    """What reads a recording: `files.recordings.Takes`."""

    def __call__(
        self, file: str, sweep: str | None = None, microphone: tuple[Real, Real] | None = None,
        channel: int | None = None, progress: Callable[[float], None] | None = None,
    ) -> Recording:  # fmt: skip
        """What a recording says."""
        ...


@dataclass(frozen=True, eq=False)
class Heard:
    """One [[reading]] as it was heard."""

    number: int  # its position in the job
    name: str  # the file's name without its ending: the subject of its findings
    row: ReadingTable
    stage: str  # which; "" where the job does not say
    seat: str
    recording: Recording | None  # what it says; None for a response in columns, or where it cannot be used
    one: One | None  # all outputs together; None where it cannot be used, or hunts rattles
    checks: tuple[Check, ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Its checks with their subject."""
        return tuple(Finding(check, self.name) for check in self.checks)


def hear(job: Job, read: Reader, progress: Callable[[float, str], None] | None = None) -> tuple[Heard, ...]:
    """Every reading of a job. `progress`: told the share that is done and the file at hand; what it raises ends the
    work."""
    rows, names = job.file.reading, reading_names(job)
    found = []
    held: dict[tuple[object, ...], str] = {}
    first = job.file.seat[0].id if job.file.seat else ""
    for k, row in enumerate(rows):

        def tell(share: float, k: int = k, file: str = row.file) -> None:
            if progress is not None:
                progress((k + share) / len(rows), file)

        tell(0.0)
        heard = Heard(k, names[k], row, row.stage or "", row.seat or first, None, None)
        try:
            whole = _heard(job, heard, read, tell)
            content = _content(job, whole)
            if content in held:  # twice the same tells nothing of how well a reading repeats
                whole = replace(heard, checks=(_copy(row.file, held[content]),))
            held.setdefault(content, row.file)
            found.append(whole)
        except (InputError, MissingError) as error:
            found.append(replace(heard, checks=(_unusable(row, error),)))
    if progress is not None:
        progress(1.0, "")
    return tuple(found)


def reading_names(job: Job) -> list[str]:
    """What each reading is called in findings: its file's name, with a number where two have the same."""
    names: list[str] = []
    for row in job.file.reading:
        stem = "".join(c if c.isalnum() or c in "-_" else "-" for c in PurePosixPath(row.file).stem)
        same = sum(1 for name in names if name == stem or name.startswith(f"{stem}~"))
        names.append(f"{stem}~{same + 1}" if same else stem)
    return names


def _heard(job: Job, heard: Heard, read: Reader, tell: Callable[[float], None]) -> Heard:
    row = heard.row
    calibration = None if row.calibration is None else row.calibration.to("dB")
    curve = None if row.microphone is None else job.columns[row.microphone]
    if row.file.lower().endswith(COLUMNS):
        columns = job.columns[row.file]
        level = columns.value + (calibration or 0.0)
        if curve is not None:
            level = level - np.interp(np.log(columns.f_hz), np.log(curve.f_hz), curve.value)
        return replace(heard, one=One(columns.f_hz, level, row.place or "", calibration is not None))
    microphone = None if curve is None else (curve.f_hz, curve.value)
    recording = read(row.file, row.sweep, microphone, row.channel, tell)
    checks = recording.read.checks
    if recording.buzz is not None:
        from backwave.measure.rattle import check_rattle

        return replace(heard, recording=recording, checks=(*checks, *check_rattle(recording.buzz)))
    sweep = recording.take.sweep.level_db
    whole = _together(recording)
    level = whole.magnitude_db if calibration is None else whole.magnitude_db + sweep + calibration
    one = One(whole.f_hz, level, row.place or "", calibration is not None, whole.distortion, sweep)
    return replace(heard, recording=recording, one=one, checks=(*checks, *check_overload(whole.name, whole.distortion)))


def _content(job: Job, heard: Heard) -> tuple[object, ...]:
    """The same for copies of a recording, however they are named, packed, corrected or calibrated: of two recordings the
    noise alone makes the clock differ, by more than machines compute it differently."""
    if heard.recording is not None:
        clock = heard.recording.read.clock
        return round(clock.origin, 6), round(clock.ppm, 6), round(clock.u_ppm, 6)
    columns = job.columns[heard.row.file]
    return columns.f_hz.tobytes(), columns.value.tobytes()


def _copy(file: str, other: str) -> Check:
    title = "{file} holds the same recording as {other}: it is counted once"
    remedy = "Take one of the two [[reading]] out, or put a recording of its own there: record again, do not copy"
    return check_of("measure.reading", "caution", title, remedy, (("file", file, ""), ("other", other, "")), key="file")


def _together(recording: Recording) -> Response:
    """All outputs at once: as they were played together, or added up on the clock that they share."""
    found = recording.read.responses
    whole = next((one for one in found if one.name == "all"), None)
    if whole is not None or len(found) == 1:
        return whole or found[0]
    f = min((one.f_hz for one in found), key=len)
    # the time of the first arrival is the zero of all
    start = found[0].impulse.arrival_s
    total = sum((one.impulse.spectrum(f, start) for one in found), np.zeros(f.size, dtype=complex))
    level = 20 * np.log10(np.abs(total) + 1e-15)
    least = min(found, key=lambda one: float(np.median(one.snr_db)))
    snr = np.interp(np.log(f), np.log(least.f_hz), least.snr_db)
    return replace(found[0], name="all", f_hz=f, magnitude_db=level, phase_deg=np.degrees(np.angle(total)), snr_db=snr)


def _unusable(row: ReadingTable, error: InputError | MissingError) -> Check:
    """What is wrong with a reading, in its own words."""
    if isinstance(error, MissingError):
        title, remedy = error.what, error.how
    else:
        title, remedy = f"{error.what}: {error.found}", error.accepted
    title = title.removeprefix(row.file).lstrip(": ")  # named once is enough
    names = (("file", row.file, ""), ("why", title, ""), ("remedy", remedy or "record it again", ""))
    return check_of("measure.reading", "caution", "{file} cannot be used: {why}", "{remedy}", names, key="file")


SPEED = 343.2
FULL = 10 ** (-12.0 / 20)  # amplitude of the sweep at which the volume, and a driver's harmonics, are told
_DECAY_S = 0.7  # that is kept of what a sweep leaves
_HISS = 64  # taps of the noise's filter, which falls toward the treble


@dataclass(frozen=True)
class Flaws:
    """What a recording has that the model has not."""

    ppm: float = 0.0  # 1e-6, recorder's clock against the player's
    noise_db: float = -75.0  # noise, rms against full scale, as loud in every octave
    rough_db: float = 0.0  # standard deviation of a ripple over frequency that the place has in every recording
    # the same of one that differs from recording to recording: the microphone taken away and put back
    moved_db: float = 0.0
    second: float = 0.0  # harmonics of the bass with the sweep at -12 dB, against it; they fall with the level
    third: float = 0.0
    lead_s: float = 0.6  # recorded before the take begins


def simulated(
    made: Prediction, stage: str, seat: int, description: dict[str, Any], full_scale_db: float = 115.0,
    volume_db: float = 0.0, flaws: Flaws | None = None, place: int = 1, seed: int = 1,
) -> Real:  # fmt: skip
    """A recording of a described take, by the model. `description`: what was written beside the sweep that is played;
    its outputs are sides of the stage ("left", "right"), or one for all; `volume_db`: of the head unit: at 0 dB a sweep
    at -12 dB puts 2.83 V on every channel."""
    flaws, take = flaws or Flaws(), take_from(description)
    played = next((one for one in made.stages if one.id == stage), None)
    if played is None:
        raise InputError("stage", stage, ", ".join(one.id for one in made.stages))
    rate = take.rate_hz * (1 + flaws.ppm * 1e-6)
    n = int((take.count / take.rate_hz + flaws.lead_s + 0.5) * rate)
    grid = played.levels.f_hz
    ripple = _ripple(grid, flaws.rough_db, place) + _ripple(grid, flaws.moved_db, 1000 + seed)
    levels = {"": played.levels.level[seat]}
    for side in ("left", "right"):
        alone = [played.levels.alone[v.name][seat] for v in played.voices if played.path(v).side == side]
        if alone:
            levels[side] = 10 * np.log10(sum(10 ** (level / 10) for level in alone))
    ways = _ways(made, stage, seat)
    sound = np.zeros(n)
    for event in take.events:
        sweep = take.of(event)
        begin = (flaws.lead_s + event.start / take.rate_hz) * rate
        first = int(begin)
        size = 1 << int((sweep.length_s + _DECAY_S) * rate).bit_length()
        f = np.fft.rfftfreq(size, 1 / rate)
        x: NDArray[np.complex128] = np.fft.rfft(sweep.samples(rate, size, (first - begin) / rate))
        if flaws.second or flaws.third:
            bass = np.fft.irfft(x / (1 + (f / 120.0) ** 4), size)
            x = x + np.fft.rfft(flaws.second * bass**2 / FULL + flaws.third * 4 * bass**3 / FULL**2)
        side = event.name if len(event.outputs) == 1 and event.name in levels else ""
        gain = _gain(np.asarray(f, dtype=float), grid, levels[side] + ripple, ways.get(side, 0.0))
        heard = np.fft.irfft(x * gain, size)
        last = min(first + size, n)
        sound[first:last] += heard[: last - first]
    sound *= 10 ** ((volume_db - full_scale_db) / 20) / FULL
    if np.abs(sound).max() > 0.99:
        raise InputError("level of the recording", f"{np.abs(sound).max():.2f} of full scale", "a quieter volume")
    rng = np.random.default_rng(seed)
    hiss = np.convolve(rng.standard_normal(n + _HISS - 1), 1 / np.sqrt(np.arange(1, _HISS + 1)), "valid")
    return np.asarray(sound + hiss * 10 ** (flaws.noise_db / 20) / hiss.std())


def _gain(f: Real, grid: Real, level_db: Real, delay_s: float) -> NDArray[np.complex128]:
    """Levels over frequency as a response: the least phase they allow, and a delay."""
    least = np.radians(minimum_phase(grid, grid, 10 ** (level_db / 20)))
    x = np.log(np.maximum(f, 1.0))
    size, turn = 10 ** (np.interp(x, np.log(grid), level_db) / 20), np.interp(x, np.log(grid), least)
    gain = size * np.exp(1j * turn - 2j * np.pi * f * delay_s)
    return np.asarray(np.where((f > 5) & (f < 0.98 * f[-1]), gain, 0.0))


def _ripple(grid: Real, sd_db: float, seed: int) -> Real:
    """Random levels over log frequency, alike within a third of an octave or so."""
    if sd_db <= 0:
        return np.zeros(grid.size)
    rng = np.random.default_rng(seed)
    octaves = np.log2(grid / grid[0])
    knots = np.arange(0, octaves[-1] + 1, 1 / 3)
    return np.asarray(np.interp(octaves, knots, rng.normal(0, sd_db, knots.size)))


def _ways(made: Prediction, stage: str, seat: int) -> Mapping[str, float]:
    """Way and processor's delay of each side's first path, s."""
    cabin = made.cabin
    found: dict[str, float] = {}
    for channel in next(one for one in made.stages if one.id == stage).plan:
        at = next((p for path in channel.paths for p in path.points if p is not None), None)
        if not channel.side or channel.side in found or at is None or not cabin.ears:
            continue
        found[channel.side] = float(np.linalg.norm(np.subtract(at, cabin.ears[seat]))) / SPEED + channel.chain.delay_s
    return found
