"""How everything ends that goes wrong: a sentence and an exit code, and for our own faults a report to send.

An error that backwave raises says what is wrong itself.  What the system refuses (no room, no permission, a folder where
a file is wanted) becomes a sentence with what to do.  Anything else is a fault of the program: exit 70, never 1, which
belongs to a verdict, and a report that holds no value of the job and no name of a folder.  Ground floor."""

from __future__ import annotations

import errno
import os
import platform
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from backwave import __version__
from backwave.errors import BackwaveError, BuildError
from backwave.plain_text import plain_text

FAILED = 70  # exit code of a fault of backwave: EX_SOFTWARE of sysexits
INTERRUPTED = 130  # exit code after Ctrl-C, as shells give it: 128 and the signal's number

# What the system refuses: what is said of the file, what to do, exit code (2: the input is wrong, 3: something is missing).
_REFUSED: dict[int, tuple[str, str, int]] = {
    errno.ENOSPC: ("There is no room left on the disk for {name}", "Make room, or choose another folder.", 3),
    errno.EDQUOT: ("Your share of the disk is used up, no room for {name}", "Make room, or choose another folder.", 3),
    errno.EFBIG: ("{name} may not get so large here", "Raise the limit on file sizes, or choose another disk.", 3),
    errno.EROFS: ("{name} is on a disk that can only be read", "Choose a folder on another disk.", 3),
    errno.EACCES: ("You have no permission for {name}", "Change its permissions, or choose another folder.", 3),
    errno.EPERM: ("The system does not permit this with {name}", "Change its permissions, or choose another folder.", 3),
    errno.EMFILE: ("Too many files are open at once, among them {name}", "Close other programs, or raise the limit (ulimit -n).", 3),
    errno.ENFILE: ("Too many files are open on this machine", "Close other programs and try again.", 3),
    errno.ENOMEM: ("There is not enough memory", "Close other programs and try again.", 3),
    errno.ENOENT: ("{name} is not there", "Check the name, or make it first.", 3),
    errno.EIO: ("The disk reported an error at {name}", "Check the disk, and copy what matters to another one.", 3),
    errno.ENAMETOOLONG: ("The name {name} is too long for this disk", "Use a shorter name.", 2),
    errno.EISDIR: ("{name} is a folder; a file is wanted", "Name a file.", 2),
    errno.ENOTDIR: ("{name} leads through a file where a folder is wanted", "Move that file, or choose another folder.", 2),
    errno.EEXIST: ("{name} is there already, and is no folder", "Move it, or choose another name.", 2),
    errno.ELOOP: ("{name} is a link that leads to itself", "Name the file itself.", 2),
    errno.ENXIO: ("{name} is no ordinary file", "Name an ordinary file.", 2),
    errno.ESPIPE: ("{name} is no ordinary file", "Name an ordinary file.", 2),
    errno.EPIPE: ("The program at the other end does not read any more", "Start it again.", 3),
    errno.EADDRINUSE: ("Another program already listens at this port", "Choose another one: --port, 0 for a free one.", 3),
}  # fmt: skip
# Their words come from the interpreter and name types and attributes, never what a job says.
_SPEAKS_OF_CODE = (
    AttributeError, TypeError, NameError, ImportError, IndexError, ZeroDivisionError, OverflowError, RecursionError,
    NotImplementedError,
)  # fmt: skip
_PATH = re.compile(r"(?:[/\\][\w.@~-]+){2,}|\b[A-Za-z]:\\\S+")
_MAX_FRAMES = 40
Frame = tuple[str, int, str]  # file as the report names it, line, function


@dataclass(frozen=True)
class Ending:
    """What a person is told at the end."""

    words: str  # what to show, safe for a terminal; it may have several lines
    exit_code: int  # what the command line returns


def ending(error: BaseException, doing: str = "") -> Ending:
    """What to tell of an error, and the exit code; a fault of ours is reported in a file first. `doing`: what was being
    done, for the report: `command_words` of a command line, or a page; no value of the job."""
    said, code = _said(error)
    if said is not None:
        return Ending(plain_text(said, lines=True), code)
    text = report(error, doing)
    kept = _kept(text)
    where = f"What to send: {kept}" if kept is not None else f"What to send:\n\n{text}"
    words = (
        f"backwave failed: this is a fault of the program ({_last(error)}), not of your job.\n{where}\n"
        "It says where the program failed; values of the job and names of folders are left out. Read it before you send it."
    )
    return Ending(plain_text(words, lines=True), FAILED)


def report(error: BaseException, doing: str = "") -> str:
    """What to send of a fault: version, system, what was being done, where it failed; the same for the same fault."""
    lines = [
        "backwave failed",
        f"version   {__version__}",
        f"Python    {platform.python_version()} ({platform.python_implementation()})",
        f"system    {platform.system()} {platform.release()} {platform.machine()}",
        f"doing     {doing or 'not known'}",
    ]
    seen: set[int] = set()
    one: BaseException | None = error
    while one is not None and id(one) not in seen:
        seen.add(id(one))
        lines += ["" if one is error else "\ncaused by", _title(one)]
        frames = [*frames_of(one.__traceback__), *getattr(one, "worker_frames", ())]
        if len(frames) > _MAX_FRAMES:
            half = _MAX_FRAMES // 2
            frames = [*frames[:half], ("...", len(frames) - 2 * half, "frames left out"), *frames[-half:]]
        lines += [f"  {file}:{line} {function}" for file, line, function in frames]
        one = one.__cause__ or (None if one.__suppress_context__ else one.__context__)
    return plain_text("\n".join(lines) + "\n", lines=True)


