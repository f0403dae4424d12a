"""A folder that is written anew, and in which nothing is touched that somebody else put there or changed.

    replace_folder   writes files by name; what an earlier run wrote and this one does not is taken away
    refuse_foreign   a folder that was written for another job stays as it is

What is ours stands in `contents.txt`: a mark, the job, then each file with its SHA-256.  A file counts as ours only if it is
listed there and its digest is the one noted.  While files are being written the list is called
`contents.unfinished.txt`, so that a folder of which half was written never looks whole.

From: bytes by their names inside the folder.  Units: none."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from backwave.atomic_write import aside, clear_left, write_whole
from backwave.errors import InputError

CONTENTS = "contents.txt"
UNFINISHED = "contents.unfinished.txt"
_MARK = "# written by backwave: each file with its SHA-256"
_OPEN = "# not finished: pack once more"
_JOB = re.compile(r"# job: ([0-9a-f]+) ?(.*)")
_ROW = re.compile(r"([0-9a-f]{64})  (.+)")
Owned = dict[str, set[str]]


@dataclass(frozen=True)
class Handover:
    """What became of files that are not ours, or not as they were written."""

    kept: Mapping[str, str]  # files that stood where one of ours belongs, and the names under which they are kept
    # files of an earlier run that were changed since, and stay although this run has none of that name
    left: tuple[str, ...] = ()


@dataclass(frozen=True)
class Owner:
    """The job that a folder is written for."""

    title: str  # as a person knows it, and as its files are now
    digest: str
    # digests of its revisions so far; None: the folder is inside the job's own, and is not asked about
    earlier: frozenset[str] | None = frozenset()


def refuse_foreign(folder: Path, owner: Owner) -> None:
    """Refuse a folder that was written for another job. InputError: what it holds is no revision of this job."""
    if owner.earlier is None:
        return
    for name in (CONTENTS, UNFINISHED):
        for digest, title in _rows(folder / name, _JOB) or ():
            if digest not in {owner.digest, *owner.earlier}:
                wanted = f"an empty folder, or one that {owner.title!r} was packed into"
                raise InputError(f"{folder} holds what was packed of another job", title, wanted)


def replace_folder(folder: Path, files: Mapping[str, bytes], owner: Owner | None = None) -> Handover:
    """Write files into a folder, the list of them last. InputError: A job's own folder, one written for another job,
    or a link in it that leads elsewhere: nothing was written; OSError: the disk is full, or the folder may not be
    written."""
    own = _owned(folder)
    if owner is not None:
        refuse_foreign(folder, owner)
    if not own and (folder / "job.toml").exists():
        raise InputError("a folder that holds a job of its own", str(folder), "an empty one, or one of an earlier pack")
    for name in files:
        if not _inside(folder, name):
            raise InputError("a link that leads out of the folder", str(folder / name), "a plain folder")
    for parent in {(folder / name).parent for name in (CONTENTS, *files)}:
        if parent.is_dir():
            clear_left(parent)
    head = [_MARK] if owner is None else [_MARK, f"# job: {owner.digest} {' '.join(owner.title.split())}"]
    listed = [f"{_digest(data)}  {name}" for name, data in sorted(files.items())]
    earlier = [f"{digest}  {name}" for name, digests in sorted(own.items()) for digest in sorted(digests)]
    kept: dict[str, str] = {}

    def keep(name: str, ours: bool) -> None:
        path = folder / name
        if path.exists() and not ours:
            kept[name] = aside(path, "kept").name
            path.replace(path.with_name(kept[name]))

    for name in (CONTENTS, UNFINISHED):
        keep(name, _listed(folder / name) is not None)
    write_whole(folder / UNFINISHED, _text([*head, _OPEN, *earlier, *listed]))
    for name in files:
        keep(name, _is(folder / name, own.get(name, set()) | {_digest(files[name])}))
    (folder / CONTENTS).unlink(missing_ok=True)
    for name, data in files.items():
        if not _is(folder / name, {_digest(data)}):
            write_whole(folder / name, data)
    left = []
    for name in sorted(own.keys() - files.keys()):
        if _is(folder / name, own[name]):
            (folder / name).unlink()
        elif (folder / name).exists():
            left.append(name)
    write_whole(folder / CONTENTS, _text([*head, *listed]))
    (folder / UNFINISHED).unlink()
    return Handover(kept, tuple(left))


def _owned(folder: Path) -> Owned:
    """What earlier runs wrote here, with its digests, inside this folder alone."""
    found: Owned = {}
    for name in (CONTENTS, UNFINISHED):
        for digest, listed in _listed(folder / name) or ():
            if _inside(folder, listed):
                found.setdefault(listed, set()).add(digest)
    return found


def _listed(path: Path) -> list[tuple[str, str]] | None:
    """Digests and names of a list of ours; None where it is not there, or another tool's."""
    return _rows(path, _ROW)


def _rows(path: Path, kind: re.Pattern[str]) -> list[tuple[str, str]] | None:
    if not path.is_file():
        return None
    mark, *lines = path.read_text(encoding="utf-8", errors="replace").split("\n")
    return [(row[1], row[2]) for line in lines if (row := kind.fullmatch(line))] if mark == _MARK else None


def _inside(folder: Path, name: str) -> bool:
    base = folder.resolve()
    return (base / name).resolve().is_relative_to(base) and (base / name).resolve() != base


def _is(path: Path, digests: set[str]) -> bool:
    return path.is_file() and _digest(path.read_bytes()) in digests


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _text(lines: list[str]) -> bytes:
    return ("\n".join(lines) + "\n").encode()
