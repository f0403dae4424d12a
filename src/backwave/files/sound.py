"""Sound files: WAV, FLAC and OGG in, WAV of 16 or 24 bit and FLAC out.

What a file says of its length is looked at before anything is read, so a recording of hours is refused at once and
memory stays bounded.  `soundfile` is imported inside, when first used.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from backwave.atomic_write import write_whole
from backwave.errors import InputError, MissingError

LONGEST_S = 600.0
MAX_SAMPLES = 60_000_000  # over all channels: 240 MB of memory


@dataclass(frozen=True)
class SoundFile:
    """A sound file as read."""

    samples: NDArray[np.float32]  # (n, n_channels), against full scale
    rate_hz: int
    kind: str  # what the file is: "WAV 16 bit", "OGG Vorbis"
    lossy: bool  # whether the file's coding leaves sound out


def read_sound(path: Path, name: str = "") -> SoundFile:
    """A recording.

    `name`: what messages call it: its name inside the job folder; "" is the path's last part; InputError: no sound
    file, a damaged one, one that is empty or longer than ten minutes; MissingError: no such file.
    """
    import soundfile  # type: ignore[import-untyped]  # ships no types

    name = name or path.name
    if path.exists() and not path.is_file():
        raise InputError(name, "a folder" if path.is_dir() else "no ordinary file", "a recording: WAV, FLAC or OGG")
    if not path.is_file():
        raise MissingError(f"{name} is not there", "Put the recording into the job's folder and name it in the job.")
    try:
        with soundfile.SoundFile(path) as file:
            rate, channels, frames = file.samplerate, file.channels, file.frames
            seconds = frames / max(rate, 1)
            if seconds > LONGEST_S or frames * channels > MAX_SAMPLES:
                raise InputError(
                    name, f"{seconds / 60:.0f} minutes, {channels} channels, {rate} Hz",
                    f"up to {LONGEST_S / 60:.0f} minutes of one or two channels: cut out the part with the sweep",
                )  # fmt: skip
            samples = file.read(min(frames, MAX_SAMPLES // max(channels, 1)), dtype="float32", always_2d=True)
            kind, lossy = f"{file.format} {file.subtype}", _lossy(file.format, file.subtype)
    except soundfile.LibsndfileError as error:
        raise InputError(
            name, f"not a sound file that can be read ({error.error_string.strip()})",
            "WAV, FLAC or OGG: in the recorder's settings choose WAV, or convert it once",
        ) from None  # fmt: skip
    if samples.shape[0] == 0:
        raise InputError(name, "an empty recording", "a recording with sound in it")
    return SoundFile(samples, int(rate), kind, lossy)


def wave_bytes(samples: NDArray[np.float64], rate_hz: int, bits: int = 24) -> bytes:
    """Samples as a WAV file. InputError: samples beyond full scale, or other bits."""
    import soundfile

    if bits not in (16, 24):
        raise InputError("bits of a sample", bits, "16 or 24")
    values = np.asarray(samples, dtype=float)
    if not (np.isfinite(values).all() and np.abs(values).max(initial=0.0) <= 1.0):
        raise InputError("samples", "beyond full scale", "-1 to 1: they would be clipped")
    out = io.BytesIO()
    # whole numbers, rounded here: the library's own rounding differs between its versions
    top = 2 ** (bits - 1)
    whole = np.clip(np.round(values * top), -top, top - 1).astype(np.int64) << (32 - bits)
    soundfile.write(out, whole.astype(np.int32), rate_hz, format="WAV", subtype=f"PCM_{bits}")
    return out.getvalue()


def write_wave(path: Path, samples: NDArray[np.float64], rate_hz: int, bits: int = 24) -> Path:
    """Write a WAV file, whole or not at all."""
    return write_whole(path, wave_bytes(samples, rate_hz, bits))


def write_flac(path: Path, samples: NDArray[np.float64], rate_hz: int) -> Path:
    """Write a FLAC file of 16 bit, whole or not at all: half of a WAV's size, nothing left out."""
    import soundfile

    values = np.asarray(samples, dtype=float)
    if not (np.isfinite(values).all() and np.abs(values).max(initial=0.0) <= 1.0):
        raise InputError("samples", "beyond full scale", "-1 to 1: they would be clipped")
    out = io.BytesIO()
    whole = np.clip(np.round(values * 32768), -32768, 32767).astype(np.int16)
    soundfile.write(out, whole, rate_hz, format="FLAC", subtype="PCM_16")
    return write_whole(path, out.getvalue())


def _lossy(kind: str, subtype: str) -> bool:
    return kind in ("OGG", "MP3", "MPEG") or any(word in subtype for word in ("VORBIS", "OPUS", "MPEG", "ADPCM", "GSM"))
