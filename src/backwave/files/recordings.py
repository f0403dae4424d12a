"""Sound files, and recordings of the sweep as they lie in a job's folder, read once and kept.

WAV, FLAC, AIFF and OGG in, WAV of 16 or 24 bit and FLAC out.  What a file says of its length is looked at before anything is
read, so a recording of hours is refused at once.  What a recording says is kept in `made/.cache/readings` under the digest
of the recording, of what was played and of the microphone's correction: plain arrays and text, nothing that is executed.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, fields, is_dataclass
from filecmp import cmp
from hashlib import blake2b
from pathlib import Path, PurePosixPath
from threading import Lock
from time import time
from typing import Any
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from backwave.atomic_write import write_whole
from backwave.errors import InputError, MissingError
from backwave.finding import CalculationLine, Check, Message
from backwave.measure.analysis import Distortion, Recording, Response, TakeRead, read_recording
from backwave.measure.rattle import Buzz
from backwave.measure.response import Impulse, Relation
from backwave.measure.sweep import Event, Sweep, Take
from backwave.measure.synchronize import Clock
from backwave.plain_text import file_stem

LONGEST_S = 600.0
MAX_SAMPLES = 60_000_000  # over all channels: 240 MB of memory
MAX_SENT = 60_000_000  # bytes of a recording sent by a browser: ten minutes of one channel at 16 bit
MAX_HALF = 200_000_000  # bytes of all that came in part
MIN_HALF = 1_000_000  # bytes that the least of them counts for
SENT = (".wav", ".flac", ".aif", ".aiff")
_FORMS = {b"RIFF": (b"WAVE",), b"RF64": (b"WAVE",), b"FORM": (b"AIFF", b"AIFC")}  # at its byte 8
_OTHERS = {
    b"ID3": "an MP3 file", b"\xff\xfb": "an MP3 file", b"\xff\xf3": "an MP3 file", b"OggS": "an OGG file", b"caff": "a CAF file",
}  # fmt: skip
_BROKEN = ("pieces that do not follow each other", "the whole of it: send it again")
READINGS = "readings"  # where recordings lie in the job's folder
PLAYED = ("beeps.wav", "sweep.wav")  # what a page makes there, and may play


@dataclass(frozen=True)
class SoundFile:
    """A sound file as read."""

    samples: NDArray[np.float32]  # (n, n_channels), against full scale
    rate_hz: int
    kind: str  # what the file is: "WAV 16 bit", "OGG Vorbis"
    lossy: bool  # whether the file's coding leaves sound out


def read_sound(path: Path, name: str = "") -> SoundFile:
    """A recording. `name`: what messages call it: its name inside the job folder; "" is the path's last part;
    InputError: no sound file, a damaged one, one that is empty or longer than ten minutes; MissingError: no such
    file."""
    import soundfile  # type: ignore[import-untyped]  # ships no types

    name = name or path.name
    if path.exists() and not path.is_file():
        raise InputError(
            name, "a folder" if path.is_dir() else "no ordinary file", "a recording: WAV, FLAC, AIFF or OGG"
        )
    if not path.is_file():
        raise MissingError(f"{name} is not there", "Put the recording into the job's folder and name it in the job.")
    with path.open("rb") as opened:
        refuse_phone_coding(opened.read(64), name)
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
            "WAV, FLAC, AIFF or OGG: in the recorder's settings choose WAV",
        ) from None  # fmt: skip
    if samples.shape[0] == 0:
        raise InputError(name, "an empty recording", "a recording with sound in it")
    return SoundFile(samples, int(rate), kind, lossy)


_WAV = (
    "WAV, FLAC or AIFF: set the recorder to WAV, PCM or uncompressed and record again, or record in the page Proof; "
    "converting this one brings back nothing of what its coding left out"
)


def phone_coding(head: bytes) -> str:
    """What a recording is that a phone made small and bent on the way, by its first bytes; "" for anything else."""
    if head[4:8] == b"ftyp":
        return "a 3GP file" if head[8:11] == b"3gp" else "AAC in an M4A or MP4 file"
    if head[:2] in (b"\xff\xf1", b"\xff\xf9") or head[:4] == b"ADIF":
        return "AAC"
    if head[:4] == b"OggS" and b"OpusHead" in head:
        return "Opus in an OGG file"
    return {b"#!AM": "AMR, a telephone's coding", b"\x1a\x45\xdf\xa3": "a WebM file"}.get(head[:4], "")


def refuse_phone_coding(head: bytes, name: str) -> None:
    """InputError: such a recording, with how to get a WAV file out of a phone."""
    if what := phone_coding(head):
        raise InputError(name, what, _WAV)


def wave_bytes(samples: NDArray[np.float64], rate_hz: int, bits: int = 24) -> bytes:
    """Samples as a WAV file. InputError: samples beyond full scale, or other bits."""
    import soundfile

    if bits not in (16, 24):
        raise InputError("bits of a sample", bits, "16 or 24")
    out = io.BytesIO()
    whole = (_whole(samples, bits) << (32 - bits)).astype(np.int32)
    soundfile.write(out, whole, rate_hz, format="WAV", subtype=f"PCM_{bits}")
    return out.getvalue()


def _whole(samples: NDArray[np.float64], bits: int) -> NDArray[np.int64]:
    """Samples as whole numbers, rounded here: the library's own rounding differs between its versions."""
    values = np.asarray(samples, dtype=float)
    if not (np.isfinite(values).all() and np.abs(values).max(initial=0.0) <= 1.0):
        raise InputError("samples", "beyond full scale", "-1 to 1: they would be clipped")
    top = 2 ** (bits - 1)
    return np.clip(np.round(values * top), -top, top - 1).astype(np.int64)