def frames_of(trace: TracebackType | None) -> tuple[Frame, ...]:
    """Where a traceback leads through: files below the package or a library, without the folders they lie in."""

    def walk(held: TracebackType | None) -> Iterator[Frame]:
        while held is not None:
            code = held.tb_frame.f_code
            yield _short(code.co_filename), held.tb_lineno, code.co_qualname
            held = held.tb_next

    return tuple(walk(trace))


def command_words(arguments: Sequence[str]) -> str:
    """A command line for a report: the command and its options, without what a person gave them."""
    shown = [re.fullmatch(r"(--[a-z][a-z-]*)(=.*)?", word, re.DOTALL) for word in arguments]
    command = [k for k, word in enumerate(arguments) if k == 0 and re.fullmatch(r"[a-z]{1,12}", word)]
    words = [
        word if k in command else (m[1] if m else "…") for k, (word, m) in enumerate(zip(arguments, shown, strict=True))
    ]
    return " ".join(("backwave", *words))


def _said(error: BaseException) -> tuple[str | None, int]:
    """The sentence of what can be expected, with its exit code; None for a fault of ours."""
    if isinstance(error, BackwaveError) and not isinstance(error, BuildError):  # that one is a finding, or a fault
        return str(error), error.exit_code
    if isinstance(error, KeyboardInterrupt):
        return "Stopped.", INTERRUPTED
    if isinstance(error, MemoryError):
        return "There is not enough memory for this. Close other programs; look for a number that is far too large.", 3
    if isinstance(error, UnicodeDecodeError):
        byte = error.object[error.start : error.start + 1].hex()
        return f"A file is no text in UTF-8 (byte 0x{byte} at {error.start + 1}). Save it as UTF-8.", 2
    if isinstance(error, UnicodeEncodeError):
        return "A name or a text holds half a letter, which cannot be written. Type it again.", 2
    if isinstance(error, OSError) and error.errno in _REFUSED:
        what, do, code = _REFUSED[error.errno]
        return f"{what.format(name=_name(error))}. {do}", code
    # what pathlib makes of ELOOP up to 3.12
    if isinstance(error, RuntimeError) and str(error).startswith("Symlink loop"):
        return _said(OSError(errno.ELOOP, "", str(error).rpartition("from ")[2].strip("'")))
    if isinstance(error, OSError) and error.filename is not None:
        return f"{_name(error)} cannot be used: {error.strerror or type(error).__name__}.", 3
    return None, FAILED


def _name(error: OSError) -> str:
    """The file that an error of the system is about, as short as it can be said from here."""
    if not isinstance(error.filename, (str, bytes)):
        return "what was to be written" if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG) else "a file"
    path = os.fsdecode(error.filename)
    name = plain_text(path if len(path) <= 200 else f"{path[:80]}…{path[-80:]}")
    try:
        return str(Path(name).relative_to(Path.cwd())) if Path(name).is_absolute() else name
    except (OSError, ValueError):
        return name


def _title(error: BaseException) -> str:
    """The exception's type; its words only where they cannot hold what a job says."""
    kind = type(error)
    name = kind.__qualname__ if kind.__module__ == "builtins" else f"{kind.__module__}.{kind.__qualname__}"
    if not isinstance(error, _SPEAKS_OF_CODE) or not str(error):
        return name
    return f"{name}: {_PATH.sub('…', plain_text(str(error))[:300])}"


def _last(error: BaseException) -> str:
    frames = (*frames_of(error.__traceback__), *getattr(error, "worker_frames", ()))
    own = [frame for frame in frames if frame[0].startswith("backwave/")] or list(frames)
    return type(error).__name__ + (f" at {own[-1][0]}:{own[-1][1]}" if own else "")


def _short(file: str) -> str:
    """A module's file without the folders it lies in."""
    path = Path(file).as_posix()
    for root in ("/site-packages/", "/backwave/"):
        _before, found, rest = path.rpartition(root)
        if found:
            return rest if root == "/site-packages/" else f"backwave/{rest}"
    return path.rpartition("/")[2]


def _kept(text: str) -> Path | None:
    """Where the report lies; None if it can lie nowhere.  The same fault is kept once."""
    import tempfile  # not at the top: --help would wait for it
    from hashlib import blake2b

    name = f"backwave-failed-{blake2b(text.encode(), digest_size=4).hexdigest()}.txt"
    try:
        path = Path(tempfile.gettempdir()) / name
        try:
            with path.open("x", encoding="utf-8") as file:  # never through a link that somebody laid there
                file.write(text)
        except FileExistsError:
            if path.is_symlink() or path.read_text(encoding="utf-8", errors="replace") != text:
                return None
    except OSError:
        return None
    return path
