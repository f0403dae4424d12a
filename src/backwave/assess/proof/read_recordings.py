"""The readings of a job as they were heard: each recording read by a function that the face hands over.

A reading that cannot be used spoils no other: what is wrong with it is a finding of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError, MissingError
from backwave.finding import PRACTICE, Check, Finding, Message
from backwave.job import Job
from backwave.job.signal_chain import COLUMNS, ReadingTable
from backwave.measure.analysis import Recording, Response, check_overload
from backwave.measure.averaging import One

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
    """Every reading of a job.
    `progress`: told the share that is done and the file at hand; what it raises ends the work.
    """
    rows, names = job.file.reading, reading_names(job)
    found = []
    first = job.file.seat[0].id if job.file.seat else ""
    for k, row in enumerate(rows):

        def tell(share: float, k: int = k, file: str = row.file) -> None:
            if progress is not None:
                progress((k + share) / len(rows), file)

        tell(0.0)
        heard = Heard(k, names[k], row, row.stage or "", row.seat or first, None, None)
        try:
            found.append(_heard(job, heard, read, tell))
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
    return Check(
        "measure.reading", "caution",
        Message("{file} cannot be used: {why}", (("file", row.file, ""), ("why", title, ""))),
        remedy=Message("{remedy}", (("remedy", remedy or "record it again", ""),)), sources=(PRACTICE,),
        key="file",
    )  # fmt: skip