def write_wave(path: Path, samples: NDArray[np.float64], rate_hz: int, bits: int = 24) -> Path:
    """Write a WAV file, whole or not at all."""
    return write_whole(path, wave_bytes(samples, rate_hz, bits))


def write_signal(
    path: Path, samples: NDArray[np.float64], rate_hz: int, description: dict[str, Any], bits: int = 24
) -> Path:
    """Write what is played, and beside it the description that reading a recording of it needs; returns that one's path."""
    write_wave(path, samples, rate_hz, bits)
    return write_whole(path.with_suffix(".json"), (json.dumps(description, indent=2) + "\n").encode())


def write_flac(path: Path, samples: NDArray[np.float64], rate_hz: int) -> Path:
    """Write a FLAC file of 16 bit, whole or not at all: half of a WAV's size, nothing left out."""
    import soundfile

    out = io.BytesIO()
    soundfile.write(out, _whole(samples, 16).astype(np.int16), rate_hz, format="FLAC", subtype="PCM_16")
    return write_whole(path, out.getvalue())


def _lossy(kind: str, subtype: str) -> bool:
    return kind in ("OGG", "MP3", "MPEG") or any(word in subtype for word in ("VORBIS", "OPUS", "MPEG", "ADPCM", "GSM"))


def _refuse_sent(name: str, at: int, whole: int, piece: bytes) -> str:
    """The ending of a recording's name, where this piece of it may come in; InputError where it may not."""
    if whole <= 0:
        raise InputError(name, "an empty file", "a recording with sound in it")
    if whole > MAX_SENT:
        raise InputError(
            name, f"{whole / 1e6:.0f} MB", f"up to {MAX_SENT / 1e6:.0f} MB: cut out the part with the sweep"
        )
    if at < 0 or not piece or at + len(piece) > whole:
        raise InputError(name, *_BROKEN)
    suffix = PurePosixPath(name.replace("\\", "/")).suffix.lower()
    what = phone_coding(piece[:64]) or next((said for head, said in _OTHERS.items() if piece.startswith(head)), "")
    known = piece[:4] == b"fLaC" or piece[8:12] in _FORMS.get(piece[:4], ())
    if at == 0 and (what or suffix not in SENT or not known):
        raise InputError(name, what or "no recording, by its first bytes and its name's ending", _WAV)
    return suffix


