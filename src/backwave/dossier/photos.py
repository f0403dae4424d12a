"""Photographs for paper: as the record names them, made small, without any tag; what cannot be shown is said."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from backwave.dossier.page_cache import kept
from backwave.errors import InputError
from backwave.files.photos import MAX_BYTES, clean_picture

if TYPE_CHECKING:
    from backwave.assess.work.work_plan import Working


@dataclass(frozen=True)
class Photos:
    """The photographs that the record names."""

    there: Mapping[str, bytes] = field(default_factory=dict)  # JPEG of bounded size, without any tag
    lost: Mapping[str, str] = field(default_factory=dict)  # why another cannot be shown


def photographs(working: Working, folder: Path) -> Photos:
    """Every photograph that the record names, made small; one that cannot be shown is said, and stops nothing."""
    there: dict[str, bytes] = {}
    lost: dict[str, str] = {}
    home = folder.resolve()
    for name in _named(working):
        path = (folder / name).resolve()
        if not path.is_relative_to(home):
            lost[name] = "it leads out of the job folder"
        elif not path.is_file():
            lost[name] = "it is not in the job folder"
        elif path.stat().st_size > MAX_BYTES:
            lost[name] = f"{path.stat().st_size / 1e6:.0f} MB, at most {MAX_BYTES // 1_000_000} MB are read"
        else:
            try:
                there[name] = kept(clean_picture, path.read_bytes())
            except InputError as error:
                lost[name] = str(error)
            except OSError as error:
                lost[name] = error.strerror or "it cannot be read"
    return Photos(there, lost)


def _named(working: Working) -> Iterable[str]:
    named = [one.photos for one in working.condition] + [one.photos for one in working.teardown]
    return dict.fromkeys(name for photos in named for name in photos)
