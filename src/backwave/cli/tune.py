"""`backwave tune`: takes at a seat become delays, levels and filters to set, and to keep in the job."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from backwave.cli import output
from backwave.errors import InputError, MissingError
from backwave.units import parse

if TYPE_CHECKING:
    from backwave.assess import Assessment
    from backwave.assess.proof.tuning import Tuned
    from backwave.finding import Finding
    from backwave.job import Job
    from backwave.measure.analysis import TakeRead


def run(
    job: Annotated[Path, typer.Argument(help="The job folder.")] = Path(),
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
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
) -> None:
    """Delays, levels and filters from recordings of the sweep at one seat: what to set on whatever processor there is."""
    from backwave.assess.proof.tuning import joined, joint_json, tuned_json

    made: Tuned | None
    found: tuple[Finding, ...] = ()
    where: tuple[Job, str] | None = None
    if take:
        if keep:
            raise InputError("where to keep it", "loose recordings", "a [[reading]] of the job for each of them")
        reads = _read(take, sweep)
        made = None if join else _tuned(reads, target or "house", filters, bands, rate)
    else:
        made, found, where, reads = _of_job(job, stage, seat, target, filters, bands, rate, tune=not join)
    if join:
        names = [name.strip() for name in join.split(",")]
        if len(names) != 2:
            raise InputError("outputs to join", join, "two, lower and upper, with a comma between")
        lower, upper = names
        ways = joined(reads[0], lower, upper)
        if as_json:
            output.document({"lower": lower, "upper": upper, "ways": [joint_json(way) for way in ways]})
        else:
            _joints(ways, lower, upper)
        return
    assert made is not None
    if as_json:
        from backwave.assess import finding_json

        document: dict[str, Any] = tuned_json(made)
        document["checked"] = [finding_json(finding) for finding in found]
        output.document(document)
    else:
        _show(made, found, "metric" if where is None else where[0].file.show)
    if keep and where is not None:
        _keep(job, where, made)


def _read(paths: list[Path], sweep: Path | None) -> list[TakeRead]:
    from backwave.assess.proof.signals import read_recording
    from backwave.files.recordings import beside, described, read_sound

    sounds = [read_sound(path) for path in paths]
    record = described(sweep or beside(paths[0]))
    return [read_recording(sound.samples, sound.rate_hz, record).read for sound in sounds]


def _tuned(reads: list[TakeRead], target: str, filters: int | None, bands: str, rate: int | None) -> Tuned:
    from backwave.assess.proof.tuning import tuned_of

    return tuned_of(reads, target, 8 if filters is None else filters, _centers(bands), float(rate or 48000))


def _centers(bands: str) -> tuple[float, ...]:
    return tuple(parse(word.strip(), "frequency").to("Hz") for word in bands.split(",")) if bands else ()


def _of_job(
    folder: Path, stage: str, seat: str, target: str, filters: int | None, bands: str, rate: int | None, *, tune: bool
) -> tuple[Tuned | None, tuple[Finding, ...], tuple[Job, str] | None, list[TakeRead]]:
    """Settings from the job's readings, checked against those that were taken with the settings on."""
    from backwave.assess import assess
    from backwave.assess.proof.tuning import checked, settings_of, takes_of
    from backwave.cli.proof import heard
    from backwave.job import load

    job = load(folder)
    if not any(row.seat in (seat, None) or not seat for row in job.file.reading):
        raise MissingError(
            "No recording was named" + (f" for the seat {seat}" if seat else ""),
            "Give --take FILE, or add a [[reading]] to the job",
        )
    gone = [row.file for row in job.file.reading if job.folder is None or not (job.folder / row.file).is_file()]
    if len(gone) == len(job.file.reading):
        raise MissingError(
            f"None of the recordings that the job names is there: {', '.join(gone)}",
            "Record the sweep, or give --take FILE",
        )
    wish = job.file.tune
    changes: dict[str, Any] = {}
    if target:
        changes["target"] = target
    if filters is not None:
        changes["filters"] = filters
    if bands:
        changes["bands"] = tuple(parse(word.strip(), "frequency") for word in bands.split(","))
    if rate is not None:
        changes["rate"] = parse(f"{rate} Hz", "frequency")
    result: Assessment = heard(job, assess(job, draws=2_000))
    group = takes_of(result.proof, stage, seat)
    reads = [h.recording.read for h in group.heard if h.recording is not None]
    if not tune:
        return None, (), None, reads
    made = settings_of(job, result.prediction, group, wish.model_copy(update=changes))
    found: tuple[Finding, ...] = ()
    if result.proof is not None and any(g.tuned and g.stage == group.stage for g in result.proof.groups):
        found = checked(made, takes_of(result.proof, group.stage, group.seat, tuned=True))
    return made, found, (job, group.stage), reads


