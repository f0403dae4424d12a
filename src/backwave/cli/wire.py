"""`backwave wire`: supply, cable, fuse, ground and gain; the harness and its lists; what was found of the factory's wires."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.markup import escape

from backwave.cli import output
from backwave.cli.pair import ask
from backwave.errors import MissingError
from backwave.finding import Finding
from backwave.notation.wires import PAIR_GATE
from backwave.report.blocks import Audience, boxes, par, sub

if TYPE_CHECKING:
    from backwave.assess import Assessment, Wires
    from backwave.job import Job
    from backwave.job.gates import Gates


def run(
    job: output.JobFolder = Path(),
    confirmed: Annotated[
        bool, typer.Option("--speakers-off", help="Ask each line of each gain's gate, then show its voltage.")
    ] = False,
    lists: Annotated[
        bool, typer.Option("--lists", help="Every wire, what to cut, and the labels, instead of the rest.")
    ] = False,
    plot: Annotated[Path | None, typer.Option("--plot", metavar="DIR", help="Write the drawings there as SVG.")] = None,
    as_json: output.AsJson = False,
) -> None:
    """Supply, cables, fuses, grounds and gains; the harness, its plugs and lists; what was found of the factory's wires."""
    from backwave.assess import assess, wires_json
    from backwave.assess.inputs.factory import factory_json
    from backwave.assess.power.results import harness_json
    from backwave.job import load

    read = load(job)
    result = assess(read, draws=2_000)
    made, harness, factory = result.wires, result.harness, result.factory
    if made is None and harness is None and factory is None:
        raise MissingError(
            "Nothing in this job draws current, and no path leads to a speaker",
            "Add a [[load]] for each amplifier, [supply], and a [[stage]] with its paths; docs/wires.md shows how",
        )
    if as_json:
        wired = None if harness is None else harness_json(harness)
        output.document(wires_json(made, wired, None if factory is None else factory_json(factory), read.gates))
    elif lists:
        if harness is None:
            raise MissingError("There is no harness to list", "A [[stage]] with its paths; docs/wires.md shows how")
        from backwave.report import wires as report

        told = Audience(result.show, result.names)
        output.blocks([*report.schedule(told, harness), *report.cuts(told, harness), *report.labels_of(harness)])
    else:
        show(result, read, asked(job, made) if confirmed and made is not None else read.gates)
    if plot is not None:
        output.written(*drawings(result, plot))
    found = [*(() if made is None else made.findings), *(() if factory is None else factory.findings)]
    found += [] if harness is None or not harness.begun else harness.findings
    raise output.verdict_exit(f.check for f in found)


def drawings(result: Assessment, folder: Path) -> list[Path]:
    """Write the drawings as SVG, and say which."""
    from backwave.drawing.harness import harness_svg
    from backwave.drawing.wiring import faces_svg, supply_svg

    made: dict[str, str] = {}
    if result.wires is not None:
        made["supply"] = supply_svg(result.wires, result.title, "paper", system=result.show)
    if result.harness is not None:
        made["harness"] = harness_svg(result.harness, result.title, "paper")
        if result.harness.plugs:
            made["plugs"] = faces_svg(result.harness.plugs, "Factory plugs that are kept", "paper")
    return output.save_svgs(folder, made)


def asked(job: Path, made: Wires) -> Gates:
    """Ask each line of each gain's gate; what is confirmed by then."""
    from backwave.job import Session

    session = Session(job)
    for one in made.channels:
        if one.target.test_tone_v is not None:
            output.console().print(f"\n{one.id}, before its voltage is shown:", markup=False)
            try:
                ask(session, "gain", one.id, one.about)
            except typer.Abort as error:
                output.messages().print("\nWhat was confirmed until then is written; the rest is not.", markup=False)
                if isinstance(error.__context__, KeyboardInterrupt):
                    raise
                raise typer.Exit(2) from None
    return session.job.gates


def show(made: Assessment, job: Job, gates: Gates) -> None:
    """Print supply, factory wires and harness for a person, what can hurt first, each with what was found of it."""
    from backwave.report import wires as report

    out, told = output.console(), Audience(made.show, made.names)
    out.print(f"\n[bold]{escape(made.title)}[/]   supply and wires\n")
    if made.wires is not None:
        output.blocks(report.dangers(told, made.wires))
        output.blocks([*report.supply(told, job, made.wires), *report.gains(told, made.wires, gates)])
        _findings(made.wires.findings, made)
    if made.factory is not None:
        gate = [boxes(list(PAIR_GATE.values()))] if made.factory.pairs else []
        before = "Factory wires: an airbag's igniter reads just like a speaker; before each pair"
        output.blocks([sub(before), *gate, *report.factory(told, made.factory)])
        _findings(made.factory.findings, made)
    if (harness := made.harness) is not None:
        lists = f"{len(harness.schedule)} wires; --lists prints them, --plot draws them"
        output.blocks(
            [sub("Harness of the last stage"), par(lists), *report.runs(told, harness), *report.plugs(harness)]
        )
        _findings(harness.findings if harness.begun else (), made)
    out.print()


def _findings(found: tuple[Finding, ...], result: Assessment) -> None:
    if any(f.check.verdict != "ok" for f in found):
        output.console().print()
        output.findings(found, result.show, result.names)
