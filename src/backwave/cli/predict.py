"""`backwave predict`: what each stage will bring, before anything is bought."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.markup import escape

from backwave.cli import output
from backwave.errors import MissingError
from backwave.units import show as show_number

if TYPE_CHECKING:
    from backwave.assess import Prediction


def run(
    job: output.JobFolder = Path(),
    plot: Annotated[Path | None, typer.Option("--plot", metavar="DIR", help="Write the charts there as SVG.")] = None,
    as_json: output.AsJson = False,
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
        output.written(*plots(made, plot, loaded.file.show))
    raise output.verdict_exit(f.check for f in made.findings)


def plots(made: Prediction, folder: Path, system: str) -> list[Path]:
    """Write every chart as SVG, and say which."""
    from backwave.assess import charts

    return output.save_charts(folder, charts(made, system))


def show(made: Prediction, title: str, system: str, *, findings: bool = True) -> None:
    """Print the predictions for a person; `findings` False where `check` has told them already."""
    from backwave.assess import band_levels

    out, seats = output.console(), made.cabin.seats
    out.print(f"\n[bold]{escape(title)}[/]   what each stage will bring at the {escape(seats[0])} seat\n")
    names, levels = band_levels(made)
    rows = [
        (escape(stage), *(f"{level:.0f} ± {half:.0f}" for level, half in cells), f"{loudest:.0f}", escape(cause))
        for stage, cells, loudest, cause in levels
    ]
    out.print(output.table(("stage", *names, "loudest", "limited by"), rows, right=(*names, "loudest")))
    out.print(
        "[dim]dB at 2.83 V on every channel, mean of each band, ± 95 %; loudest: mid-bass, at its first limit[/]\n"
    )
    out.print("[bold]What each step is worth[/]  [dim]difference in dB, 95 % between the two in brackets[/]")
    worth = [
        (escape(output.fill(one.title, system)),
         *(f"{b.delta:+.1f} [dim]({b.low:+.1f} {b.high:+.1f})[/]" for _, b in one.bands))
        for one in made.worth if one.kind != "polarity"  # told among the findings, where it matters
    ]  # fmt: skip
    out.print(output.table(("", *names), worth))
    for one in made.worth:
        for name, r in one.reliefs if one.kind == "high-pass" else ():
            if abs(r.db) > 0.5:
                after, before = show_number(r.after_mm, "mm", system), show_number(r.before_mm, "mm", system)
                out.print(
                    f"  [dim]{escape(output.fill(one.title, system))}, {escape(name)}: the cone moves {after} instead of "
                    f"{before} for the same volts, {r.db:.0f} dB less[/]",
                    soft_wrap=True,
                )
    out.print()
    if findings:
        output.findings(made.findings, system, made.names)
    out.print(
        "[dim]Every number: backwave predict JOB --json; charts: --plot DIR; the model's limits: docs/models.md[/]\n"
    )
