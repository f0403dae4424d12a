"""Parts in worker processes, by digest: nothing is built twice, and what was overtaken is dropped.

Two processes: one makes what is looked at first, the bare solid, so that it never waits for the files of a part that
is out of date; the other makes the whole part with its lettering and files as soon as that is seen.

The files of a part lie in the job's cache under the digest of what they follow from, so that a download always
belongs to the very part that was asked for."""

from __future__ import annotations

import re
import shutil
import threading
import time
from collections.abc import Callable, Collection, Sequence
from concurrent.futures import CancelledError
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from backwave.assess import PartOrder, made_digest, part_digest, to_plain
from backwave.atomic_write import write_whole
from backwave.crash import ending
from backwave.errors import BackwaveError
from backwave.files.part_files import SideMade, SideOrder, make_side
from backwave.files.solid_files import preview_stl
from backwave.workers import Ticket, Workers, report

MAX_S, MAX_MEMORY = 120.0, 3_000_000_000  # of a part; one takes some 5 s and 0.2 GB
KEEP = 12  # digests whose files stay in the cache
MAX_BYTES = 200_000_000  # some forty parts with all their files
MAX_AGE_S = 7 * 24 * 3600.0
_FRESH_S = 3600.0  # another workbench on the same job may be handing these out
_OURS = re.compile(r"[0-9a-f]{24}")


@dataclass(frozen=True)
class Solid:
    digest: str  # of what is made of it: of its numbers, and of whether it is stopped
    of: str  # digest of its numbers alone
    folder: Path  # where its files are
    made: SideMade


def _words(wrong: BaseException) -> str:
    # What the kernel could not build is said in its own words; anything else as everywhere.
    return str(wrong) if isinstance(wrong, BackwaveError) else ending(wrong, "building a part").words


def _pool(first: str) -> Workers:
    return Workers(1, (first, "backwave.part.solid", "build123d"), most_bytes=MAX_MEMORY, most_s=MAX_S, what="the part")


def _runs(ticket: Ticket | None, digest: str) -> bool:
    return ticket is not None and ticket.key.split()[0] == digest and not ticket.done


