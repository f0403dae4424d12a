"""`backwave predict`: what each stage will bring, before anything is bought."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from backwave.cli import output
from backwave.errors import MissingError
from backwave.units import show as show_number

if TYPE_CHECKING:
    from backwave.assess import Prediction


def run(
    job: Annotated[Path, typer.Argument(help="The job folder.")] = Path(),
    plot: Annotated[Path | None, typer.Option("--plot", metavar="DIR", help="Write the charts there as SVG.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
) -> None:
    """Predict each stage: response, limits and excursion at each seat, and what each step is worth."""
    from backwave.assess import compared, engine_of, predict, prediction_json
    from backwave.job import load

    loaded = load(job)
    made = predict(loaded)
    if made is None:
        raise MissingError(
            "No stage of this job can be predicted",
            "Add a [[source]] and a [[stage]] with a path to each driver; docs/first-job.md shows how",
        )
    made = compared(engine_of(loaded), made)
    if as_json:
        output.document(prediction_json(made), indent=None)
    else:
        show(made, loaded.file.title, loaded.file.show)
    if plot is not None:
        for path in plots(made, plot, loaded.file.show):
            output.messages().print(output.relative(path), soft_wrap=True)
    raise typer.Exit(1 if any(f.check.verdict == "stop" for f in made.findings) else 0)


def plots(made: Prediction, folder: Path, system: str) -> list[Path]:
    """Write every chart as SVG, and say which."""
    from backwave.assess import charts
    from backwave.atomic_write import write_whole
    from backwave.drawing.chart import chart_svg

    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, chart in charts(made, system).items():
        path = folder / f"{name}.svg"
        write_whole(path, chart_svg(chart, "paper").encode())
        written.append(path)
    return written


def show(made: Prediction, title: str, system: str, *, findings: bool = True) -> None:
    """Print the predictions for a person; `findings` False where `check` has told them already."""
    from rich.markup import escape
    from rich.table import Table

    from backwave.assess import band_levels

    out, seats = output.console(), made.cabin.seats
    out.print(f"\n[bold]{escape(title)}[/]   what each stage will bring at the {escape(seats[0])} seat\n")
    names, rows = band_levels(made)
    table = Table(box=None, header_style="dim", pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("stage")
    for name in (*names, "loudest", "held back by"):
        table.add_column(name, justify="right" if name != "held back by" else "left")
    for title, cells, loudest, cause in rows:
        table.add_row(
            escape(title), *(f"{level:.0f} ± {half:.0f}" for level, half in cells), f"{loudest:.0f}", escape(cause)
        )
    out.print(table)
    out.print(
        "[dim]dB at 2.83 V on every channel, mean of each band, ± 95 %; loudest: mid-bass, at its first limit[/]\n"
    )
    out.print("[bold]What each step is worth[/]  [dim]difference in dB, 95 % between the two in brackets[/]")
    table = Table(box=None, header_style="dim", pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("")
    for name in names:
        table.add_column(name, justify="right")
    for one in made.worth:
        if one.kind == "polarity":  # told among the findings, where it matters
            continue
        table.add_row(
            escape(output.fill(one.title, system)),
            *(f"{b.delta:+.1f} [dim]({b.low:+.1f} {b.high:+.1f})[/]" for _, b in one.bands),
        )
    out.print(table)
    for one in made.worth:
        if one.kind == "high-pass":
            for name, r in one.reliefs:
                if abs(r.db) > 0.5:
                    where = output.fill(one.title, system)
                    out.print(
                        f"  [dim]{escape(where)}, {escape(name)}: the cone moves {show_number(r.after_mm, 'mm', system)} instead of "
                        f"{show_number(r.before_mm, 'mm', system)} for the same volts, {r.db:.0f} dB less[/]",
                        soft_wrap=True,
                    )
    out.print()
    shown = [f for f in made.findings if f.check.verdict != "ok"]
    if shown and findings:
        output.findings(out, shown, system, names=made.names)
    out.print(
        "[dim]Every number: backwave predict JOB --json; charts: --plot DIR; the model's limits: docs/models.md[/]\n"
    )
