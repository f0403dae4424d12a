"""`backwave predict`: what each stage will bring; `backwave design`: passive networks, protective capacitors, boxes, coils."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from backwave.cli import output
from backwave.errors import InputError, MissingError
from backwave.finding import Finding, value_words
from backwave.plain_text import file_stem
from backwave.report.blocks import Audience, small, sub
from backwave.units import parse
from backwave.units import show as shown

if TYPE_CHECKING:
    from backwave.assess import Prediction
    from backwave.assess.sound import design
    from backwave.job import Job

_KINDS = ("low-pass", "high-pass", "capacitor", "box", "coils")
_ACCEPTED = (
    'low-pass "2.5 kHz" LR4, high-pass "3 kHz" BW2, capacitor "3 kHz", box NAME, coils COUNT "4 ohm"; '
    "the first three with --path opening/speaker"
)


def predict(
    job: output.JobFolder = Path(),
    plot: Annotated[Path | None, typer.Option("--plot", metavar="DIR", help="Write the charts there as SVG.")] = None,
    as_json: output.AsJson = False,
) -> None:
    """Predict each stage: response, limits and excursion at each seat, and what each step is worth."""
    from backwave.assess import compared, engine_of, prediction_json
    from backwave.assess import predict as predict_job
    from backwave.job import load

    loaded = load(job)
    made = predict_job(loaded)
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
    from backwave.report.sound import predicted

    output.blocks([sub(title), *predicted(Audience(system, made.names), made)])
    if findings:
        output.findings(made.findings, system, made.names)
    output.blocks(
        [small("Every number: backwave predict JOB --json; charts: --plot DIR; the model's limits: docs/models.md")]
    )


def run(
    job: Annotated[Path, typer.Argument(help="The job folder.")],
    kind: Annotated[str, typer.Argument(metavar="KIND", help="low-pass, high-pass, capacitor, box or coils.")],
    words: Annotated[
        list[str] | None, typer.Argument(metavar="...", help='Such as "2.5 kHz" LR4; a box\'s name; 2 "4 ohm".')
    ] = None,
    path: Annotated[str, typer.Option(help="For which path: opening/speaker.")] = "",
    stage: Annotated[str, typer.Option(help="Whose source drives it; else the first stage that has the path.")] = "",
    series: Annotated[str, typer.Option(help="Preferred values: E6, E12 or E24.")] = "E12",
    pad: Annotated[str, typer.Option(help='Lower the driver by this much, such as "3 dB".')] = "",
    zobel: Annotated[bool, typer.Option("--zobel", help="Hold its impedance down where the coil raises it.")] = False,
    wire: Annotated[str, typer.Option(help="Diameter of the coils' wire.")] = "1 mm",
    plot: Annotated[Path | None, typer.Option(metavar="DIR", help="Write the chart there as SVG.")] = None,
    as_json: output.AsJson = False,
) -> None:
    """Design a passive network on preferred values, a tweeter's capacitor, a box to build, or a wiring of coils."""
    from backwave.assess import assess
    from backwave.assess.sound import design
    from backwave.job import load

    given = words or []
    if kind not in _KINDS or len(given) != {"capacitor": 1, "box": 1}.get(kind, 2):
        raise InputError("not something to design", " ".join((kind, *given)), _ACCEPTED)
    loaded = load(job)
    made = assess(loaded, draws=2_000).prediction
    if made is None:
        raise MissingError(
            "Nothing of this job can be predicted yet", "Add a [[source]] and a [[stage]] with its paths"
        )
    if kind == "box":
        _box(loaded, given[0], as_json=as_json)
        return
    if kind == "coils":
        _coils(made, given, path, stage, as_json=as_json)
        return
    if not path:
        raise InputError("design", "no --path", "--path opening/speaker, as the stages have it")
    lowered_db = parse(pad, "level").to("dB") if pad else 0.0
    one = design.design_network(
        made, path, kind, parse(given[0], "frequency").to("Hz"),  # type: ignore[arg-type]  # looked at above
        given[1] if len(given) > 1 else "BW1", series, lowered_db, zobel, stage, parse(wire, "length").to("m"),
    )  # fmt: skip
    if as_json:
        output.document(design.network_json(one), indent=None)
    else:
        from backwave.report import sound

        told = Audience(loaded.file.show, made.names)
        output.blocks(sound.network(told, one))
        output.checks(one.checks, told)
    if plot is not None:
        _plot(one, plot)


def _plot(one: design.DesignedNetwork, folder: Path) -> None:
    from backwave.drawing.chart import Chart, Series

    lines = (
        Series("textbook's resistor", one.ideal.f_hz, one.ideal.level, look=1),
        Series("this driver", one.real.f_hz, one.real.level, one.real.low, one.real.high),
    )
    about = "level at the driver's terminals; band: parts within 5 %"
    chart = Chart(f"{one.path}: {one.kind}", about, "dB", lines, low=-40.0, high=10.0)
    output.written(*output.save_charts(folder, {f"design-{file_stem(one.path.replace('/', '-'))}": chart}))


def _box(job: Job, name: str, *, as_json: bool) -> None:
    from backwave.assess.sound import design

    one = design.design_box(job, name)
    if as_json:
        output.document(_box_json(one))
        return
    from backwave.report import sound

    told = Audience(job.file.show, {})
    output.blocks(sound.box(told, one))
    output.checks([] if one.check is None else [one.check], told, ok=True)
    output.blocks([small(f"Assumed: {a.key} = {value_words(a, told.system)}, {a.why}") for a in one.assumed])


def _box_json(one: design.DesignedBox) -> dict[str, object]:
    from backwave.assess import finding_json

    box = one.made
    return {
        "box": one.box, "outer_mm": [round(n * 1e3, 2) for n in box.outer],
        "inner_mm": [round(n * 1e3, 2) for n in box.inner], "net_m3": box.net, "gross_m3": box.gross,
        "taken_m3": dict(box.taken), "panel_mm": box.panel * 1e3, "port_length_mm": round(one.port_length * 1e3, 2),
        "finding": None if one.check is None else finding_json(Finding(one.check, one.box)),
        "cuts": [
            {"panel": c.name, "count": c.count, "long_mm": round(c.long * 1e3, 2), "short_mm": round(c.short * 1e3, 2)}
            for c in box.cuts
        ],
        "assumed": [{"key": a.key, "value": value_words(a), "why": a.why} for a in one.assumed],
    }  # fmt: skip


def _coils(made: Prediction, given: list[str], path: str, stage: str, *, as_json: bool) -> None:
    from backwave.assess.sound import design

    if not given[0].isdigit() or int(given[0]) < 1:
        raise InputError("coils", given[0], "how many there are in all: a driver with two coils counts as two")
    lowest = design.lowest_load(made, path, stage) if path else None
    rows = design.coils_json(int(given[0]), parse(given[1], "resistance").to("ohm"), lowest)
    if as_json:
        output.document({"lowest_load_ohm": lowest, "wirings": rows})
        return
    out = output.console()
    drives = f"; the output drives {shown(lowest, 'ohm')} and more" if lowest else ""
    out.print(f"\n{given[0]} coils of {given[1]}{drives}")
    for row in rows:
        word = {True: "[green]✓ allowed[/]", False: "[bold red]✕ too low[/]", None: ""}[row["allowed"]]
        load_ = shown(row["load_ohm"], "ohm")
        out.print(f"  {row['in_series']} in series, {row['in_parallel']} such in parallel: {load_}  {word}")
    out.print("[dim]every coil then carries the same current; other wirings load them unequally and are left out[/]\n")
