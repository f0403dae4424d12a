"""`backwave sweep` and `read`: what the vehicle plays, and what a recording of it says; of a job before, after, predicted."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.markup import escape

from backwave.cli import output
from backwave.cli.check import heard
from backwave.errors import InputError, MissingError
from backwave.finding import Finding, sentences
from backwave.plain_text import file_stem
from backwave.report.blocks import Audience, small, sub
from backwave.units import parse

if TYPE_CHECKING:
    from backwave.assess import Assessment
    from backwave.assess.proof.calibration import Lesson
    from backwave.job import Job
    from backwave.measure.analysis import TakeRead
    from backwave.measure.rattle import Buzz


MAX_OUTPUTS = 8  # each has a sweep of its own: with more the file is longer than a recording of it may be


def sweep(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The WAV file to write; its description goes beside it.")
    ],
    kind: Annotated[str, typer.Option(help="response, rattle, jig, beeps, noise, polarity or tone.")] = "response",
    outputs: Annotated[str, typer.Option(help="Names of the file's channels, in order.")] = "left,right",
    level: Annotated[str, typer.Option(help="Peak against full scale.")] = "-12 dB",
    identified: Annotated[
        bool,
        typer.Option("--identified", help="You have heard which driver speaks on each output: allow more than -40 dB."),
    ] = False,
    driver: Annotated[
        str, typer.Option(help="What should be on these outputs: woofer, midrange, tweeter, coaxial, subwoofer.")
    ] = "",
    low: Annotated[str, typer.Option(help="Lowest frequency.")] = "",
    high: Annotated[str, typer.Option(help="Highest frequency.")] = "",
    length: Annotated[str, typer.Option(help="Of each sweep, or of the whole.")] = "",
    tone: Annotated[str, typer.Option(help="Frequency of the tone.")] = "315 Hz",
    rate: Annotated[int, typer.Option(help="44100 or 48000 samples a second.")] = 48000,
    bits: Annotated[int, typer.Option(help="16 or 24.")] = 24,
    as_json: output.AsJson = False,
) -> None:
    """Write the test sweep to play, or beeps, noise, pulses, a tone; quiet until you have confirmed what speaks where."""
    import numpy as np

    from backwave.assess import finding_json
    from backwave.assess.proof.signals import signal_of
    from backwave.files.recordings import write_signal

    if file.suffix.lower() != ".wav":
        raise InputError("name of the sweep's file", file.name, "a name that ends in .wav")
    names = tuple(name.strip() for name in outputs.split(","))
    if not all(names) or len(names) > MAX_OUTPUTS:
        raise InputError("outputs", outputs, f"1 to {MAX_OUTPUTS} names with a comma between, such as left,right")
    hz = parse(tone, "frequency").to("Hz")
    # below, a tone is close to direct current; above, the file cannot hold it
    if kind == "tone" and not 10.0 <= hz <= rate / 2.2:
        raise InputError("frequency of the tone", tone, f"10 Hz to {rate / 2200:.0f} kHz")
    band = None
    if low or high:
        widest = ("20 Hz", "300 Hz" if kind == "rattle" else "20 kHz")
        bottom, top = (parse(end or most, "frequency").to("Hz") for end, most in zip((low, high), widest, strict=True))
        band = (bottom, top)
    length_s = parse(length, "time").to("s") if length else None
    made = signal_of(kind, rate, names, parse(level, "level").to("dB"), identified, band, length_s, hz, driver)
    file.parent.mkdir(parents=True, exist_ok=True)
    beside = write_signal(file, made.samples, rate, made.description, bits)
    if as_json:
        checks = [finding_json(Finding(check, "sweep")) for check in made.checks]
        output.document({"file": str(file), "description": str(beside), "findings": checks, **made.description})
        return
    peak_db = 20.0 * np.log10(max(float(np.abs(made.samples).max()), 1e-9))
    lines = [
        f"\n{output.relative(file)}  {len(made.samples) / rate:.0f} s, {rate} Hz, {bits} bit",
        f"{output.relative(beside)}  what it is; `backwave read` needs it\n",
        *(f"  ▲ {sentences(check, 'metric')}" for check in made.checks if check.verdict != "ok"),
        f"  Written with its peaks at {peak_db:.1f} dB of full scale.",
    ]
    if not identified and kind == "jig":
        lines.append("  Quiet on purpose. When the driver lies on the bench, unplugged from the vehicle, at a headphone output: --identified")  # fmt: skip
    elif not identified:
        lines.append("  When you have heard which driver speaks on each output: --identified --driver WHICH")
    for line in (*lines, ""):
        output.console().print(line, soft_wrap=True)


def run(
    recording: Annotated[
        Path, typer.Argument(metavar="RECORDING", help="WAV, FLAC, AIFF or OGG; or a job folder, for all its readings.")
    ],
    sweep: Annotated[
        Path | None, typer.Option(help="Description of what was played; else sweep.json beside the recording.")
    ] = None,
    microphone: Annotated[Path | None, typer.Option(help="The microphone's correction: columns of Hz and dB.")] = None,
    channel: Annotated[str, typer.Option(help="Which output stands at the top of the JSON.")] = "",
    plot: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the chart there as SVG; for a job, a folder for its charts."),
    ] = None,
    periods: Annotated[
        float | None, typer.Option(help="Look through a window so many periods long: sound without late reflections.")
    ] = None,
    against: Annotated[
        Path | None, typer.Option(help="The same slow sweep recorded earlier: did the treatment quiet what rattled?")
    ] = None,
    learn: Annotated[
        bool, typer.Option("--learn", help="Of a job: fit what nobody measured to the reading before.")
    ] = False,
    keep: Annotated[bool, typer.Option("--keep", help="Write what was learned into the job.")] = False,
    wide: Annotated[bool, typer.Option("--wide", help="A row of a table is a line, however long.")] = False,
    as_json: output.AsJson = False,
) -> None:
    """Turn a recording of the sweep into responses, arrivals, polarity, distortion and what is wrong with it."""
    from backwave.assess.proof import signals
    from backwave.files.recordings import beside, described, read_sound
    from backwave.job.named_files import read_columns

    if recording.is_dir() or recording.name == "job.toml":
        raise _job(recording, learn=learn, keep=keep, plot=plot, as_json=as_json, wide=wide)
    if learn or keep:
        raise InputError("what is to be learned from", recording.name, "a job folder, whose readings say more")
    sound = read_sound(recording)
    description = described(sweep or beside(recording))
    curve = None if microphone is None else read_columns(microphone)
    correction = None if curve is None else (curve.f_hz, curve.value)
    with output.reading_bar(quiet=as_json) as tell:
        progress = None if tell is None else lambda share: tell(share, "")
        take = signals.read_recording(sound.samples, sound.rate_hz, description, correction, progress=progress)
    made = take.read
    earlier = None if against is None else _earlier(against, description)
    document = signals.reading_json(
        made, channel, take.buzz, periods
    )  # says which outputs there are, if that one is not
    if as_json:
        output.document(document, indent=None)
    else:
        _show_recording(made, lossy=sound.lossy, wide=wide)
        if take.buzz is not None:
            _show_rattles(take.buzz, earlier)
    if plot is not None:
        output.save_chart(plot, signals.reading_chart(made, periods))
    raise output.verdict_exit(made.checks)


def _show_recording(made: TakeRead, *, lossy: bool, wide: bool) -> None:
    from backwave.assess.proof import signals

    out = output.console()
    out.print(f"\nThe recorder's clock is {made.clock.ppm:+.2f} ppm against the player's\n")
    names, means = signals.band_means(made)
    rows = []
    for one, levels in zip(made.responses, means, strict=True):
        later = "" if one.delay_s is None else f"{one.delay_s * 1e3:.3f} ms"
        word = "" if one.name == "all" else {1: "alike", -1: "reversed", 0: "not sure"}[one.polarity]
        rows.append((one.name, *("" if v is None else f"{v:.1f}" for v in levels), later, word))
    output.put_table(("output", *names, "later by", "polarity"), rows, wide=wide)
    out.print("[dim]dB, relative unless the microphone is calibrated; delay and polarity against the first output[/]\n")
    if lossy:
        out.print("! the recording's coding leaves sound out: levels near the top of the band may be its own\n")
    for check in (*made.checks, *signals.breaking(made)):
        if check.verdict != "ok":
            remedy = output.fill(check.remedy)
            more = f"\n   → {escape(remedy)}" if remedy else ""
            out.print(f"{output.verdict_word(check.verdict)}  {escape(output.fill(check.title))}{more}")
    out.print()


def _earlier(path: Path, description: dict[str, Any]) -> Buzz:
    """What rattled in an earlier recording of the same slow sweep."""
    from backwave.assess.proof import signals
    from backwave.files.recordings import read_sound

    sound = read_sound(path)
    buzz = signals.read_recording(sound.samples, sound.rate_hz, description).buzz
    if buzz is None:
        raise InputError("sweep to compare rattles by", path.name, "the slow low one: --kind rattle")
    return buzz


def _show_rattles(buzz: Buzz, earlier: Buzz | None) -> None:
    """Where in the sweep something rattles, and when to listen; against an earlier recording if there is one."""
    from backwave.assess.proof import signals

    out, found = output.console(), signals.spots(buzz)
    if not found:
        out.print("Nothing rattles that is clear of the noise and of what is heard beside music.")
    for one in found:
        out.print(
            f"rattles from {one.low_hz:.0f} to {one.high_hz:.0f} Hz, worst at {one.worst_hz:.0f} Hz "
            f"({one.index_db:.0f} dB of all the sound): listen from {one.from_s:.1f} to {one.to_s:.1f} s of the recording",
            soft_wrap=True,
        )
    if earlier is None:
        out.print()
        return
    f, change = signals.quieter(earlier, buzz)
    if not f.size:
        out.print("In the earlier recording nothing rattled, so there is nothing to compare.\n")
        return
    worst = int(abs(change).argmax())
    out.print(
        f"Where it rattled before ({f[0]:.0f} to {f[-1]:.0f} Hz) it is {change.mean():+.1f} dB now, most at "
        f"{f[worst]:.0f} Hz ({change[worst]:+.1f} dB); stretches that rattle: {len(signals.spots(earlier))} before, {len(found)} now.\n",
        soft_wrap=True,
    )


def _job(folder: Path, *, learn: bool, keep: bool, plot: Path | None, as_json: bool, wide: bool) -> typer.Exit:
    """Show what the readings of a job say."""
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
        with output.reading_bar(quiet=as_json) as tell:
            progress = None if tell is None else lambda share: tell(share, "learning")
            lessons = [learned_of(engine_of(job), pair, progress) for pair in proof.pairs[:1]]
    if as_json:
        taught = {lesson.seat: lesson_json(lesson) for lesson in lessons}
        output.document({**proof_json(proof), "learned": taught}, indent=None)
    else:
        show(result, wide=wide)
        from backwave.report.proof import learned

        for lesson in lessons:
            title = sub(f"What the measurement of “{lesson.stage}” changed in the model")
            output.blocks(
                [title, *learned(Audience(result.show, result.names), lesson), small("To keep it in the job: --keep")],
                wide=wide,
            )
    if plot is not None:
        output.written(*plots(result, plot, lessons))
    if keep:
        _keep(job, lessons)
    return output.verdict_exit(f.check for f in proof.findings)


def plots(result: Assessment, folder: Path, lessons: Sequence[Lesson] = ()) -> list[Path]:
    """Write the charts of the readings as SVG, and say which."""
    from backwave.assess.proof import charts

    if result.proof is None:
        return []
    drawn = charts.proof_charts(result.proof)
    for lesson in lessons:
        pair = next(p for p in result.proof.pairs if p.seat == lesson.seat)
        drawn[f"proof-{file_stem(lesson.seat)}"] = charts.proof_chart(pair, lesson.expected)
    return output.save_charts(folder, drawn)


def show(result: Assessment, *, wide: bool = False) -> None:
    """Print what the readings say, for a person."""
    out, proof = output.console(), result.proof
    if proof is None:
        return
    from backwave.report import proof as report

    told = Audience(result.show, result.names)
    for pair in proof.pairs:
        output.blocks([*report.head(pair), *report.numbers(told, pair), *report.distortion(pair)], wide=wide)
    fine = len(proof.findings) - len(output.findings(proof.findings, result.show, result.names))
    if fine:
        out.print(f"[dim]{fine} checks of the recordings and of what was promised are ok[/]\n")
    used = sum(1 for one in proof.heard if one.one is not None)
    names = ", ".join(one.row.file for one in proof.heard)
    out.print(f"[dim]{used} of {len(proof.heard)} readings: {escape(names)}[/]\n", soft_wrap=True)


def _keep(job: Job, lessons: list[Lesson]) -> None:
    from backwave.job import disk

    out = output.messages()
    disk.update(job.folder or Path(), [change for lesson in lessons for change in lesson.changes.items()], on=job)
    for lesson in lessons:
        for key, value in lesson.changes.items():
            out.print(f"kept: {key} = {value!r}", soft_wrap=True)
        if not lesson.changes:
            out.print("Nothing was learned that could be kept.")
