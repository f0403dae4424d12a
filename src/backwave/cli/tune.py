"""`backwave tune`: takes at a seat become delays, levels and filters to set."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from backwave.cli import say
from backwave.errors import InputError, MissingError
from backwave.units import parse

if TYPE_CHECKING:
    from backwave.assess.tuned import Tuned


def run(
    job: Annotated[Path, typer.Argument(help="The job folder.")] = Path(),
    take: Annotated[
        list[Path] | None, typer.Option(help="A recording of the sweep; several for places round the head.")
    ] = None,
    sweep: Annotated[Path | None, typer.Option(help="Its description; else sweep.json beside the first.")] = None,
    seat: Annotated[str, typer.Option(help="Which seat's readings of the job; else all of the last stage.")] = "",
    target: Annotated[str, typer.Option(help="house (more bass, a preference) or flat.")] = "house",
    filters: Annotated[int, typer.Option(help="Most filters an output.")] = 8,
    bands: Annotated[str, typer.Option(help='Fixed bands, such as "60 Hz, 250 Hz, 1 kHz, 4 kHz".')] = "",
    rate: Annotated[int, typer.Option(help="The processor's sampling rate.")] = 48000,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
) -> None:
    """Delays, levels and filters from recordings of the sweep at one seat: what to set on whatever processor there is."""
    from backwave.assess.taken import read_recording
    from backwave.assess.tuned import tuned_json, tuned_of
    from backwave.cli.read import described
    from backwave.files.sound import read_sound

    takes = take or _takes(job, seat)
    record = described(sweep or takes[0].parent / "sweep.json")
    reads = []
    for path in takes:
        sound = read_sound(path)
        reads.append(read_recording(sound.samples, sound.rate_hz, record))
    centers = tuple(parse(word.strip(), "frequency").to("Hz") for word in bands.split(",")) if bands else ()
    made = tuned_of(reads, target, filters, centers, float(rate))
    if as_json:
        say.document(tuned_json(made))
    else:
        _show(made)


def _takes(job: Path, seat: str) -> list[Path]:
    """The readings that the job names: of one seat, of the latest stage that has any."""
    from backwave.job import load

    loaded = load(job)
    rows = [row for row in loaded.file.reading if seat in ("", row.seat)]
    if not rows or loaded.folder is None:
        raise MissingError(
            "No recording was named" + (f" for the seat {seat}" if seat else ""),
            "Give --take FILE, or add a [[reading]] to the job",
        )
    last = rows[-1]
    found = [loaded.folder / row.file for row in rows if (row.stage, row.seat) == (last.stage, last.seat)]
    if any(path.suffix.lower() not in (".wav", ".flac", ".ogg") for path in found):
        raise InputError("reading", found[0].name, "a recording of the sweep: WAV, FLAC or OGG")
    return found


def _show(made: Tuned) -> None:
    from rich.markup import escape
    from rich.table import Table

    out = say.console()
    places = "one place" if made.places == 1 else f"the mean of {made.places} places round the head"
    out.print(f"\nFrom {places}, toward the target “{made.target}” (a preference)\n")
    table = Table(box=None, header_style="dim", pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("output", "delay", "as a way", "level", "polarity"):
        table.add_column(name, justify="left" if name == "output" else "right")
    for one in made.outputs:
        s = one.setting
        table.add_row(
            escape(s.name), f"{s.delay_ms:.2f} ms", f"{s.delay_cm:.1f} cm", f"{s.gain_db:+.1f} dB",
            "reversed: turn it" if s.invert else "as it is",
        )  # fmt: skip
    out.print(table)
    for one in made.outputs:
        eq = one.equalizer
        out.print(
            f"\n[bold]{escape(one.setting.name)}[/]  {eq.before_db:.1f} dB from the target, {eq.after_db:.1f} dB with these "
            f"{len(one.rows)} filters (thirds of an octave, rms)",
            soft_wrap=True,
        )
        for row in one.rows:
            out.print(f"    {escape(row.words)}")
        if one.rows:
            quoted = ", ".join(f'"{row.words}"' for row in one.rows)
            out.print(f"    [dim]filters = \\[{escape(quoted)}][/]", soft_wrap=True)
        for check in one.checks:
            out.print(
                f"  {say.verdict_word(check.verdict)}  {escape(say.fill(check.title, 'metric'))}", soft_wrap=True
            )
    if made.places == 1:
        out.print(
            "\n[dim]One place only: take some more a hand's breadth round the head; what differs there no filter mends[/]"
        )
    out.print("[dim]Predicted, not proven: set it, record again, and compare. Coefficients: --json[/]\n")
