"""Traced outlines: a file beside its picture, in millimeters, mirrored into the cabin's view when read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from backwave.errors import JobError, Problem
from backwave.job.fields import Number, Point, Table
from backwave.job.model import JobFile
from backwave.job.toml_spans import Lines

__all__ = ["Trace", "read_all"]


class _Hole(Table):
    x: Number
    y: Number
    diameter: Annotated[Number, Field(gt=0)]
    u: Annotated[Number, Field(ge=0)] | None = None


class _File(Table):
    outline: Annotated[tuple[Point, ...], Field(min_length=3)]
    holes: tuple[_Hole, ...] = ()
    u: Annotated[Number, Field(ge=0)] = 1.0
    seen_from: Literal["front", "back"] = "front"
    picture: str | None = None
    scale: str | float | dict[str, float | str] | None = None


@dataclass(frozen=True)
class Trace:
    """A traced part as seen from the cabin.

    Parameters
    ----------
    outline_mm : tuple of (x, y), mm
        Its edge.
    holes_mm : tuple of (x, y, diameter), mm
        Its holes.
    u_mm : float, mm
        Standard uncertainty of the edge.
    text : str, no unit
        The file as read.
    u_given : bool, no unit
        Whether the file says so itself.
    """

    outline_mm: tuple[Point, ...]
    holes_mm: tuple[tuple[float, float, float], ...]
    u_mm: float
    text: str
    u_given: bool = True


def read_all(job: JobFile, folder: Path | None) -> tuple[dict[str, Trace], list[Problem]]:
    """Every traced file a job names, and what is wrong with them.

    Parameters
    ----------
    job : JobFile, no unit
        The job.
    folder : Path or None, no unit
        Its folder; None: a job that is a text alone has no files.
    """
    traces: dict[str, Trace] = {}
    problems: list[Problem] = []
    flanges = [m.flange for o in job.opening for m in (o, o.left, o.right) if m is not None]
    for name in dict.fromkeys(f.traced for f in flanges if f is not None and f.traced is not None):
        path = None if folder is None else folder / name
        accepted = "a traced outline in the job folder, such as photos/ring.toml"
        if path is None or folder is None or not path.is_file():
            problems.append(Problem(name, None, "", "no such file", accepted, "a traced file that is not there"))
        elif not path.resolve().is_relative_to(folder.resolve()):
            problems.append(
                Problem(name, None, "", "a link out of the folder", accepted, "leads out of the job folder")
            )
        else:
            try:
                traces[name] = _read(path.read_text(encoding="utf-8"), name)
            except JobError as error:
                problems += error.problems
            except UnicodeDecodeError:
                problems.append(Problem(name, None, "", "bytes that are no UTF-8", accepted, "not readable"))
    return traces, problems


def _read(text: str, name: str) -> Trace:
    lines = Lines(text, name)
    try:
        file = _File.model_validate(lines.data)
    except ValidationError as error:
        raise JobError(
            tuple(
                Problem(
                    name,
                    lines.line(e["loc"]),
                    ".".join(map(str, e["loc"])),
                    str(e.get("input", ""))[:80],
                    "",
                    e["msg"],
                )
                for e in error.errors(include_url=False)
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
