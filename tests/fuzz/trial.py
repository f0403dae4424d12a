"""One job file tried: what became of it, judged by rules that know nothing of the reader."""

from __future__ import annotations

import json
import re
import time
import traceback
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from backwave.errors import BackwaveError, JobError, TooMuchError

SECONDS = 2.0
_CODE = re.compile(
    r"sys\.|<class|object at 0x|Traceback|NoneType|datetime\.|pydantic|[Ii]nput should|set_int_max|'(?:str|int|float|list|dict)' object|dict_keys|\bTrue\b|\bFalse\b"
)  # fmt: skip
_RAW = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")


@dataclass(frozen=True)
class Outcome:
    """What became of one file."""

    kind: str
    """job, verdict, JobError, given up, or what should not be: the exception and where, a poor message, or slow."""
    seconds: float
    words: str = ""

    @property
    def fine(self) -> bool:
        return self.kind in ("job", "verdict", "JobError", "given up")


def poor(error: JobError) -> str:
    """What is wrong with the way an error speaks; "" where nothing is."""
    if not error.problems:
        return "no problem in it"
    for problem in error.problems:
        said = f"{problem.key} {problem.message} {problem.accepted} {problem.nearest}"
        words = said.replace(problem.found, "") if problem.found else said
        if not problem.file or not problem.message:
            return "no file or no message"
        if problem.key and problem.line is None:
            return f"no line: {problem.message}"
        if not (problem.found or problem.accepted or problem.line is None):
            return f"neither found nor accepted: {problem.message}"
        if (code := _CODE.search(words)) is not None:
            return f"speaks of code: {code[0]}"
        if _RAW.search(f"{said}{problem.found}"):
            return "raw letters"
        if len(str(problem)) > 6_000:
            return f"{len(str(problem))} letters"
    return ""


def where(error: BaseException) -> str:
    """The exception and the last lines of ours in its traceback."""
    ours = [f for f in traceback.extract_tb(error.__traceback__) if "/backwave/" in Path(f.filename).as_posix()]
    spots = " < ".join(f"{Path(f.filename).name}:{f.lineno}" for f in reversed(ours[-2:]))
    return f"{type(error).__name__} {spots}"


def tried_load(text: str, folder: Path | None = None) -> tuple[Outcome, Any]:
    """Read a text; the job too, where it is one."""
    from backwave.job import loads

    started, job = time.process_time(), None
    try:
        job = loads(text, folder)
        kind, words = "job", ""
    except JobError as error:
        fault = poor(error)
        kind, words = (f"JobError: {fault}" if fault else "JobError"), str(error)[:500]
    except Exception as error:  # noqa: BLE001  what the trial is for
        kind, words = where(error), repr(error)[:300]
    took = time.process_time() - started
    return Outcome("slow load" if took > SECONDS else kind, took, words), job


def tried_whole(text: str, folder: Path | None = None, drawn: bool = False) -> Outcome:
    """Read a text, judge the job, write the verdict as JSON; for some the drawings, the plan and its CSV as well."""
    from backwave.assess import assess, check_json

    outcome, job = tried_load(text, folder)
    if job is None:
        return outcome
    started = time.process_time()
    try:
        result = assess(job, draws=2_000)
        json.dumps(check_json(result), allow_nan=False)
        if drawn:
            draw(job, result)
        kind, words = "verdict", ""
    except JobError as error:
        fault = poor(error)
        kind, words = (f"JobError: {fault}" if fault else "JobError"), str(error)[:500]
    except TooMuchError as error:  # its budget of time is used up, which it says
        kind, words = "given up", str(error)
    except BackwaveError as error:
        kind, words = f"{where(error)} (explained)", str(error)[:300]
    except MemoryError:
        kind, words = "out of memory", ""
    except Exception as error:  # noqa: BLE001  what the trial is for
        kind, words = where(error), repr(error)[:300]
    return Outcome(kind, time.process_time() - started, words)


def draw(job: Any, result: Any) -> None:
    """Everything that is drawn or listed of a job without the solid kernel."""
    from backwave.assess import charts
    from backwave.assess.work.work_plan import shopping_table, working, working_json
    from backwave.drawing.chart import chart_svg
    from backwave.drawing.face import face_svg
    from backwave.drawing.harness import harness_svg
    from backwave.drawing.section import section_svg
    from backwave.drawing.wiring import faces_svg, supply_svg
    from backwave.plain_text import csv_bytes
    from backwave.plan.work_state import done_of_words

    for place in result.places:
        section_svg(place, "light", system=result.show)
        face_svg(place, "light", system=result.show)
    if result.wires is not None:
        supply_svg(result.wires, result.title, "paper", system=result.show)
    if result.harness is not None:
        harness_svg(result.harness, result.title, "paper")
        faces_svg(result.harness.plugs, "Plugs", "paper") if result.harness.plugs else ""
    if result.prediction is not None:
        for chart in charts(result.prediction).values():
            chart_svg(chart, "paper")
    made = working(job, result, {}, done_of_words(()), frozenset())
    json.dumps(working_json(made), allow_nan=False)
    csv_bytes(shopping_table(made.items))
