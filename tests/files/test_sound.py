"""Sound files in and out; judged by Python's own wave module and by odd files that scipy ships for its tests."""

from __future__ import annotations

import os
import wave
from pathlib import Path

import numpy as np
import pytest
import scipy.io
import soundfile

from backwave.errors import InputError, MissingError
from backwave.files import recordings
from backwave.files.recordings import Inbox, phone_coding, read_sound, wave_bytes, write_wave

ODD = sorted((Path(scipy.io.__file__).parent / "tests" / "data").glob("test-*.wav"))


@pytest.mark.parametrize("bits", [16, 24])
def test_another_reader_finds_the_same_samples(tmp_path: Path, bits: int) -> None:
    x = np.random.default_rng(1).uniform(-1, 1, (1000, 2))
    path = write_wave(tmp_path / "a.wav", x, 48000, bits)
    with wave.open(str(path)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (2, bits // 8, 48000)
        raw = np.frombuffer(file.readframes(1000), dtype=np.uint8).reshape(-1, bits // 8)
    values = np.zeros(len(raw), dtype=np.int64)
    for k in range(bits // 8):
        values |= raw[:, k].astype(np.int64) << (8 * k)
    values -= (values >> (bits - 1)) << bits
    assert values.reshape(-1, 2) / 2 ** (bits - 1) == pytest.approx(x, abs=1.01 / 2**bits + 1 / 2 ** (bits - 1) / 2)
    assert read_sound(path).samples == pytest.approx(x, abs=2.0 ** (1 - bits) + 1e-7)


@pytest.mark.parametrize(("kind", "lossy"), [("FLAC", False), ("OGG", True), ("WAV", False), ("AIFF", False)])
def test_common_kinds_are_read(tmp_path: Path, kind: str, lossy: bool) -> None:
    t = np.arange(44100) / 44100
    path = tmp_path / f"a.{kind.lower()}"
    soundfile.write(path, 0.3 * np.sin(2 * np.pi * 440 * t), 44100, format=kind)
    got = read_sound(path)
    assert got.rate_hz == 44100
    assert got.lossy is lossy
    assert got.samples.shape[1] == 1
    assert np.abs(got.samples).max() == pytest.approx(0.3, abs=0.02)


@pytest.mark.parametrize("path", ODD, ids=lambda p: p.name)
def test_odd_files_are_read_or_refused_in_words(path: Path) -> None:
    refused = ""
    try:
        got = read_sound(path)
    except InputError as error:
        refused = error.accepted
    assert refused or np.isfinite(got.samples).all()


# the first bytes that ISO/IEC 14496-12 (ftyp), ISO/IEC 14496-3 (ADTS), RFC 4867 (AMR), RFC 7845 (Opus) and RFC 8794 (EBML) set down
PHONES = {
    "a.m4a": b"\0\0\0\x20ftypM4A \0\0\0\0", "b.wav": b"\0\0\0\x1cftypmp42", "c.3gp": b"\0\0\0\x18ftyp3gp5", "d.aac": b"\xff\xf1\x50\x80",
    "e.amr": b"#!AMR\n", "f.webm": b"\x1a\x45\xdf\xa3\x9f", "g.ogg": b"OggS\0\x02" + bytes(22) + b"OpusHead",
}  # fmt: skip


@pytest.mark.parametrize("name", PHONES)
def test_what_phones_make_small_is_refused_by_what_it_is(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(PHONES[name] + bytes(200))
    with pytest.raises(InputError) as refused:
        read_sound(path)
    assert "set the recorder to WAV" in str(refused.value)
    with pytest.raises(InputError, match="set the recorder to WAV"):
        Inbox(tmp_path).take("0" * 16, name, 0, 4000, path.read_bytes())
    assert not list(tmp_path.glob("readings/*"))


def test_what_is_read_is_taken_for_no_phone_s_coding(tmp_path: Path) -> None:
    for kind in ("WAV", "FLAC", "AIFF", "OGG"):
        path = tmp_path / f"a.{kind.lower()}"
        soundfile.write(path, np.zeros(4000), 44100, format=kind)
        assert phone_coding(path.read_bytes()[:64]) == "", kind
        soundfile.write(tmp_path / "opus.ogg", np.zeros(4800), 48000, format="OGG", subtype="OPUS")
    assert phone_coding((tmp_path / "opus.ogg").read_bytes()[:64]) == "Opus in an OGG file"


def test_a_recording_comes_in_pieces_whole_under_a_name_of_its_own(tmp_path: Path) -> None:
    sound = wave_bytes(np.random.default_rng(2).uniform(-0.5, 0.5, (9000, 1)), 48000)
    cut = [(k, sound[k : k + 10_000]) for k in range(0, len(sound), 10_000)]
    inbox = Inbox(tmp_path)

    def send(id_: str, times: int = 1, name: str = "../my take.wav") -> list[tuple[str, bool]]:
        return [inbox.take(id_ * 8, name, at, len(sound), piece) for at, piece in cut for _ in range(times)]

    said = send("ab", 2)  # every answer lost once
    assert said == [("", False)] * (2 * len(cut) - 2) + [("readings/my-take.wav", False)] * 2
    assert (tmp_path / "readings" / "my-take.wav").read_bytes() == sound
    assert send("cd", name="other.wav")[-1] == ("readings/my-take.wav", True)
    cut[-1] = (cut[-1][0], cut[-1][1][:-1] + b"x")  # another recording of the same name
    assert send("ef")[-1] == ("readings/my-take-2.wav", False)
    assert {p.name for p in (tmp_path / "readings").iterdir()} == {"my-take.wav", "my-take-2.wav"}
    assert inbox.take("ab" * 8, "my take.wav", 0, len(sound), sound) == ("readings/my-take.wav", False)


def test_what_comes_in_part_has_an_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recordings, "MAX_HALF", 3_000_000)
    sound = wave_bytes(np.zeros((9000, 1)), 48000)
    inbox = Inbox(tmp_path)
    for k in range(3):  # the least counts for 1 MB
        inbox.take(f"{k:016x}", "a.wav", 0, len(sound), sound[:100])
    with pytest.raises(InputError, match="at once"):
        inbox.take("3" * 16, "a.wav", 0, len(sound), sound[:100])
    old = tmp_path / "readings" / f".backwave-{0:016x}.part"
    os.utime(old, (0, 0))  # given up long ago: it makes room
    inbox.take("3" * 16, "a.wav", 0, len(sound), sound[:100])
    assert not old.exists()
    Inbox(tmp_path)
    assert not list((tmp_path / "readings").iterdir())


@pytest.mark.parametrize(
    ("name", "sent", "said"),
    [
        ("a.wav", b"", "an empty file"), ("a.mp3", b"ID3\x04" + bytes(99), "an MP3 file"), ("a.ogg", b"OggS" + bytes(99), "an OGG file"),
        ("a.caf", b"caff" + bytes(99), "a CAF file"), ("a.avi", b"RIFF\x10\0\0\0AVI " + bytes(99), "no recording"),
        ("a.wav", b"RIFF\x10\0\0\0AVI " + bytes(99), "no recording"), ("a.wav", b"RIFF", "no recording"),
        ("a.flac", b"fLaC" + bytes(99), "a.flac"), ("a.wav", wave_bytes(np.zeros((99, 1)), 48000)[:30], "a.wav"),
        ("a.wav", wave_bytes(np.zeros((0, 1)), 48000), "an empty recording"), ("a.txt", wave_bytes(np.zeros((99, 1)), 48000), "ending"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_never_comes_in(tmp_path: Path, name: str, sent: bytes, said: str) -> None:
    with pytest.raises(InputError, match=said):
        Inbox(tmp_path).take("0" * 16, name, 0, len(sent), sent)
    assert not list(tmp_path.glob("readings/*"))


@pytest.mark.parametrize(
    ("id_", "name", "at", "whole", "piece"),
    [
        ("../../x" + "0" * 9, "a.wav", 0, 100, b"RIFF" + bytes(96)), ("0" * 16, "a.wav", 0, 61_000_000, b"RIFF"),
        ("0" * 16, "a.wav", 50, 100, bytes(50)), ("0" * 16, "a.wav", 0, 100, b"RIFF" + bytes(200)),
        ("0" * 16, "a.toml", 0, 100, b"RIFF" + bytes(96)), ("0" * 16, "a.wav", 0, 100, b"#!/bin/sh"), ("0" * 16, "a.wav", 0, 0, b""),
    ],
)  # fmt: skip
def test_what_is_no_piece_of_a_recording_leaves_nothing(
    tmp_path: Path, id_: str, name: str, at: int, whole: int, piece: bytes
) -> None:
    with pytest.raises(InputError):
        Inbox(tmp_path).take(id_, name, at, whole, piece)
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


def test_a_two_hour_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "long.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes(b"")
    frames = 7200 * 8000
    head = bytearray(path.read_bytes())
    head[4:8] = (36 + 2 * frames).to_bytes(4, "little")
    head[40:44] = (2 * frames).to_bytes(4, "little")
    with path.open("wb") as out:
        out.write(head)
        out.truncate(44 + 2 * frames)  # a hole on the disk, not 115 MB of it
    with pytest.raises(InputError, match="120 minutes"):
        read_sound(path)


@pytest.mark.parametrize("data", [b"", b"hello, this is no sound at all", b"RIFF\x00\x00\x00\x00WAVE", bytes(5000)])
def test_what_is_no_sound_is_refused(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "x.wav"
    path.write_bytes(data)
    with pytest.raises(InputError, match=r"x\.wav"):
        read_sound(path)


def test_what_is_not_there_says_how() -> None:
    with pytest.raises(MissingError):
        read_sound(Path("nowhere.wav"))


def test_nothing_is_clipped_silently() -> None:
    with pytest.raises(InputError, match="beyond full scale"):
        wave_bytes(np.array([0.0, 1.2]), 48000)
    with pytest.raises(InputError):
        wave_bytes(np.array([0.0]), 48000, 8)
    assert wave_bytes(np.zeros(10), 48000) == wave_bytes(np.zeros(10), 48000)
