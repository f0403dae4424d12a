"""`backwave wire`: supply, cable, fuse, ground and gain; the harness and the factory's wires by `wire_lists`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from backwave.cli import output
from backwave.errors import MissingError
from backwave.finding import words as said_words
from backwave.units import show as shown

if TYPE_CHECKING:
    from backwave.assess import Assessment, Wires
    from backwave.job.gates import Gates


def run(
    job: Annotated[Path, typer.Argument(help="The job folder.")] = Path(),
    confirmed: Annotated[
        bool, typer.Option("--speakers-off", help="Ask each line of each gain's gate, then show its voltage.")
    ] = False,
    lists: Annotated[
        bool, typer.Option("--lists", help="Every wire, what to cut, and the labels, instead of the rest.")
    ] = False,
    plot: Annotated[Path | None, typer.Option("--plot", metavar="DIR", help="Write the drawings there as SVG.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
) -> None:
    """Supply, cables, fuses, grounds and gains; the harness, its plugs and lists; what was found of the factory's wires."""
    from backwave.assess import assess, wires_json
    from backwave.assess.inputs.factory import factory_json
    from backwave.assess.power.results import harness_json
    from backwave.cli import wire_lists
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
        output.document(
            wires_json(
                made, None if harness is None else harness_json(harness),
                None if factory is None else factory_json(factory), read.gates,
            )
        )  # fmt: skip
    elif lists:
        if harness is None:
            raise MissingError("There is no harness to list", "A [[stage]] with its paths; docs/wires.md shows how")
        wire_lists.lists(harness, result.show)
    else:
        if made is not None:
            gates = asked(job, made) if confirmed else read.gates
            show(made, result, gates)
        if factory is not None:
            wire_lists.factory(factory, result)
        if harness is not None:
            wire_lists.harness(harness, result)
    if plot is not None:
        for path in drawings(result, plot):
            output.messages().print(output.relative(path), soft_wrap=True)
    found = [*(() if made is None else made.findings), *(() if factory is None else factory.findings)]
    found += [] if harness is None or not harness.begun else harness.findings
    raise typer.Exit(1 if any(f.check.verdict == "stop" for f in found) else 0)


def drawings(result: Assessment, folder: Path) -> list[Path]:
    """Write the drawings as SVG, and say which."""
    from backwave.atomic_write import write_whole
    from backwave.drawing.harness import harness_svg
    from backwave.drawing.wiring import faces_svg, supply_svg

    made: dict[str, str] = {}
    if result.wires is not None:
        made["supply.svg"] = supply_svg(result.wires, result.title, "paper", system=result.show)
    if result.harness is not None:
        made["harness.svg"] = harness_svg(result.harness, result.title, "paper")
        if result.harness.plugs:
            made["plugs.svg"] = faces_svg(result.harness.plugs, "Factory plugs that are kept", "paper")
    folder.mkdir(parents=True, exist_ok=True)
    for name, svg in made.items():
        write_whole(folder / name, svg.encode())
    return [folder / name for name in made]


def asked(job: Path, made: Wires) -> Gates:
    """Ask each line of each gain's gate; what is confirmed by then."""
    from backwave.cli.gate import ask
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


def show(made: Wires, result: Assessment, gates: Gates) -> None:
    """Print it for a person, what can hurt first."""
    from rich.markup import escape
    from rich.table import Table

    from backwave.drawing.wiring import fuse_words, size_words

    out, system = output.console(), result.show
    out.print(f"\n[bold]{escape(result.title)}[/]   supply and wires\n")
    for caution in made.cautions:
        texts = (output.fill(caution.check.title, system), output.fill(caution.check.remedy, system))
        out.print("  ▲ " + " ".join(f"{escape(text.rstrip('.'))}." for text in texts if text))
    out.print("  [dim]Vehicle maker's service information, local codes and licensed practice come first.[/]\n")
    table = Table(box=None, header_style="dim", pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("cable", "from", "sized for", "length", "size", "drop", "conductor", "fuse at its head"):
        table.add_column(
            name, justify="right" if name in ("sized for", "length", "drop", "conductor") else "left",
            overflow="fold",
        )  # fmt: skip
    for node in made.tree.nodes:
        cable = node.cable
        size = size_words(cable, system)
        held = fuse_words(node.fuse) if node.fitted else "the one before it does"
        table.add_row(
            "  " * node.depth + escape(node.id),
            escape(node.parent or "battery"),
            shown(cable.current_a, "A", system),
            shown(cable.length_m, "m", system),
            size,
            "" if cable.drop_v is None else shown(cable.drop_v, "V", system),
            "" if cable.conductor_degc is None else shown(cable.conductor_degc, "degC", system),
            held,
        )
    out.print(table)
    budget = made.budget
    out.print(f"\n  with music about {shown(budget.musical_a, 'A')}, at rated power {shown(budget.rated_a, 'A')}")
    for words, spare in (("at idle", budget.idle_spare_a), ("at speed", budget.speed_spare_a)):
        if spare is not None:
            out.print(f"  the alternator {words}: {shown(spare, 'A')} to spare with music")
    if budget.off_min is not None:
        out.print(f"  engine off: {budget.off_min:.0f} minutes until {100 * budget.depth:.0f} % of the battery is used")
    for peak in made.peaks:
        for load in peak.loads:
            out.print(
                f"  {escape(load.name)}, engine {peak.engine}, all at rated power: {shown(load.volts, 'V')} at its terminals, "
                f"{load.power_db:.1f} dB of output",
                soft_wrap=True,
            )
    _gains(made, gates)
    findings = [f for f in made.findings if f.check.verdict != "ok"]
    out.print()
    if findings:
        output.findings(out, findings, system, names=result.names)


def _gains(made: Wires, gates: Gates) -> None:
    from rich.markup import escape

    out = output.console()
    if not made.channels:
        return
    out.print("\n[bold]Setting gains with a voltmeter[/]  first, and every time:")
    for text in made.channels[0].target.gate:
        out.print(f"  □ {escape(text.template)}", soft_wrap=True)
    for one in made.channels:
        target = one.target
        tone = "by level against the woofers: no full-power tone into a tweeter's channel"
        if target.test_tone_v is not None and target.tone_hz is not None:
            volts = one.shown_v(gates)
            tone = f"{target.tone_hz:.0f} Hz at {target.tone_db:g} dB: "
            tone += (
                f"{shown(volts, 'V')}, a ceiling"
                if volts is not None
                else "the voltage shows once its gate is confirmed: --speakers-off asks each line"
            )
        out.print(
            f"  {escape(one.id)} ({escape(', '.join(one.speakers))}, {shown(target.load_ohm, 'ohm')}): {tone}",
            soft_wrap=True,
        )
        for line in one.input_words():
            out.print(f"    {escape(line)}", soft_wrap=True)
        for n, step in enumerate(target.steps if one.shown_v(gates) is not None else (), 1):
            out.print(f"    {n}. {escape(said_words(step))}", soft_wrap=True)
    for text in made.channels[0].target.notes:
        out.print(f"  [dim]{escape(text.template)}[/]", soft_wrap=True)
