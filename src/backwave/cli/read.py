"""`backwave read`: a recording of the sweep becomes a response."""

from __future__ import annotations

import json
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from backwave.cli import say
from backwave.errors import InputError, MissingError

if TYPE_CHECKING:
    from collections.abc import Callable

    from backwave.assess.taken import TakeRead


def run(
    recording: Annotated[Path, typer.Argument(metavar="RECORDING", help="WAV, FLAC or OGG.")],
    sweep: Annotated[
        Path | None, typer.Option(help="Description of what was played; else sweep.json beside the recording.")
    ] = None,
    microphone: Annotated[
        Path | None, typer.Option(help="The microphone's correction: columns of Hz and dB.")
    ] = None,
    channel: Annotated[str, typer.Option(help="Which output stands at the top of the JSON.")] = "",
    plot: Annotated[Path | None, typer.Option(metavar="FILE", help="Write the chart there as SVG.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
) -> None:
    """Turn a recording of the sweep into responses, arrivals, polarity, distortion and what is wrong with it."""
    from backwave.assess.taken import read_recording, reading_json
    from backwave.files.sound import read_sound
    from backwave.job.columns import read_columns

    description = described(sweep or recording.parent / "sweep.json")
    sound = read_sound(recording)
    curve = None if microphone is None else read_columns(microphone)
    with _progress(quiet=as_json) as tell:
        made = read_recording(
            sound.samples, sound.rate_hz, description, None if curve is None else (curve.f_hz, curve.value), tell
        )
    if as_json:
        say.document(reading_json(made, channel), indent=None)
    else:
        reading_json(made, channel)  # says which outputs there are, if that one is not
        _show(made, lossy=sound.lossy)
    if plot is not None:
        _plot(made, plot)
    raise typer.Exit(1 if any(check.verdict == "stop" for check in made.checks) else 0)


def described(path: Path) -> dict[str, Any]:
    """The description that `sweep` wrote."""
    if not path.is_file():
        raise MissingError(
            f"The description of what was played is not at {say.relative(path)}",
            "Name the .json that `backwave sweep` wrote: --sweep FILE.json",
        )
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
    except (json.JSONDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{path.name}: not JSON", str(error), "the file written beside the sweep") from None
    if not isinstance(record, dict):
        raise InputError(f"{path.name}", type(record).__name__, "the file written beside the sweep")
    return record


def _progress(*, quiet: bool) -> Any:
    """A bar on a terminal, nothing elsewhere."""
    out = say.messages()
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

    from backwave.assess.taken import band_means

    out = say.console()
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
    out.print(
        "[dim]dB, relative unless the microphone is calibrated; delay and polarity against the first output[/]\n"
    )
    if lossy:
        out.print("! the recording's coding leaves sound out: levels near the top of the band may be its own\n")
    for check in made.checks:
        if check.verdict != "ok":
            words = say.fill(check.title, "metric")
            remedy = say.fill(check.remedy, "metric")
            out.print(
                f"{say.verdict_word(check.verdict)}  {escape(words)}"
                + (f"\n   → {escape(remedy)}" if remedy else "")
            )
    out.print()


def _plot(made: TakeRead, path: Path) -> None:
    from backwave.assess.taken import reading_chart
    from backwave.drawing import chart_svg
    from backwave.whole import write_whole

    if path.suffix.lower() != ".svg":
        raise InputError("name of the chart's file", path.name, "a name that ends in .svg")
    path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, chart_svg(reading_chart(made), "paper").encode())
    say.messages().print(say.relative(path), soft_wrap=True)
