"""A new job: a commented file from six readings; everything else has a stated default."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from backwave.errors import InputError, JobError, Problem, QuantityError
from backwave.job.disk import create
from backwave.job.load import FILE, loads
from backwave.job.model import FORMAT
from backwave.job.toml_spans import written
from backwave.plain_text import plain_text
from backwave.units import parse

# the six readings that give a first verdict
ASKED = {
    "hole": "diameter of the hole in the metal",
    "behind": "minimum free depth behind the metal, all round, window down",
    "trim": "metal to the back of the grille",
    "cutout": "cutout the driver asks for",
    "magnet": "diameter of the driver's magnet",
    "depth": "mounting depth of the driver",
}

# where each of them goes, and the title
_KEYS = {
    "title": "title",
    "hole": "opening.front-door.hole.diameter",
    "behind": "opening.front-door.behind[0].clear",
    "trim": "opening.front-door.trim.clear",
    "cutout": "speaker.woofer.cutout",
    "magnet": "speaker.woofer.magnet",
    "depth": "speaker.woofer.depth",
}
_MAX_TITLE = 120


def starter(title: str = "", **readings: str) -> str:
    """The text of a new job file. JobError: readings that are no lengths above 0, or that no job may hold, all of them
    at once."""
    said = {name: text.strip() for name, text in readings.items() if text.strip()}
    problems = []
    for name, text in said.items():
        if name not in ASKED:
            raise InputError("a reading of a new job", name, ", ".join(ASKED))
        try:
            if any(parse(one, "length").value <= 0 for one in _each(text)):
                problems.append(_problem(name, text, "not above 0"))
        except QuantityError as error:
            problems.append(_problem(name, text, error.what))
    if problems:
        raise JobError(tuple(problems))
    title = title.strip() or "My job"
    if plain_text(title) != title:  # it stands in a comment too, which a line break would end
        raise InputError("title", title, "one line of text without control characters")
    known = {name: name in said for name in ASKED}
    driver = known["cutout"] and known["magnet"] and known["depth"]
    value = {name: written(_each(said.get(name, "... mm"))) for name in ASKED}
    value = {name: one if ";" in said.get(name, "") else one[1:-1] for name, one in value.items()}
    text = Path(__file__).with_name("starter.toml").read_text(encoding="utf-8").format(
        format=FORMAT, title=title, title_quoted=_quoted(title),
        hole=_line(known["hole"], f"hole    = {{ diameter = {value['hole']} }}", ASKED["hole"]),
        behind=_line(
            known["behind"], f'behind  = [{{ radius = "0 mm", clear = {value["behind"]}, what = "glass", window = "down" }}]',
            ASKED["behind"] + ", at a radius from the axis",
        ),
        trim=_line(known["trim"], f"trim    = {{ clear = {value['trim']} }}", ASKED["trim"]),
        first="" if driver else "# MEASURE, then take the marks away:\n", mark="" if driver else "# ",
        **{name: value[name] for name in ("cutout", "magnet", "depth")},
    )  # fmt: skip
    try:
        loads(text)
    except JobError as error:  # what is written is what every other command reads
        raise JobError(tuple(map(_asked, error.problems))) from None
    return text


def write(folder: Path, title: str = "", **readings: str) -> Path:
    """Make a job folder with its file; nothing that is there is written over. InputError: there is a job already."""
    path = folder / FILE
    if path.is_symlink() and not path.exists():  # writing there would make a file wherever it leads
        raise InputError("a link that leads nowhere", str(path), "a new or empty folder")
    if path.exists():
        raise InputError("there is a job already", str(path), "a new or empty folder")
    if os.path.lexists(folder) and not folder.is_dir():
        raise InputError("not a folder", str(folder), "a new or empty folder")
    name = plain_text(folder.resolve().name).replace("-", " ").capitalize()
    text = starter(title or name[:_MAX_TITLE], **readings)
    for inner in ("photos", "readings"):
        (folder / inner).mkdir(parents=True, exist_ok=True)
    if not create(folder, text):
        raise InputError("there is a job already", str(path), "a new or empty folder")
    return path


def wrong(name: str, text: str) -> str:
    """What is wrong with one reading alone, in words; "" where a new job takes it."""
    driver = ("cutout", "magnet", "depth")  # in the file, and checked, once all three are there
    try:
        starter(**dict.fromkeys(driver if name in driver else (name,), text))
    except JobError as error:
        return next((f"{p.message}; accepted: {p.accepted}" for p in error.problems if p.key == f"--{name}"), "")
    return ""


def _each(text: str) -> list[str]:
    """Several readings of one thing are told apart by semicolons."""
    return [one for part in text.split(";") if (one := part.strip())]


def _asked(problem: Problem) -> Problem:
    """A problem of the file that would be written, at what was asked for."""
    for name, key in _KEYS.items():
        if problem.key.startswith(key):
            return replace(problem, file="command line", line=None, key=f"--{name}")
    return problem


def _problem(name: str, text: str, what: str) -> Problem:
    return Problem("command line", None, f"--{name}", text, 'a length above 0, such as "143.5 mm"', what)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ") + '"'


def _line(known: bool, line: str, what: str) -> str:
    return f"{line}   # {what}" if known else f"# {line}   # MEASURE: {what}"
