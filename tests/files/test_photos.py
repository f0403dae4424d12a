"""Pictures of the job: turned upright, made small, and nothing in them but what is to be seen."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, PngImagePlugin

from backwave.errors import InputError
from backwave.files import photos

SECRET = "50.5 N 7.25 E"


def jpeg(size: tuple[int, int] = (40, 20), turn: int = 1, color: str = "red") -> bytes:
    tags = Image.Exif()
    tags[0x0112], tags[0x010E], tags[0x9286] = turn, SECRET, SECRET  # orientation, description, comment
    tags.get_ifd(0x8825).update({1: "N", 2: (50.0, 30.0, 0.0)})
    out = io.BytesIO()
    Image.new("RGB", size, color).save(out, "JPEG", exif=tags, comment=SECRET.encode(), icc_profile=SECRET.encode())
    return out.getvalue()


def png(mode: str = "RGBA") -> bytes:
    tags, out = PngImagePlugin.PngInfo(), io.BytesIO()
    tags.add_text("Comment", SECRET)
    Image.new(mode, (30, 30), 0).save(out, "PNG", pnginfo=tags, exif=Image.Exif())
    return out.getvalue()


def webp() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (30, 30), "red").save(out, "WEBP", xmp=SECRET.encode())
    return out.getvalue()


@pytest.mark.parametrize("data", [jpeg(), png(), png("P"), png("LA"), webp()], ids=["jpeg", "png", "p", "la", "webp"])
def test_only_the_pixels_are_kept(data: bytes) -> None:
    assert SECRET.encode() in data or data[:4] == b"\x89PNG"
    made = photos.clean_picture(data)
    assert SECRET.encode() not in made
    # JPEG marker segments (ITU-T T.81, table B.1): application data other than JFIF, and comments, are not there
    assert not [marker for marker in markers(made) if 0xE1 <= marker <= 0xEF or marker == 0xFE]
    with Image.open(io.BytesIO(made)) as kept:
        assert (kept.format, kept.mode, dict(kept.getexif())) == ("JPEG", "RGB", {})
        assert not {"comment", "icc_profile", "exif", "xmp"} & kept.info.keys()


def markers(data: bytes) -> list[int]:
    """The marker segments of a JPEG before its scan."""
    found, at = [], 2
    while data[at + 1] != 0xDA:
        assert data[at] == 0xFF
        found.append(data[at + 1])
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return found


@pytest.mark.parametrize("turn", range(1, 9))
def test_it_stands_upright(turn: int) -> None:
    with Image.open(io.BytesIO(photos.clean_picture(jpeg((40, 20), turn)))) as kept:
        assert kept.size == ((40, 20) if turn < 5 else (20, 40))  # Exif 2.32, tag 274: 5 to 8 stand on their side


@given(st.integers(1, 5000), st.integers(1, 400), st.booleans())
@settings(max_examples=15, deadline=None)
def test_it_is_bounded_and_never_made_larger(a: int, b: int, upright: bool) -> None:
    size = (b, a) if upright else (a, b)
    with Image.open(io.BytesIO(photos.clean_picture(jpeg(size)))) as kept:
        assert max(kept.size) <= photos.LONGEST_PX
        assert all(one <= was for one, was in zip(kept.size, size, strict=True))
        assert kept.size == size or max(kept.size) == photos.LONGEST_PX


def test_what_shines_through_is_put_on_white() -> None:
    with Image.open(io.BytesIO(photos.clean_picture(png()))) as kept:
        assert kept.getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no picture"), (b"<svg/>", "no picture"), (b"GIF89a" + bytes(30), "no picture"), (jpeg((900, 900))[:-900], "cut short"),
        (bytes(photos.MAX_BYTES + 1), "too large"), (b"\xff\xd8\xff" + bytes(100), "no picture"),
    ],
    ids=["nothing", "svg", "gif", "cut", "huge", "rubbish"],
)  # fmt: skip
def test_what_is_no_picture_says_so(data: bytes, words: str) -> None:
    with pytest.raises(InputError, match=words):
        photos.clean_picture(data)


def test_a_few_bytes_that_unfold_to_too_many_pixels_are_not_unfolded() -> None:
    out = io.BytesIO()
    Image.new("1", (12_000, 12_000)).save(out, "PNG")
    assert len(out.getvalue()) < 100_000
    with pytest.raises(InputError, match="at most 120 million"):
        photos.clean_picture(out.getvalue())
    with pytest.raises(InputError, match="at most 1 million"):
        photos.clean_picture(jpeg((1200, 1200)), 1_000_000)


def test_it_stays_in_the_job_and_is_written_once(tmp_path: Path) -> None:
    folder = tmp_path / "job"
    folder.mkdir()
    assert photos.keep_picture(folder, "photos/a-1.jpg", jpeg()) == "photos/a-1.jpg"
    first = (folder / "photos/a-1.jpg").read_bytes()
    photos.keep_picture(folder, "photos/a-1.jpg", jpeg(color="blue"))  # sent again: the first stays
    assert (folder / "photos/a-1.jpg").read_bytes() == first
    assert photos.pictures_in(folder) == {"photos/a-1.jpg"}
    for name in (
        "a.jpg",
        "photos/../b.jpg",
        "photos/B.jpg",
        "/photos/b.jpg",
        "photos/b.png",
        "photos/.b.jpg",
        "photos/b\n.jpg",
    ):
        with pytest.raises(InputError, match="name"):
            photos.keep_picture(folder, name, jpeg())
    (tmp_path / "outside.jpg").write_bytes(jpeg())
    (folder / "photos/link.jpg").symlink_to(tmp_path / "outside.jpg")
    assert photos.picture_in(folder, "photos/link.jpg") is None
    assert photos.picture_in(folder, "photos/../../outside.jpg") is None
    assert photos.picture_in(folder, "photos/a-1.jpg") == folder / "photos/a-1.jpg"
    other = tmp_path / "other"
    other.mkdir()
    (other / "photos").symlink_to(tmp_path)
    with pytest.raises(InputError, match="leads out"):
        photos.keep_picture(other, "photos/a.jpg", jpeg())


def test_there_is_an_end_to_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "MAX_PICTURES", 2)
    for n in range(2):
        photos.keep_picture(tmp_path, f"photos/a-{n}.jpg", jpeg())
    with pytest.raises(InputError, match="2 already"):
        photos.keep_picture(tmp_path, "photos/a-3.jpg", jpeg())
    photos.keep_picture(tmp_path, "photos/a-1.jpg", jpeg())  # what is there is there


def test_a_name_that_no_file_can_have_is_not_there(tmp_path: Path) -> None:
    assert photos.picture_in(tmp_path, f"photos/{'a' * 5000}.jpg") is None
    assert photos.picture_in(tmp_path, "photos/a\0.jpg") is None
