"""A file is there whole or not at all, and nobody else's is written over.  Ground floor: for whoever writes."""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import re
import secrets
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from hashlib import blake2b
from pathlib import Path

_OLD_S = 3600.0  # no file takes that long to be written
_LEFT = re.compile(r"\.backwave-(?P<host>[0-9a-f]{6})-(?P<pid>\d+)-[0-9a-f]{8}(\..*)?")
LOCK = ".lock"
LOCK_WAIT_S = 10.0
_LOCK_AGAIN_S = 0.01
_cleared: set[Path] = set()


@contextmanager
def replace_on_success(path: Path) -> Iterator[Path]:
    """A path in the same folder to write to; moved onto `path` at the end, removed on an error. `path`: where the file
    shall stand; its folder is made if it is not there."""
    with _new(path) as held:
        yield held
        _finish(held, path)
        held.replace(path)
        _sync(path.parent)


def write_whole(path: Path, data: bytes) -> Path:
    """Write bytes so that a reader sees the old file or the new one."""
    with replace_on_success(path) as held:
        held.write_bytes(data)
    return path


def aside(path: Path, word: str) -> Path:
    """A free name beside a file, to keep another version of it: "job.toml.theirs-20260102-030405"."""
    stem = f"{path.name}.{word}-{time.strftime('%Y%m%d-%H%M%S')}"
    names = (stem if n == 1 else f"{stem}-{n}" for n in range(1, 10_000))
    return next(p for name in names if not (p := path.with_name(name)).exists())


def write_if_unchanged(path: Path, data: bytes, seen: bytes | None, keep: Callable[[bytes], object]) -> bool:
    """Write bytes over a file only if it still holds what was seen there; a link stays one, its target is written.
    Where the system can, the two files change names in one step, and what came out is looked at: whatever somebody else
    wrote up to that step goes back to where it was. Elsewhere it is looked at right before the step. `keep`: takes what
    somebody wrote and somebody else wrote over at the same moment; returns false: something else stands there now, and
    stays."""
    path = path.resolve()
    if _now(path) != seen:
        return False
    with _new(path) as held:
        held.write_bytes(data)
        _finish(held, path)
        if seen is None:
            return _placed(held, path)
        try:
            if not _exchanged(held, path):
                if _now(path) != seen:
                    return False
                held.replace(path)
            elif (theirs := held.read_bytes()) != seen:
                _put_back(held, path, data, theirs, keep)
                return False
        except FileNotFoundError:  # somebody took it away
            return False
        finally:
            _sync(path.parent)
    return True


def _put_back(held: Path, path: Path, ours: bytes, theirs: bytes, keep: Callable[[bytes], object]) -> None:
    """Change names again until what comes out is what was put in: the latest of theirs stands there then."""
    for _ in range(100):
        _exchanged(held, path)
        out = held.read_bytes()
        if out == ours:
            return
        keep(theirs)  # written over by themselves while ours stood there
        ours, theirs = theirs, out
    keep(theirs)


def clear_left(folder: Path) -> None:
    """Remove what a process that is gone left half-written in a folder: only files named as ours are."""
    with contextlib.suppress(OSError):
        for path in folder.glob(".backwave-*"):
            found = _LEFT.fullmatch(path.name)
            if found is None or int(found["pid"]) == os.getpid():
                continue
            gone = found["host"] == here() and not alive(int(found["pid"]))
            if gone or time.time() - path.stat().st_mtime > _OLD_S:
                path.unlink(missing_ok=True)


def alive(pid: int) -> bool:
    """Whether a process of this machine runs; True where the system does not tell."""
    if os.name == "nt":  # there a signal ends it
        return True
    try:
        os.kill(pid, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True


@cache
def here() -> str:
    """This machine, in six letters."""
    return blake2b(socket.gethostname().encode(), digest_size=3).hexdigest()


@contextmanager
def _new(path: Path) -> Iterator[Path]:
    """An empty file beside, with the rights that a new one has; removed at the end if it is still there. What the
    system refuses meanwhile names the file that was to be written, not the one beside it."""
    folder = path.parent
    if path.exists() and not path.is_file():  # its name could be taken from a folder, or from a device
        code = errno.EISDIR if path.is_dir() else errno.ENXIO
        raise OSError(code, os.strerror(code), str(path))
    folder.mkdir(parents=True, exist_ok=True)
    if folder not in _cleared:
        _cleared.add(folder)
        clear_left(folder)
    held = folder / f".backwave-{here()}-{os.getpid()}-{secrets.token_hex(4)}{path.suffix}"
    try:
        os.close(os.open(held, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
        yield held
    except OSError as error:
        if error.errno is None or error.filename not in (None, str(held)):
            raise
        raise OSError(error.errno, error.strerror, str(path)) from error
    finally:
        held.unlink(missing_ok=True)


def _finish(held: Path, path: Path) -> None:
    """All of it on the disk before it takes the old one's place, and with the old one's rights."""
    with held.open("rb") as written:
        os.fsync(written.fileno())
    with contextlib.suppress(FileNotFoundError):
        held.chmod(path.stat().st_mode & 0o777)


def _sync(folder: Path) -> None:
    """The names in a folder on the disk as well, where the system can."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # a file system that has no such thing
            raise
    finally:
        os.close(handle)


def _now(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None


def _placed(held: Path, path: Path) -> bool:
    """Where there was no file: unless there is one by now."""
    try:
        os.link(held, path)
    except FileExistsError:
        return False
    except OSError:  # a file system without links
        if path.exists():
            return False
        held.replace(path)
    _sync(path.parent)
    return True


def _exchanged(a: Path, b: Path) -> bool:
    """Let two files change names in one step; False where the system cannot."""
    call = _renameat2()
    if call is None:
        return False
    here_, exchange = -100, 2  # AT_FDCWD, RENAME_EXCHANGE
    if call(here_, os.fsencode(a), here_, os.fsencode(b), exchange) == 0:
        return True
    code = ctypes.get_errno()
    if code in (errno.EINVAL, errno.ENOSYS, errno.ENOTSUP):
        return False
    raise OSError(code, os.strerror(code), str(b))


@cache
def _renameat2() -> Callable[..., int] | None:
    if os.name == "nt":
        return None
    found = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if found is not None:
        found.argtypes = (ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_uint)
    return found


@contextmanager
def job_lock(folder: Path, wait_s: float = LOCK_WAIT_S) -> Iterator[None]:
    """Hold the lock of a job: whoever writes its files, `job.toml` and `log.toml` alike; reading needs none. It holds
    off other threads and other processes, and the system releases it when its holder dies, however it dies; a thread
    that holds it already takes it once more at once. The empty `.lock` it leaves in the job folder means nothing by
    itself and may be deleted when no backwave runs. A text editor knows nothing of it. `wait_s`: how long to wait for
    another holder: one that is stopped, not dead, must not stop everybody; TimeoutError: somebody else held it all the
    time; OSError: A folder that may not be written."""
    from filelock import FileLock, Timeout  # not needed to read

    lock = FileLock(folder.resolve() / LOCK, poll_interval=_LOCK_AGAIN_S, is_singleton=True)
    try:
        lock.acquire(wait_s)
    except Timeout:
        raise TimeoutError(
            f"another backwave has been writing {folder.name} for {wait_s:g} s; end it, or try again"
        ) from None
    try:
        yield
    finally:
        lock.release()
