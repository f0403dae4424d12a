"""`backwave read JOB`: the readings of a job, before, after and predicted, and what they teach."""

from __future__ import annotations

from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from backwave.cli import output
from backwave.errors import InputError, MissingError
from backwave.plain_text import file_stem

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from rich.table import Table

    from backwave.assess import Assessment
    from backwave.assess.proof.before_after import Lesson, SweepPair
    from backwave.job import Job


def heard(job: Job, result: Assessment, *, quiet: bool = False) -> Assessment:
    """An assessment with what the job's readings output."""
    if not job.file.reading or job.folder is None:
        return result
    from backwave.assess import proven
    from backwave.files.recordings import Takes

    with _bar(quiet=quiet) as tell:
        return proven(job, result, Takes(job.folder), tell)


def run(folder: Path, *, learn: bool, keep: bool, plot: Path | None, as_json: bool) -> int:
    """Show what the readings of a job say; returns the exit code."""
    from backwave.assess import assess, engine_of, proof_json
    from backwave.assess.proof.calibration import learned_of, lesson_json
    from backwave.job import load

    job = load(folder)
    result = heard(job, assess(job, draws=2_000), quiet=as_json)
    proof = result.proof
    if proof is None:
        raise MissingError(
            "The job names no recording",
            "Write a sweep (backwave sweep), record it at the seat, and add a [[reading]]; docs/first-job.md shows how",
        )
    lessons: list[Lesson] = []
    if learn or keep:
        if result.prediction is None or not proof.pairs:
            raise InputError("readings to learn from", "none that can be used", "one of a stage that is predicted")
        with _bar(quiet=as_json) as tell:
            engine = engine_of(job)
            lessons = [
                learned_of(engine, pair, None if tell is None else lambda share: tell(share, "learning"))
                for pair in proof.pairs[:1]
            ]
    if as_json:
        document: dict[str, Any] = proof_json(proof)
        document["learned"] = {lesson.seat: lesson_json(lesson) for lesson in lessons}
        output.document(document, indent=None)
    else:
        show(result)
        for lesson in lessons:
            _lesson(lesson, result.show)
    if plot is not None:
        for path in plots(result, plot, lessons):
            output.messages().print(output.relative(path), soft_wrap=True)
    if keep:
        _keep(job, lessons)
    return 1 if any(f.check.verdict == "stop" for f in proof.findings) else 0


def plots(result: Assessment, folder: Path, lessons: list[Lesson] | None = None) -> list[Path]:
    """Write the charts of the readings as SVG, and say which."""
    from backwave.assess.proof.charts import proof_chart, proof_charts
    from backwave.atomic_write import write_whole
    from backwave.drawing.chart import chart_svg

    if result.proof is None:
        return []
    charts = proof_charts(result.proof)
    for lesson in lessons or []:
        pair = next(p for p in result.proof.pairs if p.seat == lesson.seat)
        charts[f"proof-{file_stem(lesson.seat)}"] = proof_chart(pair, lesson.expected)
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, chart in charts.items():
        path = folder / f"{name}.svg"
        write_whole(path, chart_svg(chart, "paper").encode())
        written.append(path)
    return written


def show(result: Assessment) -> None:
    """Print what the readings say, for a person."""
    from rich.markup import escape

    out = output.console()
    if result.proof is None:
        return
    for pair in result.proof.pairs:
        _pair(pair)
    told = [f for f in result.proof.findings if f.check.verdict != "ok"]
    if told:
        output.findings(out, told, result.show, names=result.names)
    fine = len(result.proof.findings) - len(told)
    if fine:
        out.print(f"[dim]{fine} checks of the recordings and of what was promised are ok[/]\n")
    used = sum(1 for one in result.proof.heard if one.one is not None)
    names = ", ".join(one.row.file for one in result.proof.heard)
    out.print(f"[dim]{used} of {len(result.proof.heard)} readings: {escape(names)}[/]\n", soft_wrap=True)


def _pair(pair: SweepPair) -> None:
    from rich.markup import escape

    from backwave.assess.proof.charts import PAIR_HEADS, pair_rows

    out = output.console()
    after = pair.after
    against = "" if after is None else f", then {after.title}"
    out.print(f"\n[bold]At the {escape(pair.seat)} seat[/]: {escape(pair.before.title)}{escape(against)}")
    out.print(_table(PAIR_HEADS, pair_rows(pair)))
    out.print(
        "[dim]dB against each curve's own 300 Hz to 3 kHz; ± twice the standard uncertainty from repeatability; none: "
        "no more than readings differ by[/]\n"
    )


def _table(heads: tuple[str, ...], rows: list[tuple[str, ...]]) -> Table:
    from rich.markup import escape
    from rich.table import Table

    table = Table(box=None, header_style="dim", pad_edge=False, padding=(0, 2, 0, 0))
    for k, name in enumerate(heads):
        table.add_column(name, justify="right" if k else "left")
    for row in rows:
        table.add_row(*map(escape, row))
    return table


def _lesson(lesson: Lesson, system: str) -> None:
    from rich.markup import escape

    from backwave.assess.proof.charts import LEARNED_HEADS, learned_rows, learned_words

    out = output.console()
    out.print(f"[bold]What the reading of {escape(lesson.stage)} teaches[/]")
    out.print(_table(LEARNED_HEADS, learned_rows(lesson, system)))
    for sentence in learned_words(lesson):
        out.print(escape(sentence), soft_wrap=True)
    out.print("[dim]To keep it in the job: --keep[/]\n")


def _keep(job: Job, lessons: list[Lesson]) -> None:
    from backwave.job import disk

    out = output.messages()
    changes = [change for lesson in lessons for change in lesson.changes.items()]
    disk.update(job.folder or Path(), changes, on=job)
    for lesson in lessons:
        for key, value in lesson.changes.items():
            out.print(f"kept: {key} = {value!r}", soft_wrap=True)
        if not lesson.changes:
            out.print("Nothing was learned that could be kept.")


@contextmanager
def _bar(*, quiet: bool) -> Iterator[Callable[[float, str], None] | None]:
    """A bar on a terminal, nothing elsewhere."""
    out = output.messages()
    if quiet or not out.is_terminal:
        yield None
        return
    from rich.progress import Progress

    with Progress(console=out, transient=True) as progress:
        task = progress.add_task("reading", total=1.0)
        yield lambda share, what: progress.update(task, completed=share, description=what or "reading")
