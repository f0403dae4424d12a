"""A new job: a commented file from six readings; everything else has a stated default."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from backwave.errors import InputError, JobError, Problem, QuantityError
from backwave.job.disk import create
from backwave.job.load import FILE, loads
from backwave.job.model import FORMAT
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

_TEXT = """\
# {title}: measured numbers go in here, once each; backwave works out the rest.
# How sure you are belongs to the number: "58 mm" takes the default for its kind, "58 ± 1 mm" says so,
# ["58.2 mm", "57.8 mm", "58.1 mm"] are three readings of the same thing.  Every key: docs/job-file.md
#
# Before the trim comes off: disconnect the battery and wait as long as the vehicle maker's service information
# says. Doors carry airbags and the sensors that fire them; what that information says goes before this tool.
format = {format}
title  = {title_quoted}
show   = "metric"                  # or "us": inches, pounds, Fahrenheit

[instruments]                      # what each may be out by, either way; name one with by = "caliper"
caliper = "0.05 mm"
gauge   = "1 mm"                   # a stick or putty used to find a depth
tape    = "1 mm"

[[opening]]
id      = "front-door"
sides   = ["left", "right"]        # measured on the first, mirrored for the second
zone    = "door"                   # how hot it gets: door, dash, under-dash, pillar, shelf, floor, cargo
{hole}
{behind}
# A row without an angle is the minimum, looked for all round; with one (angle = "4 o'clock", as you face that side)
# it holds 30 degrees either way. Measure at the axis and near the hole's edge, and where a window moves also with it
# half and up: what was not measured is named and is never ok.
# Such rows are added inside the list:
#     {{ radius = "60 mm", clear = "55 mm", what = "glass", window = "down" }},
#     {{ radius = "60 mm", clear = "60 mm", what = "carriage", window = "half" }},
#     {{ radius = "60 mm", clear = "79 mm", what = "glass", window = "up" }},
# window  = "none"                     # where no window moves behind the opening
{trim}
# flange  = {{ diameter = "182 mm" }}   # the factory part's footprint; left out: the driver's frame and some
# fixings = [                          # the factory's own fixing points: x right, y up, as seen from the cabin
#   {{ x = "0 mm", y = "80.5 mm", hole = "5.5 mm", head = "10 mm", holds = "rivet nut" }},
# ]
# factory = {{ height = "34 mm" }}      # factory unit with its own foam, face to top

# [opening.right]                      # what was measured on the right by itself
# behind  = [{{ radius = "0 mm", clear = "57.5 ± 1 mm", what = "glass", window = "down" }}]

{speaker}
# frame     = "166 mm"                 # diameter of the frame
# rim       = "5.2 mm"                 # thickness of the frame's rim
# front     = "9 mm"                   # highest point at rest above the rim's mounting side
# profile   = [["70 mm", "0 mm"], ["46 mm", "38 mm"], ["46 mm", "64 mm"]]   # radius, depth; says more than magnet
# holes     = {{ count = 4, circle = "156 mm", diameter = "5 mm", first = "0 deg" }}
# terminals = {{ angle = "225 deg", width = "34 mm", radius = "62 mm", depth = "26 mm" }}
# motor     = {{ Xmax = "5.5 mm", Xmech = "9 mm" }}

{adapter}
"""


def starter(title: str = "", **readings: str) -> str:
    """The text of a new job file. JobError: readings that are no lengths above 0, or that no job may hold, all of them
    at once."""
    said = {name: text.strip() for name, text in readings.items() if text.strip()}
    problems = []
    for name, text in said.items():
        if name not in ASKED:
            raise InputError("a reading of a new job", name, ", ".join(ASKED))
        try:
            if parse(text, "length").value <= 0:
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
    value = {name: _quoted(said.get(name, "... mm")) for name in ASKED}
    text = _TEXT.format(
        format=FORMAT,
        title=title,
        title_quoted=_quoted(title),
        hole=_line(known["hole"], f"hole    = {{ diameter = {value['hole']} }}", ASKED["hole"]),
        behind=_line(
            known["behind"],
            f'behind  = [{{ radius = "0 mm", clear = {value["behind"]}, what = "glass", window = "down" }}]',
            ASKED["behind"] + ", at a radius from the axis",
        ),
        trim=_line(known["trim"], f"trim    = {{ clear = {value['trim']} }}", ASKED["trim"]),
        speaker=_block(
            driver,
            "[[speaker]]",
            'id        = "woofer"',
            f"cutout    = {value['cutout']}           # from its data sheet",
            f"magnet    = {value['magnet']}           # diameter",
            f"depth     = {value['depth']}           # mounting depth, rim to the back of the magnet",
        ),
        adapter=_block(
            driver,
            "[[adapter]]",
            'opening   = "front-door"',
            'speaker   = "woofer"',
            'process   = "print"                # or "sheet": cut from layers of sheet stock',
            'material  = "ASA"',
            'thickness = "auto"                 # or a length: the part\'s own, between its two faces',
        ),
    )
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


def _asked(problem: Problem) -> Problem:
    """A problem of the file that would be written, at what was asked for."""
    for name, key in _KEYS.items():
        if problem.key == key:
            return replace(problem, file="command line", line=None, key=f"--{name}")
    return problem


def _problem(name: str, text: str, what: str) -> Problem:
    return Problem("command line", None, f"--{name}", text, 'a length above 0, such as "143.5 mm"', what)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ") + '"'


def _line(known: bool, line: str, what: str) -> str:
    return f"{line}   # {what}" if known else f"# {line}   # MEASURE: {what}"


def _block(known: bool, *lines: str) -> str:
    return (
        "\n".join(lines) if known else "\n".join(["# MEASURE, then take the marks away:", *("# " + n for n in lines)])
    )