class Solids:
    def __init__(self, cache: Path, tell: Callable[[], None]) -> None:
        self._cache, self._tell = cache, tell
        self._workers: Workers | None = None
        self._quick: Workers | None = None
        self._lock = threading.RLock()  # a ticket overtaken is done in the thread that overtook it
        self._parts: dict[str, tuple[PartOrder, str, str, str]] = {}
        self._good: dict[str, Solid] = {}  # the last good one of each part
        self._built: dict[str, Solid] = {}  # by digest
        self._tickets: dict[str, Ticket] = {}
        self._looks: dict[str, str] = {}  # of each part, the digest of the latest one to be looked at
        self._shown: dict[str, Path] = {}  # by digest: the bare solid
        self._failed: dict[str, str] = {}  # by digest: words
        self._watched: set[str] = set()

    def wanted(self, parts: Sequence[PartOrder], title: str, show: str) -> None:
        """What the parts are now; those that somebody looks at are built."""
        with self._lock:
            self._parts = {part.id: (part, made_digest(part), title, show) for part in parts}
        for id_ in tuple(self._watched):
            self.ask(id_)

    def ask(self, id_: str, *, again: bool = False) -> None:
        """Somebody looks at a part: have it built, unless it is."""
        with self._lock:
            held = self._parts.get(id_)
            if held is None:
                return
            part, digest, title, show = held
            self._watched.add(id_)
            if digest in self._built:
                self._good[id_] = self._built[digest]
                return
            ticket = self._tickets.get(id_)
            if _runs(ticket, digest) or (digest in self._failed and not again):
                return
            self._failed.pop(digest, None)
            if self._workers is None or self._quick is None:
                self._workers, self._quick = _pool("backwave.files.part_files"), _pool("backwave.files.solid_files")
                self._workers.warm()
                clear_old(self._cache)
            folder = self._cache / digest[:24]
            try:
                folder.mkdir(parents=True, exist_ok=True)
            except OSError as wrong:
                self._failed[digest] = _words(wrong)
                return
            order = SideOrder(part, folder, title, part_digest(part)[:12], system=show)
            new = self._tickets[id_] = (
                self._workers.submit(digest, make_side, order, report, lane=id_)
                if part.refused  # it has no solid to be looked at
                else self._quick.submit(f"{digest} bare", preview_stl, part.spec, lane=id_)
            )
        if ticket is not None:  # overtaken, whether it was the bare solid or the whole part
            ticket.cancel()
        then = self._done if part.refused else self._seen
        new.when_done(lambda done: then(id_, digest, order, done))

    def _seen(self, id_: str, digest: str, order: SideOrder, ticket: Ticket) -> None:
        """The bare solid is there, or there is none: on to the whole part, unless it was stopped or overtaken."""
        try:
            write_whole(order.folder / "preview.stl", ticket.result(0))
        except CancelledError:
            self._done(id_, digest, order, ticket)
            return
        except Exception:  # noqa: BLE001 - whatever it is, it is found, and said, when the whole part is made
            pass
        else:
            with self._lock:
                self._shown[digest], self._looks[id_] = order.folder / "preview.stl", digest
        with self._lock:
            held = self._parts.get(id_)
            if held is None or held[1] != digest or self._workers is None:
                return
            new = self._tickets[id_] = self._workers.submit(digest, make_side, order, report, lane=id_)
        self._tell()
        new.on_progress(lambda share, words: self._tell())
        new.when_done(lambda done: self._done(id_, digest, order, done))

    def _done(self, id_: str, digest: str, order: SideOrder, ticket: Ticket) -> None:
        try:
            made: SideMade = ticket.result(0)
        except CancelledError:
            with self._lock:
                held = self._parts.get(id_)
                if held is not None and held[1] == digest:  # stopped, not overtaken
                    self._failed[digest] = "Stopped."
        except Exception as wrong:  # noqa: BLE001 - whatever it was, the page says it
            self._failed[digest] = _words(wrong)
        else:
            with self._lock:
                self._built[digest] = self._good[id_] = Solid(digest, part_digest(order.part), order.folder, made)
                self._looks[id_] = digest
                self._tidy()
        self._tell()

    def _tidy(self) -> None:
        now = {held[1] for held in self._parts.values()} | {s.digest for s in self._good.values()}
        for digest in [d for d in self._built if d not in now][: max(0, len(self._built) - KEEP)]:
            shutil.rmtree(self._built.pop(digest).folder, ignore_errors=True)
        for digest in [d for d in self._shown if d not in self._built and d not in now | set(self._looks.values())]:
            shutil.rmtree(self._shown.pop(digest).parent, ignore_errors=True)
        clear_old(self._cache, {d[:24] for d in (*now, *self._built, *self._shown)})

    def state(self, id_: str) -> tuple[Solid | None, bool, tuple[float, str] | None, str]:
        """The last good solid, whether it is the part as it is now, how far the next one is, what went wrong."""
        with self._lock:
            held, good, ticket = self._parts.get(id_), self._good.get(id_), self._tickets.get(id_)
            digest = held[1] if held is not None else ""
            progress = ticket.progress if ticket is not None and _runs(ticket, digest) else None
            return good, good is not None and good.digest == digest, progress, self._failed.get(digest, "")

    def look(self, id_: str) -> tuple[str, str] | None:
        """The digest of what there is to be looked at, and which of its files: "stl", or "preview" without lettering."""
        with self._lock:
            held, digest = self._parts.get(id_), self._looks.get(id_)
            if held is not None and (held[1] in self._built or held[1] in self._shown):
                digest = held[1]
            if digest is None:
                return None
            made = self._built.get(digest)
            if made is not None and "stl" in made.made.files:
                return digest, "stl"
            return (digest, "preview") if digest in self._shown else None

    def cancel(self, id_: str) -> None:
        if (ticket := self._tickets.get(id_)) is not None:
            ticket.cancel()

    def kept(self) -> dict[str, dict[str, Any]]:
        """Findings of the solids that were built, for `assess.with_solids`."""
        with self._lock:
            return {
                id_: {"digest": solid.of, "checks": [to_plain(check) for check in solid.made.checks]}
                for id_, solid in self._good.items()
            }

    def file(self, digest: str, kind: str) -> Path | None:
        """A file of a part that was built here; None for anything else."""
        if kind == "preview":
            return self._shown.get(digest)
        solid = self._built.get(digest)
        name = solid.made.files.get(kind) if solid is not None else None
        path = solid.folder / name if solid is not None and name is not None else None
        return path if path is not None and path.is_file() else None

    def close(self) -> None:
        for workers in (self._quick, self._workers):
            if workers is not None:
                workers.close()


def clear_old(cache: Path, keep: Collection[str] = (), max_bytes: int = MAX_BYTES) -> int:
    """Clear the folders that workbenches leave behind, one a part as it once was. What is older than a week goes, then
    the oldest until the rest takes no more than `max_bytes`. What was written within the hour stays in any case, and so
    does anything that is no folder of a part."""
    now, found = time.time(), []
    try:
        for folder in cache.iterdir():
            if _OURS.fullmatch(folder.name) and folder.is_dir() and not folder.is_symlink():
                files = [file.stat() for file in folder.iterdir() if file.is_file()]
                last = max([folder.stat().st_mtime, *(one.st_mtime for one in files)])
                found.append((last, sum(one.st_size for one in files), folder))
    except OSError:  # it is not there, or another workbench clears it at this moment
        return 0
    total, gone = sum(size for _, size, _ in found), 0
    for last, size, folder in sorted(found, key=lambda one: one[0]):
        age = now - last
        if folder.name in keep or age < _FRESH_S or (age < MAX_AGE_S and total <= max_bytes):
            continue
        shutil.rmtree(folder, ignore_errors=True)
        total, gone = total - size, gone + 1
    return gone
