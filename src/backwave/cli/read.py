"""`backwave read`: a recording of the sweep becomes a response; a job's readings become before, after and predicted."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from backwave.cli import output
from backwave.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from backwave.measure.analysis import TakeRead
    from backwave.measure.rattle import Buzz


def run(
    recording: Annotated[
        Path, typer.Argument(metavar="RECORDING", help="WAV, FLAC or OGG; or a job folder, for all its readings.")
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
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
) -> None:
    """Turn a recording of the sweep into responses, arrivals, polarity, distortion and what is wrong with it."""
    if recording.is_dir() or recording.name == "job.toml":
        from backwave.cli import proof

        raise typer.Exit(proof.run(recording, learn=learn, keep=keep, plot=plot, as_json=as_json))
    if learn or keep:
        raise InputError("what is to be learned from", recording.name, "a job folder, whose readings say more")
    from backwave.assess.proof.signals import read_recording, reading_json
    from backwave.files.recordings import beside, described, read_sound
    from backwave.job.named_files import read_columns

    sound = read_sound(recording)
    description = described(sweep or beside(recording))
    curve = None if microphone is None else read_columns(microphone)
    with _progress(quiet=as_json) as tell:
        heard = read_recording(
            sound.samples, sound.rate_hz, description, None if curve is None else (curve.f_hz, curve.value),
            progress=tell,
        )  # fmt: skip
    made = heard.read
    earlier = None if against is None else _earlier(against, description)
    document = reading_json(made, channel, heard.buzz, periods)  # says which outputs there are, if that one is not
    if as_json:
        output.document(document, indent=None)
    else:
        _show(made, lossy=sound.lossy)
        if heard.buzz is not None:
            _rattles(heard.buzz, earlier)
    if plot is not None:
        _plot(made, plot, periods)
    raise typer.Exit(1 if any(check.verdict == "stop" for check in made.checks) else 0)


def _progress(*, quiet: bool) -> Any:
    """A bar on a terminal, nothing elsewhere."""
    out = output.messages()
    if quiet or not out.is_terminal:
        return nullcontext(None)
    from rich.progress import Progress

    class _Bar(Progress):
        def __enter__(self) -> Callable[[float], None]:  # type: ignore[override]
            super().__enter__()
            task = self.add_task("reading", total=1.0)
            return lambda share: self.update(task, completed=share)

    return _Bar(console=out, transient=True)


def _show(made: TakeRead, *, lossy: bool) -> None:
    from rich.markup import escape
    from rich.table import Table

    from backwave.assess.proof.signals import band_means, breaking

    out = output.console()
    out.print(f"\nThe recorder's clock is {made.clock.ppm:+.2f} ppm against the player's\n")
    names, rows = band_means(made)
    table = Table(box=None, header_style="dim", pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("output", *names, "later by", "polarity"):
        table.add_column(name, justify="left" if name == "output" else "right")
    for one, levels in zip(made.responses, rows, strict=True):
        later = "" if one.delay_s is None else f"{one.delay_s * 1e3:.3f} ms"
        word = "" if one.name == "all" else {1: "alike", -1: "reversed", 0: "not sure"}[one.polarity]
        table.add_row(escape(one.name), *("" if v is None else f"{v:.1f}" for v in levels), later, word)
    out.print(table)
    out.print("[dim]dB, relative unless the microphone is calibrated; delay and polarity against the first output[/]\n")
    if lossy:
        out.print("! the recording's coding leaves sound out: levels near the top of the band may be its own\n")
    for check in (*made.checks, *breaking(made)):
        if check.verdict != "ok":
            words = output.fill(check.title, "metric")
            remedy = output.fill(check.remedy, "metric")
            out.print(
                f"{output.verdict_word(check.verdict)}  {escape(words)}"
                + (f"\n   → {escape(remedy)}" if remedy else "")
            )
    out.print()


def _earlier(path: Path, description: dict[str, Any]) -> Buzz:
    """What rattled in an earlier recording of the same slow sweep."""
    from backwave.assess.proof.signals import read_recording
    from backwave.files.recordings import read_sound

    sound = read_sound(path)
    buzz = read_recording(sound.samples, sound.rate_hz, description).buzz
    if buzz is None:
        raise InputError("sweep to compare rattles by", path.name, "the slow low one: --kind rattle")
    return buzz


def _rattles(buzz: Buzz, earlier: Buzz | None) -> None:
    """Where in the sweep something rattles, and when to listen; against an earlier recording if there is one."""
    from backwave.assess.proof.signals import quieter, spots

    out = output.console()
    found = spots(buzz)
    if not found:
        out.print("Nothing rattles that is clear of the noise and of what is heard beside music.")
    for one in found:
        out.print(
            f"rattles from {one.low_hz:.0f} to {one.high_hz:.0f} Hz, worst at {one.worst_hz:.0f} Hz "
            f"({one.index_db:.0f} dB of all the sound): listen from {one.from_s:.1f} to {one.to_s:.1f} s of the recording",
            soft_wrap=True,
        )
    if earlier is not None:
        f, change = quieter(earlier, buzz)
        if not f.size:
            out.print("In the earlier recording nothing rattled, so there is nothing to compare.\n")
            return
        worst = int(abs(change).argmax())
        out.print(
            f"Where it rattled before ({f[0]:.0f} to {f[-1]:.0f} Hz) it is {change.mean():+.1f} dB now, most at "
            f"{f[worst]:.0f} Hz ({change[worst]:+.1f} dB); stretches that rattle: {len(spots(earlier))} before, {len(found)} now.\n",
            soft_wrap=True,
        )
    else:
        out.print()


def _plot(made: TakeRead, path: Path, periods: float | None) -> None:
    from backwave.assess.proof.signals import reading_chart
    from backwave.atomic_write import write_whole
    from backwave.drawing.chart import chart_svg

    if path.suffix.lower() != ".svg":
        raise InputError("name of the chart's file", path.name, "a name that ends in .svg")
    path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, chart_svg(reading_chart(made, periods), "paper").encode())
    output.messages().print(output.relative(path), soft_wrap=True)
