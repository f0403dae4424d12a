"""How sure a quantity is: what stands at a key becomes an `uncertain.Reading`.

    "71 ± 1 mm"      half-width, independent: an error of its own, named by the key
    "71 mm u 0.4 mm" standard uncertainty, normal, named by the key
    by = "gauge"     that instrument's half-width, one error for all of the opening's readings that name it
    nothing          the default of its kind (`KINDS`), one error for all of that kind on the opening; a
                     data-sheet dimension is independent of every other
    a list           the mean; see `uncertain.mean_reading` (JCGM 100:2008, 4.2.3 and 5.2.4)

Lengths alone have defaults: any other quantity is exact unless its own text says otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from backwave.errors import InputError
from backwave.job import keys
from backwave.units import Quantity
from backwave.uncertain import Error, Reading, mean_reading

if TYPE_CHECKING:
    from pydantic import BaseModel

    from backwave.job.model import JobFile
    from backwave.job.quantity import Read
    from backwave.job.types import Job

__all__ = ["INSTRUMENTS_MM", "KINDS", "Kind", "half_mm", "instrument_names", "kind_of", "owner_name", "read", "reading"]


@dataclass(frozen=True)
class Kind:
    """A kind of reading and what it may be out by when nothing is said.

    Parameters
    ----------
    name : str, no unit
        In a fitter's words.
    half_mm : float, mm
        Half-width; 0 for what is chosen and not read.
    shared : bool, no unit
        Whether all readings of this kind on one opening share one error.
    why : str, no unit
        On what ground.
    """

    name: str
    half_mm: float
    shared: bool
    why: str = "common trade practice"


KINDS = {
    "metal": Kind("pressed painted metal", 0.3, True),
    "depth": Kind("depth through a hole", 1.0, True),
    "putty": Kind("putty between skin and trim", 1.0, True),
    "height": Kind("height of the factory unit", 1.0, True),
    "sheet": Kind("data-sheet dimension", 0.5, False),
    "chosen": Kind("chosen, not read", 0.0, False, "a place or a size that we choose"),
}

# What the instruments of the trade may be out by where [instruments] does not say (common trade practice).
INSTRUMENTS_MM = {"caliper": 0.05, "gauge": 1.0, "tape": 1.0}


def kind_of(table: str, path: tuple[keys.Step, ...]) -> Kind:
    """The kind of a length by where it stands.

    Parameters
    ----------
    table : str, no unit
        "opening", "speaker" or "adapter".
    path : tuple of str or int, no unit
        The key below the row.
    """
    words = [p for p in path if isinstance(p, str) and p not in ("left", "right")]
    head, last = words[0], words[-1]
    if table == "opening":
        if head == "behind":
            return KINDS["depth" if last == "clear" else "chosen"]
        return KINDS[{"trim": "putty", "factory": "height", "at": "chosen"}.get(head, "metal")]
    if table == "speaker":
        return KINDS["sheet"]
    return KINDS["sheet" if head == "foam" and last in ("back", "closed") else "chosen"]


def instrument_names(model: JobFile) -> frozenset[str]:
    """Names that `by` may give.

    Parameters
    ----------
    model : JobFile, no unit
        The file.
    """
    return frozenset(model.instruments) | frozenset(INSTRUMENTS_MM)


def half_mm(model: JobFile, instrument: str) -> float:
    """An instrument's half-width.

    Parameters
    ----------
    model : JobFile, no unit
        The file, for its [instruments].
    instrument : str, no unit
        Its name.

    Raises
    ------
    InputError
        An instrument nobody defined.
    """
    if instrument in model.instruments:
        return model.instruments[instrument].to("mm")
    if instrument in INSTRUMENTS_MM:
        return INSTRUMENTS_MM[instrument]
    raise InputError("no such instrument", instrument, ", ".join(sorted(instrument_names(model))))


def owner_name(model: JobFile, table: str, id_: str) -> str:
    """What the keys of a row begin with: its id, with the table before it where an opening has the same id.

    Parameters
    ----------
    model : JobFile, no unit
        The file.
    table, id_ : str, no unit
        "opening", "speaker" or "adapter", and the row.
    """
    if table == "speaker" and any(o.id == id_ for o in model.opening):
        return f"speaker.{id_}"
    return id_


def read(job: Job, table: str, id_: str, path: str, unit: str = "mm") -> Reading | None:
    """What stands at a key, as a reading; None where nothing stands there.

    Parameters
    ----------
    job : Job, no unit
        The job.
    table, id_ : str, no unit
        "speaker", "adapter" or "opening", and its id.  For an opening as one side has it, use `Place.read`.
    path : str, no unit
        The key below the row: "profile[2][1]", "motor.Xmech", "foam.closed".
    unit : str, no unit
        The unit wanted.
    """
    row = {"opening": job.opening, "speaker": job.speaker, "adapter": job.adapter}[table](id_)
    owner = owner_name(job.model, table, id_)
    return reading(job, table, owner, owner, row, path, unit)


def reading(
    job: Job, table: str, owner: str, named: str, row: BaseModel, path: str, unit: str = "mm", *, assumed: bool = False
) -> Reading | None:
    """What stands at a key of a row, as a reading; None where nothing stands there.

    Parameters
    ----------
    job : Job, no unit
        For its instruments and what was assumed.
    table : str, no unit
        "opening", "speaker" or "adapter": decides the kind of reading.
    owner : str, no unit
        Who shares an instrument's error: the opening's id.
    named : str, no unit
        What the reading's name begins with: the id, with the side where it was read on that side.
    row : pydantic model, no unit
        The opening as this side has it, the speaker, the adapter.
    path : str, no unit
        The key below the row.
    unit : str, no unit
        The unit wanted.
    assumed : bool, no unit
        That nobody gave it; where False, the job's own list of what was assumed decides.

    Raises
    ------
    InputError
        A key that does not exist, or that holds no quantity.
    """
    steps = keys.parse_key(path)
    value = keys.at(row, steps)
    if value is None:
        return None
    if not isinstance(value, Quantity | tuple) or (isinstance(value, tuple) and not all(isinstance(v, Quantity) for v in value)):
        raise InputError("no quantity at this key", f"{named}.{path}", "a key that takes a number with a unit")
    label = f"{named}.{path}"
    assumed = assumed or label in job.assumed_keys
    kind = kind_of(table, steps)
    return _reading(job.model, label, value, unit, kind, _by(row, steps), owner, assumed=assumed)


def _by(row: BaseModel, steps: tuple[keys.Step, ...]) -> str | None:
    """The nearest `by` above the key."""
    for depth in range(len(steps) - 1, -1, -1):
        table = keys.at(row, steps[:depth])
        found = getattr(table, "by", None)
        if found:
            return str(found)
    return None


def _reading(
    model: JobFile, label: str, value: Read, unit: str, kind: Kind, by: str | None, owner: str, *, assumed: bool
) -> Reading:
    several = value if isinstance(value, tuple) else (value,)
    length = several[0].dimension == "length"
    instrument = _instrument(model, label, unit, kind, by, owner) if length else None
    if isinstance(value, tuple):
        # The scatter speaks for the readings' own errors; what the instrument is out by comes once on top.
        return mean_reading(label, [q.to(unit) for q in value], instrument)
    half, u = value.half_to(unit), value.u_to(unit)
    if half is not None:
        errors: tuple[Error, ...] = (Error(label, "rectangular", half),)
    elif u is not None:
        errors = (Error(label, "normal", u),)
    else:
        errors = () if instrument is None else (instrument,)
    return Reading(label, value.to(unit), errors, assumed=assumed)


def _instrument(model: JobFile, label: str, unit: str, kind: Kind, by: str | None, owner: str) -> Error | None:
    """The error of whatever it was read with, in millimeters turned into the unit wanted."""
    scale = _MM[unit] if unit in _MM else None
    if scale is None:
        return None
    if by is not None:
        return Error(f"{owner}:{by}", "rectangular", half_mm(model, by) * scale)
    if kind.half_mm == 0.0:
        return None
    size = half_mm(model, "default") if "default" in model.instruments else kind.half_mm
    name = f"{owner}:default" if "default" in model.instruments else f"{owner}:{kind.name}"
    return Error(name if kind.shared else label, "rectangular", size * scale)


_MM: Mapping[str, float] = {"mm": 1.0, "m": 1e-3, "cm": 0.1}
