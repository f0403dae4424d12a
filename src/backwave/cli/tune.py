"""`backwave tune`: takes at a seat become delays, levels and filters to set, and to keep in the job."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.markup import escape

from backwave.cli import output
from backwave.cli.check import heard
from backwave.cli.plan import folder_of
from backwave.errors import InputError, MissingError
from backwave.finding import Finding
from backwave.report.blocks import Audience, small, sub, table
from backwave.units import parse

if TYPE_CHECKING:
    from backwave.assess.proof import tuning
    from backwave.job import Job
    from backwave.measure.analysis import TakeRead


def run(
    job: output.JobFolder = Path(),
    take: Annotated[
        list[Path] | None, typer.Option(help="A recording of the sweep; several for places round the head.")
    ] = None,
    sweep: Annotated[Path | None, typer.Option(help="Its description; else beside the recording.")] = None,
    stage: Annotated[str, typer.Option(help="Which stage's readings of the job; else the last that has any.")] = "",
    seat: Annotated[str, typer.Option(help="Which seat's readings of the job; else the first.")] = "",
    target: Annotated[str, typer.Option(help="house (more bass, a preference) or flat; else [tune] of the job.")] = "",
    filters: Annotated[int | None, typer.Option(help="Most filters an output.")] = None,
    bands: Annotated[str, typer.Option(help='Fixed bands, such as "60 Hz, 250 Hz, 1 kHz, 4 kHz".')] = "",
    rate: Annotated[int | None, typer.Option(help="The processor's sampling rate.")] = None,
    join: Annotated[
        str, typer.Option(help='Two outputs, lower and upper, to be joined by their measured sum: "woofer,tweeter".')
    ] = "",
    keep: Annotated[bool, typer.Option("--keep", help="Write the settings into the stage's paths.")] = False,
    as_json: output.AsJson = False,
) -> None:
    """Delays, levels and filters from recordings of the sweep at one seat: what to set on whatever processor there is."""
    from backwave.assess import finding_json
    from backwave.assess.proof import tuning
    from backwave.assess.proof.signals import read_recording
    from backwave.files.recordings import beside, described, read_sound

    made: tuning.Tuned | None
    found: tuple[Finding, ...] = ()
    where: tuple[Job, str] | None = None
    if take:
        if keep:
            raise InputError("where to keep it", "loose recordings", "a [[reading]] of the job for each of them")
        sounds = [read_sound(path) for path in take]
        record = described(sweep or beside(take[0]))
        reads = [read_recording(sound.samples, sound.rate_hz, record).read for sound in sounds]
        centers = tuple(parse(word.strip(), "frequency").to("Hz") for word in bands.split(",")) if bands else ()
        many = 8 if filters is None else filters
        made = None if join else tuning.tuned_of(reads, target or "house", many, centers, float(rate or 48000))
    else:
        wish: dict[str, Any] = {}
        if target:
            wish["target"] = target
        if filters is not None:
            wish["filters"] = filters
        if bands:
            wish["bands"] = tuple(parse(word.strip(), "frequency") for word in bands.split(","))
        if rate is not None:
            wish["rate"] = parse(f"{rate} Hz", "frequency")
        made, found, where, reads = _of_job(job, stage, seat, wish, tune=not join)
    if join:
        _join(reads[0], join, as_json=as_json)
        return
    assert made is not None
    if as_json:
        output.document({**tuning.tuned_json(made), "checked": [finding_json(finding) for finding in found]})
    else:
        _show(made, found, "metric" if where is None else where[0].file.show)
    if keep and where is not None:
        _keep(folder_of(job), *where, made)


def _of_job(
    folder: Path, stage: str, seat: str, wish: dict[str, Any], *, tune: bool
) -> tuple[tuning.Tuned | None, tuple[Finding, ...], tuple[Job, str] | None, list[TakeRead]]:
    """Settings from the job's readings, checked against those that were taken with the settings on."""
    from backwave.assess import assess
    from backwave.assess.proof import tuning
    from backwave.job import load

    job = load(folder)
    readings = job.file.reading
    if not any(row.seat in (seat, None) or not seat for row in readings):
        raise MissingError(
            "No recording was named" + (f" for the seat {seat}" if seat else ""),
            "Give --take FILE, or add a [[reading]] to the job",
        )
    gone = [row.file for row in readings if job.folder is None or not (job.folder / row.file).is_file()]
    if len(gone) == len(readings):
        raise MissingError(
            f"None of the recordings that the job names is there: {', '.join(gone)}",
            "Record the sweep, or give --take FILE",
        )
    result = heard(job, assess(job, draws=2_000))
    group = tuning.takes_of(result.proof, stage, seat)
    reads = [h.recording.read for h in group.heard if h.recording is not None]
    if not tune:
        return None, (), None, reads
    made = tuning.settings_of(job, result.prediction, group, job.file.tune.model_copy(update=wish))
    found: tuple[Finding, ...] = ()
    if result.proof is not None and any(g.tuned and g.stage == group.stage for g in result.proof.groups):
        found = tuning.checked(made, tuning.takes_of(result.proof, group.stage, group.seat, tuned=True))
    return made, found, (job, group.stage), reads


def _keep(folder: Path, job: Job, stage: str, made: tuning.Tuned) -> None:
    from backwave.assess.proof import tuning
    from backwave.job import disk
    from backwave.job.toml_spans import key_name

    kept = tuning.kept_settings(job, stage, made)
    disk.update(folder, kept.changes, on=job)
    data = {} if job.lines is None else job.lines.data
    said = [
        f"kept: {key_name(path, data)} = {value!r}" if value is not None else f"taken out: {key_name(path, data)}"
        for path, value in kept.changes
    ]
    for line in (*said, *(f"left: {name}: {why}" for name, why in kept.left)):
        output.messages().print(escape(line), soft_wrap=True)


def _show(made: tuning.Tuned, found: tuple[Finding, ...], system: str) -> None:
    from backwave.report import proof as report

    told = Audience(system, {})
    each = (block for one in made.outputs for block in report.filters(told, made, one.setting.name))
    output.blocks([*report.settings(told, made), *each, *report.outlook(told, made, found)])


def _join(take: TakeRead, join: str, *, as_json: bool) -> None:
    """Ways to join two outputs by their measured sum."""
    from backwave.assess.proof import tuning

    names = [name.strip() for name in join.split(",")]
    if len(names) != 2:
        raise InputError("outputs to join", join, "two, lower and upper, with a comma between")
    lower, upper = names
    ways = [tuning.joint_json(way) for way in tuning.joined(take, lower, upper)]
    if as_json:
        output.document({"lower": lower, "upper": upper, "ways": ways})
        return
    rows = []
    for way in ways:
        late = way["delay_ms"]
        whose = "none" if not late else f"{upper if late > 0 else lower} {abs(late):.2f} ms"
        rows.append(
            [f"{way['f_hz']:.0f} Hz", ", ".join(way["lower"]), ", ".join(way["upper"]),
             "reversed" if way["invert"] else "as it is", whose, f"{way['adds_db']:+.1f} dB", f"{way['worst_db']:+.1f} dB"]
        )  # fmt: skip
    head = f"at | {lower} *1 | {upper} *1 | {upper} is | delay | sum against parts | worst dip"
    title = sub(f"Ways to join {lower} and {upper} by their measured sum, best first")
    output.blocks(
        [title, table(head, rows), small("Common trade practice for the list; a protective capacitor stays in.")]
    )