def _keep(folder: Path, where: tuple[Job, str], made: Tuned) -> None:
    from rich.markup import escape

    from backwave.assess.proof.tuning import kept_settings
    from backwave.job import FILE, disk
    from backwave.job.toml_spans import key_name

    job, stage = where
    out, kept = output.messages(), kept_settings(job, stage, made)
    disk.update(folder.parent if folder.name == FILE else folder, kept.changes, on=job)
    for path, value in kept.changes:
        key = key_name(path, {} if job.lines is None else job.lines.data)
        said = f"kept: {key} = {value!r}" if value is not None else f"taken out: {key}"
        out.print(escape(said), soft_wrap=True)
    for name, why in kept.left:
        out.print(escape(f"left: {name}: {why}"), soft_wrap=True)


def _show(made: Tuned, found: tuple[Finding, ...], system: str) -> None:
    from rich.markup import escape
    from rich.table import Table

    from backwave.assess.proof.charts import SETTING_HEADS, setting_rows

    out = output.console()
    places = "one recording" if made.places == 1 else f"the mean of {made.places} recordings round the head"
    out.print(f"\nFrom {places}, toward the target “{escape(made.target)}” (a preference)\n")
    table = Table(box=None, header_style="dim", pad_edge=False, padding=(0, 2, 0, 0))
    for name in SETTING_HEADS:
        table.add_column(name, justify="left" if name == "output" else "right")
    for row in setting_rows(made, system):
        table.add_row(*map(escape, row))
    out.print(table)
    for one in made.outputs:
        eq = one.equalizer
        out.print(
            f"\n[bold]{escape(one.setting.name)}[/]  from {one.band_hz[0]:.0f} to {one.band_hz[1]:.0f} Hz {eq.before_db:.1f} dB "
            f"from the target, {eq.after_db:.1f} dB with these {len(one.rows)} filters (thirds of an octave, rms)",
            soft_wrap=True,
        )
        for setting in one.rows:
            out.print(f"    {escape(setting.words)}")
        if one.rows:
            quoted = ", ".join(f'"{setting.words}"' for setting in one.rows)
            out.print(f"    [dim]filters = \\[{escape(quoted)}][/]", soft_wrap=True)
        for check in one.checks:
            out.print(
                f"  {output.verdict_word(check.verdict)}  {escape(output.fill(check.title, 'metric'))}", soft_wrap=True
            )
    if made.places == 1:
        out.print(
            "\n[dim]One place only: take some more a hand's breadth round the head; what differs there no filter mends[/]"
        )
    if not made.limited:
        out.print("\n[dim]Nothing is predicted of this stage: excursion and headroom are not looked at[/]")
    if found:
        out.print("\n[bold]With the settings on[/]")
        for check in (finding.check for finding in found):
            out.print(
                f"  {output.verdict_word(check.verdict)}  {escape(output.fill(check.title, 'metric'))}", soft_wrap=True
            )
            if check.remedy is not None:
                out.print(f"     → {escape(output.fill(check.remedy, 'metric'))}", soft_wrap=True)
        out.print()
    else:
        out.print("[dim]Predicted, not proven: set it, record again, and compare. Coefficients: --json[/]\n")


def _joints(ways: Any, lower: str, upper: str) -> None:
    from rich.markup import escape
    from rich.table import Table

    from backwave.assess.proof.tuning import joint_json

    out = output.console()
    out.print(f"\nWays to join {escape(lower)} and {escape(upper)} by their measured sum, best first\n")
    table = Table(box=None, header_style="dim", pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("at", lower, upper, f"{upper} is", "delay", "sum against parts", "worst dip"):
        table.add_column(escape(name))
    for way in ways:
        j = joint_json(way)
        late = j["delay_ms"]
        whose = "none" if not late else f"{upper if late > 0 else lower} {abs(late):.2f} ms"
        table.add_row(
            f"{j['f_hz']:.0f} Hz", ", ".join(j["lower"]), ", ".join(j["upper"]),
            "reversed" if j["invert"] else "as it is", whose, f"{j['adds_db']:+.1f} dB", f"{j['worst_db']:+.1f} dB",
        )  # fmt: skip
    out.print(table)
    out.print("[dim]Common trade practice for the list; a protective capacitor stays in[/]\n")