class Inbox:
    """Recordings on their way into a job's folder, in pieces; a piece may come again, and so may the last, where its
    answer was lost."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder / READINGS
        self._lock = Lock()
        self._kept: dict[str, tuple[str, bool]] = {}  # what was answered to the last piece
        with suppress(OSError):
            self._room("", 0.0)

    def take(self, id_: str, name: str, at: int, whole: int, piece: bytes) -> tuple[str, bool]:
        """A piece of a recording; its path in the job once the last one has come, "" before, and whether it was there
        already. InputError: it is no recording that can be used, too large, or its pieces do not follow each other."""
        suffix, last = _refuse_sent(name, at, whole, piece), at + len(piece) == whole
        if not re.fullmatch("[0-9a-f]{16}", id_):
            raise InputError("number of what is sent", id_, "16 hexadecimal digits")
        with self._lock:
            if id_ in self._kept:
                return self._kept[id_] if last else ("", False)
            part = self._folder / f".backwave-{id_}.part"
            self._folder.mkdir(parents=True, exist_ok=True)
            if self._room(part.name) + at + len(piece) > MAX_HALF:
                raise InputError(
                    name, "too many recordings are being sent at once", "one after the other: try again later"
                )
            if at == 0:
                part.touch()
            try:
                with part.open("r+b") as file:
                    file.seek(at)
                    held = file.read(len(piece))
                    if part.stat().st_size < at or not piece.startswith(held):
                        raise InputError(name, *_BROKEN)
                    file.write(piece[len(held) :])
                if last:
                    read_sound(part, name)
            except FileNotFoundError:
                raise InputError(name, *_BROKEN) from None
            except InputError:
                part.unlink(missing_ok=True)
                raise
            if last:
                self._kept[id_] = self._keep(part, name, suffix)
                while len(self._kept) > MAX_KEPT:
                    del self._kept[next(iter(self._kept))]
            return self._kept.get(id_, ("", False))

    def _room(self, name: str, idle_s: float = 600.0) -> int:
        """Bytes of all others that came in part; drops those of which nothing has come for long."""
        others = [path for path in self._folder.glob(".backwave-*.part") if path.name != name]
        for path in others:
            if time() - path.stat().st_mtime >= idle_s:
                path.unlink()
        return sum(max(path.stat().st_size, MIN_HALF) for path in others if path.exists())

    def _keep(self, part: Path, name: str, suffix: str) -> tuple[str, bool]:
        for path in sorted(self._folder.iterdir()):
            if (
                path.suffix.lower() in SENT
                and path.name not in PLAYED
                and path.is_file()
                and cmp(part, path, shallow=False)
            ):
                part.unlink()
                return f"{READINGS}/{path.name}", True
        stem = file_stem(PurePosixPath(name.replace("\\", "/")).stem.replace(" ", "-"))
        paths = (part.with_name(f"{stem}{tail}{suffix}") for tail in ("", *(f"-{k}" for k in range(2, 1000))))
        path = next(path for path in paths if not path.exists())
        part.rename(path)
        return f"{READINGS}/{path.name}", False


DESCRIPTION = "sweep.json"
MAX_KEPT = 64
EDITION = "1"  # of what is kept: another one is read anew
_KNOWN = {
    cls.__name__: cls
    for cls in (
        Recording, TakeRead, Clock, Response, Relation, Distortion, Impulse, Buzz, Take, Sweep, Event, Check, CalculationLine, Message,
    )
}  # fmt: skip
Microphone = tuple[NDArray[np.float64], NDArray[np.float64]]


def described(path: Path, name: str = "") -> dict[str, Any]:
    """The description that was written beside a sweep. MissingError: it is not there; InputError: it is something
    else."""
    name = name or path.name
    if not path.is_file():
        raise MissingError(
            f"The description of what was played is not at {name}",
            "Put the .json that was written with the sweep beside the recording, or name it: --sweep FILE on the command "
            'line, sweep = "readings/FILE" in the [[reading]]',
        )
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
    except json.JSONDecodeError as error:
        where = f"something else at line {error.lineno}, column {error.colno}"
        raise InputError(f"{name}: not JSON", where, "the file written beside the sweep") from None
    except (UnicodeDecodeError, RecursionError) as error:
        what = "a byte that is no UTF-8" if isinstance(error, UnicodeDecodeError) else "lists in lists without end"
        raise InputError(f"{name}: not JSON", what, "the file written beside the sweep") from None
    if not isinstance(record, dict):
        raise InputError(name, type(record).__name__, "the file written beside the sweep")
    return record


def beside(recording: Path) -> Path:
    """Where the description of what a recording heard lies: beside it, of its own name, else `sweep.json`."""
    own = recording.with_suffix(".json")
    return own if own.is_file() else recording.with_name(DESCRIPTION)


class Takes:
    """Reads the recordings of one job folder. `keep`: whether what was read is kept on disk, in
    `made/.cache/readings`."""

    def __init__(self, folder: Path, *, keep: bool = True) -> None:
        self.folder = folder
        self._cache = folder / "made" / ".cache" / "readings" if keep else None
        self._held: dict[str, Recording] = {}

    def __call__(
        self, file: str, sweep: str | None = None, microphone: Microphone | None = None, channel: int | None = None,
        progress: Callable[[float], None] | None = None,
    ) -> Recording:  # fmt: skip
        """What a recording says. `sweep`: path of the description; None is the one of the recording's own name, or
        `sweep.json` beside it; InputError: A recording or a description that cannot be used, with what to do;
        MissingError: one of them is not there."""
        path = self._inside(file)
        if sweep is None:
            sweep = beside(path).relative_to(self.folder).as_posix()
        record = described(self._inside(sweep), sweep)
        if not path.is_file():
            raise MissingError(f"{file} is not there", "Put the recording there, or take its [[reading]] out")
        name = _name(path, record, microphone, channel)
        if name in self._held:
            return self._held[name]
        found = self._kept(name)
        if found is None:
            sound = read_sound(path, file)
            found = read_recording(sound.samples, sound.rate_hz, record, microphone, channel, progress)
            self._keep(name, found)
        self._held[name] = found
        while len(self._held) > MAX_KEPT:
            del self._held[next(iter(self._held))]
        return found

    def _inside(self, name: str) -> Path:
        path = self.folder / name
        if not path.resolve().is_relative_to(self.folder.resolve()):
            raise InputError(name, "a way out of the job folder", "a file inside it")
        return path

    def _kept(self, name: str) -> Recording | None:
        path = None if self._cache is None else self._cache / f"{name}.npz"
        if path is None or not path.is_file():
            return None
        try:
            with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as held:
                plain = json.loads(str(held["plain"]))
                found = _made(plain, [held[f"a{k}"] for k in range(int(held["count"]))])
        except (OSError, EOFError, ValueError, KeyError, TypeError, BadZipFile):  # cut short, or of another edition
            return None
        return found if isinstance(found, Recording) else None

    def _keep(self, name: str, found: Recording) -> None:
        if self._cache is None:
            return
        arrays: list[NDArray[Any]] = []
        plain = _plain(found, arrays)
        out = io.BytesIO()
        np.savez(out, plain=json.dumps(plain), count=len(arrays), **{f"a{k}": a for k, a in enumerate(arrays)})  # type: ignore[arg-type]  # names are the caller's
        try:
            self._cache.mkdir(parents=True, exist_ok=True)
            write_whole(self._cache / f"{name}.npz", out.getvalue())
            for old in sorted(self._cache.glob("*.npz"), key=lambda p: p.stat().st_mtime)[:-MAX_KEPT]:
                old.unlink(missing_ok=True)
        except OSError:  # a folder that cannot be written to is read anew each time
            return


def _name(path: Path, record: dict[str, Any], microphone: Microphone | None, channel: int | None) -> str:
    digest = blake2b(f"{EDITION} {channel} {json.dumps(record, sort_keys=True)}".encode(), digest_size=16)
    for column in microphone or ():
        digest.update(np.ascontiguousarray(column, dtype=float).tobytes())
    with path.open("rb") as file:
        while piece := file.read(1 << 20):
            digest.update(piece)
    return digest.hexdigest()


def _plain(value: Any, arrays: list[NDArray[Any]]) -> Any:
    """Dataclasses, tuples and arrays as JSON, arrays by their number."""
    if is_dataclass(value) and not isinstance(value, type):
        own = {f.name: _plain(getattr(value, f.name), arrays) for f in fields(value)}
        return {"is": type(value).__name__, "of": own}
    if isinstance(value, np.ndarray):
        arrays.append(value)
        return {"array": len(arrays) - 1}
    if isinstance(value, (tuple, list)):
        return [_plain(one, arrays) for one in value]
    return value.item() if isinstance(value, np.generic) else value


def _made(plain: Any, arrays: list[NDArray[Any]]) -> Any:
    """The way back; only the classes of `_KNOWN` are made."""
    if isinstance(plain, list):
        return tuple(_made(one, arrays) for one in plain)
    if isinstance(plain, dict):
        if "array" in plain:
            return arrays[plain["array"]]
        return _KNOWN[plain["is"]](**{name: _made(one, arrays) for name, one in plain["of"].items()})
    return plain
