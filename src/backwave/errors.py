"""Every error backwave raises on purpose, in one small tree.

    BackwaveError              anything we can explain; `exit_code` is what the command line returns
    |- InputError              a value is wrong (also a ValueError)                          exit 2
    |  |- QuantityError        text that is no quantity, or one of the wrong kind
    |  `- JobError             problems in a job file, all of them at once
    |- MissingError            something needed is not there; the text says how to get it    exit 3
    |- TooMuchError            a computation used up its time or memory; says what to change  exit 2
    |- WorkerError             a process ended without an answer; says what ended it         exit 3
    `- BuildError              the solid kernel could not make a feature; becomes a finding

The parts of an error are attributes and the sentence is built from them, so that an error crosses a worker
process whole and can be written as JSON.  Ground floor: imports nothing of backwave."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

MAX_FOUND = 120  # letters of what was found that a sentence repeats


class BackwaveError(Exception):
    """Anything backwave can explain to a person."""

    exit_code = 2


class InputError(BackwaveError, ValueError):
    """A value that cannot be used."""

    def __init__(self, what: str, found: object = "", accepted: str = "") -> None:
        super().__init__(what, found, accepted)
        self.what, self.found, self.accepted = what, found, accepted

    def __str__(self) -> str:
        text = self.what
        if self.found != "":
            found = repr(self.found)
            text += f": found {found if len(found) <= MAX_FOUND else found[: MAX_FOUND - 4] + '...' + found[-1]}"
        if self.accepted:
            text += f"; accepted: {self.accepted}"
        return text


def check_number(what: str, value: float | None, least: float | None = None) -> None:
    """InputError: a number that is not finite, not above 0, or (with `least`) below that; None passes."""
    if value is None or (isfinite(value) and (value > 0 if least is None else value >= least)):
        return
    raise InputError(what, value, "a finite number" + (" above 0" if least is None else f", {least:g} or more"))


class QuantityError(InputError):
    """Text that is not a quantity, or a quantity of another kind than asked for."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong in a file a person wrote."""

    file: str  # where: the file's name inside the job folder and the dotted key
    line: int | None  # line counted from 1; None where the file as a whole is meant
    key: str
    found: str  # what stood there, and what may stand there
    accepted: str
    message: str  # one sentence that says what is wrong
    nearest: str = ""  # the known key closest to an unknown one, or ""

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        text = f"{where}: {self.key}: {self.message}" if self.key else f"{where}: {self.message}"
        if self.found:
            text += f"\n    found:    {self.found}"
        if self.accepted:
            text += f"\n    accepted: {self.accepted}"
        if self.nearest:
            text += f"\n    nearest known key: {self.nearest}"
        return text


class JobError(InputError):
    """Everything wrong with a job, all at once, in the order of the file."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("the job has problems")
        self.args = (problems,)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(str(p) for p in self.problems)


def job_error(
    file: str, message: str, found: str = "", accepted: str = "", *, line: int | None = None, key: str = ""
) -> JobError:
    """The error of one problem."""
    return JobError((Problem(file, line, key, found, accepted, message),))


class MissingError(BackwaveError):
    """Something needed is not there."""

    exit_code = 3

    def __init__(self, what: str, how: str) -> None:
        super().__init__(what, how)
        self.what, self.how = what, how

    def __str__(self) -> str:
        return f"{self.what}. {self.how}"


class BuildError(BackwaveError):
    """A feature that the solid kernel could not make; shown as a finding, never as a traceback."""

    exit_code = 70  # it is to become a finding; where it did not, that is a fault of ours

    def __init__(self, feature: str, reason: str) -> None:
        super().__init__(feature, reason)
        self.feature, self.reason = feature, reason

    def __str__(self) -> str:
        return f"{self.feature} could not be built: {self.reason}"


class TooMuchError(BackwaveError):
    """A computation that used up the time or the memory it may take. `key`, `found`: which key of the job to change,
    and what stands there; "" where nobody can say."""

    def __init__(self, what: str, why: str, key: str = "", found: str = "") -> None:
        super().__init__(what, why, key, found)
        self.what, self.why, self.key, self.found = what, why, key, found

    def __str__(self) -> str:
        change = f"{self.key} (now {self.found})" if self.key else "what was entered last: a number may be far off"
        return f"Too much to compute: {self.what} took {self.why} and was given up. Change {change}."


class WorkerError(BackwaveError):
    """A process that was to work something out ended without an answer."""

    exit_code = 3

    def __init__(self, exit_code_of_it: int | None) -> None:
        super().__init__(exit_code_of_it)
        self.exit_code_of_it = exit_code_of_it

    def __str__(self) -> str:
        code = self.exit_code_of_it
        if code == -9:
            return "The system ended the process that was working on it: memory ran out. Close other programs; look for a number that is far too large."
        return f"The process that was working on it ended without an answer (exit code {code}). Try again; if it ends so again, leave out what was changed last."


def positive(what: str, value: float) -> float:
    """The value, where it is a finite number above 0. `value`, any unit."""
    if not (isfinite(value) and value > 0):
        raise InputError(what, value, "a finite number above 0")
    return float(value)


def require_positive(**values: float) -> None:
    """Refuse, by its name, what is not a finite number above 0. `values`, any unit."""
    for name, value in values.items():
        positive(name, value)
