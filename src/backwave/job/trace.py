"""Traced outlines: a file beside its picture, in millimeters, mirrored into the cabin's view when read."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from backwave.errors import JobError, Problem
from backwave.job.fields import Number, Outline, Point, Table
from backwave.job.model import JobFile
from backwave.job.model_errors import in_words
from backwave.job.named_file import find, read_bytes
from backwave.job.raw_checks import raw_faults, shown
from backwave.job.size_limits import MAX_BYTES
from backwave.job.toml_spans import Lines

MAX_VERTICES = 10_000
_WANTED = "a traced outline in the job folder, such as photos/ring.toml"
_Spread = Annotated[Number, Field(ge=0, le=50)]


class _Hole(Table):
    x: Annotated[Number, Field(ge=-1000, le=1000)]
    y: Annotated[Number, Field(ge=-1000, le=1000)]
    diameter: Annotated[Number, Field(ge=0.1, le=1000)]
    u: _Spread | None = None


class _File(Table):
    outline: Annotated[Outline, Field(min_length=3)]
    holes: tuple[_Hole, ...] = ()
    u: _Spread = 1.0
    seen_from: Literal["front", "back"] = "front"
    picture: str | None = None
    scale: str | float | dict[str, float | str] | None = None


@dataclass(frozen=True)
class Trace:
    """A traced part as seen from the cabin."""

    outline_mm: tuple[Point, ...]
    holes_mm: tuple[tuple[float, float, float], ...]
    u_mm: float  # standard uncertainty of the edge
    text: str
    u_given: bool = True  # whether the file says so itself


def read_all(job: JobFile, folder: Path | None) -> tuple[dict[str, Trace], list[Problem]]:
    """Every traced file a job names, and what is wrong with them."""
    traces: dict[str, Trace] = {}
    problems: list[Problem] = []
    flanges = [m.flange for o in job.opening for m in (o, o.left, o.right) if m is not None]
    for name in dict.fromkeys(f.traced for f in flanges if f is not None and f.traced is not None):
        try:
            path = find(folder, name, "a traced file that is not there", _WANTED)
            traces[name] = _read(read_bytes(path, name, MAX_BYTES, _WANTED).decode("utf-8"), name)
        except JobError as error:
            problems += error.problems
        except UnicodeDecodeError:
            problems.append(Problem(name, None, "", "bytes that are no UTF-8", _WANTED, "not readable"))
    return traces, problems


def _read(text: str, name: str) -> Trace:
    lines = Lines(text, name)

    def problem(path: tuple[str | int, ...], message: str, found: object, accepted: str) -> Problem:
        return Problem(name, lines.line(path), ".".join(map(str, path)), shown(found), accepted, message)

    problems = [problem(*fault) for fault in islice(raw_faults(lines.data, MAX_VERTICES), 10)]
    if problems:
        raise JobError(tuple(problems))
    try:
        file = _File.model_validate(lines.data)
    except ValidationError as error:
        raise JobError(
            tuple(
                problem(tuple(e["loc"]), in_words(e["msg"]), e.get("input", ""), _WANTED)
                for e in error.errors(include_url=False)[:10]
            )
        ) from None
    sign = -1.0 if file.seen_from == "back" else 1.0
    return Trace(
        tuple((sign * x, y) for x, y in file.outline),
        tuple((sign * h.x, h.y, h.diameter) for h in file.holes),
        file.u,
        text,
        "u" in file.model_fields_set,
    )
