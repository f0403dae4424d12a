"""Photographs from a phone or a disk: known by their content, turned upright, made small, and written anew without any tag.

What a camera writes beside a picture (place, time, device, thumbnail) is not read further and not kept: only the pixels
are written, as JPEG."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Callable
from pathlib import Path

from backwave.atomic_write import write_whole
from backwave.errors import InputError

MAX_BYTES = 40_000_000
MAX_PIXELS = 120_000_000
MAX_PICTURES = 1000
LONGEST_PX = 1600
QUALITY = 82
FOLDER = "photos"
_KINDS = ("JPEG", "PNG", "WEBP")
_NAME = re.compile(r"photos/[a-z0-9][a-z0-9-]{0,60}\.jpg")


def clean_picture(data: bytes, most_pixels: int = MAX_PIXELS) -> bytes:
    """A picture as a JPEG of its pixels alone, its longer side at most `LONGEST_PX`. InputError: too many bytes or
    pixels, another kind of file, one that is cut short."""
    from PIL import Image, ImageOps

    if len(data) > MAX_BYTES:
        most = f"at most {MAX_BYTES // 1_000_000} MB"
        raise InputError("a picture that is too large", f"{len(data) / 1e6:.0f} MB", most)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # the limit is ours, below
            picture = Image.open(io.BytesIO(data), formats=_KINDS)  # by content; pixels are not read yet
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        raise InputError("no picture", f"{len(data)} bytes", "a JPEG, PNG or WebP file") from None
    width, height = picture.size
    if width * height > most_pixels:
        most = f"at most {most_pixels // 1_000_000} million"
        raise InputError("a picture with too many pixels", f"{width} × {height}", most)
    try:
        picture.draft("RGB", (LONGEST_PX, LONGEST_PX))  # a JPEG is decoded at a fraction of its size
        upright = ImageOps.exif_transpose(picture)
        upright.thumbnail((LONGEST_PX, LONGEST_PX))
        plain = Image.new("RGB", upright.size, "white")
        clear = upright.convert("RGBA") if upright.mode in ("RGBA", "LA", "P", "PA") else None
        plain.paste(clear or upright.convert("RGB"), mask=clear)
    except (OSError, ValueError, SyntaxError, EOFError):
        raise InputError("a picture that is cut short", f"{len(data)} bytes", "the whole file") from None
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def keep_picture(folder: Path, name: str, data: bytes, clean: Callable[[bytes], bytes] = clean_picture) -> str:
    """Write a cleaned picture into the job's photos, unless that name is there already; gives its path inside the job.
    InputError: as `clean_picture`; another kind of name; a `photos` that leads out of the job; more than
    `MAX_PICTURES`."""
    if not _NAME.fullmatch(name):
        raise InputError("a picture's name", name, "photos/ with small letters, digits and dashes, and .jpg")
    path = folder / name
    if not _inside(folder, path):
        raise InputError("a folder of pictures that leads out of the job", name, f"{FOLDER}/ inside the job folder")
    if not path.exists():
        if len(pictures_in(folder)) >= MAX_PICTURES:
            raise InputError("pictures", f"{MAX_PICTURES} already", "fewer: move some out of photos/")
        write_whole(path, clean(data))
    return name


def picture_in(folder: Path, name: str) -> Path | None:
    """Where a picture of the job is; None where there is none, or where its name leads out of the job."""
    path = folder / name
    try:
        return path if name.startswith(f"{FOLDER}/") and _inside(folder, path) and path.is_file() else None
    except (OSError, ValueError):  # longer than names are here, or with letters that no name has
        return None


def _inside(folder: Path, path: Path) -> bool:
    return path.resolve().is_relative_to(folder.resolve() / FOLDER)


def pictures_in(folder: Path) -> frozenset[str]:
    """Paths of the pictures that are there, inside the job folder."""
    held = folder / FOLDER
    if not held.is_dir():
        return frozenset()
    return frozenset(f"{FOLDER}/{path.name}" for path in held.iterdir() if path.is_file() and path.name[0] != ".")
