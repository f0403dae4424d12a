"""`backwave wire`: supply, cable, fuse, ground and gain; the harness and its lists; what was found of the factory's wires."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.markup import escape

from backwave.cli import output
from backwave.cli.pair import ask
from backwave.errors import MissingError
from backwave.finding import Finding, sentences
from backwave.notation.measures import in_words, wire_size
from backwave.notation.wires import PAIR_GATE
from backwave.units import show as shown

if TYPE_CHECKING:
    from backwave.assess import Assessment, Wires
    from backwave.assess.inputs.factory import FactoryRecord
    from backwave.assess.power.results import Harnessed
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
        _lists(harness, result.show)
    else:
        if made is not None:
            show(made, result, asked(job, made) if confirmed else read.gates)
        if factory is not None:
            _factory(factory, result)
        if harness is not None:
            _harness(harness, result)
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


def show(made: Wires, result: Assessment, gates: Gates) -> None:
    """Print the supply and the gains for a person, what can hurt first."""
    from backwave.drawing.wiring import fuse_words, size_words

    out, system, budget = output.console(), result.show, made.budget
    out.print(f"\n[bold]{escape(result.title)}[/]   supply and wires\n")
    for caution in made.cautions:
        out.print(f"  ▲ {escape(sentences(caution.check, system))}")
    out.print("  [dim]Vehicle maker's service information, local codes and licensed practice come first.[/]\n")
    heads = ("cable", "from", "sized for", "length", "size", "drop", "conductor", "fuse at its head")
    rows = [
        ("  " * node.depth + escape(node.id), escape(node.parent or "battery"), shown(node.cable.current_a, "A", system),
         shown(node.cable.length_m, "m", system), size_words(node.cable, system),
         "" if node.cable.drop_v is None else shown(node.cable.drop_v, "V", system),
         "" if node.cable.conductor_degc is None else shown(node.cable.conductor_degc, "degC", system),
         fuse_words(node.fuse) if node.fitted else "the one before it does")
        for node in made.tree.nodes
    ]  # fmt: skip
    out.print(output.table(heads, rows, right=("sized for", "length", "drop", "conductor")))
    out.print(f"\n  with music about {shown(budget.musical_a, 'A')}, at rated power {shown(budget.rated_a, 'A')}")
    for words, spare in (("at idle", budget.idle_spare_a), ("at speed", budget.speed_spare_a)):
        if spare is not None:
            out.print(f"  the alternator {words}: {shown(spare, 'A')} to spare with music")
    if budget.off_min is not None:
        out.print(f"  engine off: {budget.off_min:.0f} minutes until {100 * budget.depth:.0f} % of the battery is used")
    for peak in made.peaks:
        for load_ in peak.loads:
            out.print(
                f"  {escape(load_.name)}, engine {peak.engine}, all at rated power: {shown(load_.volts, 'V')} at its terminals, "
                f"{load_.power_db:.1f} dB of output",
                soft_wrap=True,
            )
    if made.channels:
        out.print("\n[bold]Setting gains with a voltmeter[/]  first, and every time:")
        for line in _gains(made, gates):
            out.print(line, soft_wrap=True)
    out.print()
    output.findings(made.findings, system, result.names)


def _gains(made: Wires, gates: Gates) -> Iterator[str]:
    for text in made.channels[0].target.gate:
        yield f"  □ {escape(text.template)}"
    for one in made.channels:
        target, volts = one.target, one.shown_v(gates)
        tone = "by level against the woofers: no full-power tone into a tweeter's channel"
        if target.test_tone_v is not None and target.tone_hz is not None:
            ceiling = "the voltage shows once its gate is confirmed: --speakers-off asks each line"
            if volts is not None:
                ceiling = f"{shown(volts, 'V')}, a ceiling"
            tone = f"{target.tone_hz:.0f} Hz at {target.tone_db:g} dB: {ceiling}"
        yield f"  {escape(one.id)} ({escape(', '.join(one.speakers))}, {shown(target.load_ohm, 'ohm')}): {tone}"
        for line in one.input_words():
            yield f"    {escape(line)}"
        for n, step in enumerate(target.steps if volts is not None else (), 1):
            yield f"    {n}. {escape(output.fill(step))}"
    for text in made.channels[0].target.notes:
        yield f"  [dim]{escape(text.template)}[/]"


def _factory(record: FactoryRecord, result: Assessment) -> None:
    """Print what is known of the factory's wires, the gate of each pair first; then what its system does."""
    out = output.console()
    if record.pairs:
        out.print("\n[bold]Factory wires[/]  an airbag's igniter reads just like a speaker; before each pair:")
        for line in PAIR_GATE.values():
            out.print(f"  □ {escape(line)}", soft_wrap=True)
        for pair in record.pairs:
            colors = " and ".join(map(str, pair.table.colors or ()))
            said = output.fill(pair.says.checks[0].title, result.show)
            out.print(f"  {escape(said)}{f' ({escape(colors)})' if colors else ''}", soft_wrap=True)
    if record.outputs:
        out.print("\n[bold]Factory outputs[/]")
        rows = []
        for one in record.outputs:
            band = "" if one.band is None else " to ".join(shown(q.to("Hz"), "Hz") for q in one.band)
            tied = {True: "both swing", False: "one is ground", None: "not looked at"}[one.bridge_tied]
            rows.append(
                (escape(one.id), band, "" if one.loudest is None else shown(one.loudest.to("V"), "V"), escape(one.loud_at),
                 "" if one.rated is None else shown(one.rated.to("ohm"), "ohm"), tied, escape(one.into or "its speaker"))
            )  # fmt: skip
        heads = ("output", "band", "loudest", "volume", "load", "between its wires", "goes to")
        out.print(output.table(heads, rows, right=()))
    if record.system is not None and record.system.must_sound:
        keeps = ", ".join(f"{what} ({pair})" if pair else what for what, pair in record.system.must_sound)
        out.print(f"  must still sound at hand-over: {escape(keeps)}", soft_wrap=True)
    _findings(record.findings, result)


def _harness(made: Harnessed, result: Assessment) -> None:
    """Print the harness: runs to the speakers, plugs, what was found."""
    out, system, rows = output.console(), result.show, []
    out.print(
        f"\n[bold]Harness of the last stage[/]  {len(made.schedule)} wires; --lists prints them, --plot draws them"
    )
    for run in made.runs:
        if (cable := run.cable) is None:
            continue
        length = ("~" if cable.guessed else "") + shown(cable.length_m, "m", system)
        damping = "" if cable.damping_factor is None else f"{cable.damping_factor:.0f}"
        rows.append(
            (escape(f"{run.subject} ({run.speaker})"), length, wire_size(cable.size, system) + (" (there)" if run.there else ""),
             f"{-cable.loss_db:.2f} dB", damping, f"{100 * (cable.low_pass_factor - 1):+.1f} %", wire_size(cable.least, system) or "none")
        )  # fmt: skip
    if rows:
        heads = ("run to", "length", "size", "loses", "damping", "low-pass", "minimum size")
        out.print(output.table(heads, rows, right=("length", "loses")))
        out.print(
            "  [dim]~ nobody measured it; (there): the vehicle's own; low-pass: by how much one before the cable moves[/]"
        )
    for plug in made.plugs:
        out.print(f"  plug {escape(plug.name)}", soft_wrap=True)
        for pin in plug.in_order:
            out.print(f"    {escape(pin.number)}  {escape(pin.words)}", soft_wrap=True)
    if made.begun:
        _findings(made.findings, result)
    out.print()


def _lists(made: Harnessed, system: str) -> None:
    """Print the lists a person works from at the bench: every wire, what to cut, the labels."""
    out = output.console()
    out.print("[bold]Wires[/]  ~ nobody measured it; (there): the vehicle's own, nothing is cut")
    rows = []
    for row in made.schedule:
        length = ("~" if row.guessed else "") + shown(row.length_m, "m", system)
        length = "(there)" if row.there and row.guessed else length
        rows.append(
            (*map(escape, (row.id, row.from_pin, row.to_pin, row.color)), wire_size(row.area_mm2, system), length)
        )
    out.print(output.table(("wire", "from", "to", "color", "size", "length"), rows, right=("length",)))
    margins = "each with 50 mm at both ends, and 100 mm more through a hinge boot (common trade practice)"
    out.print("\n[bold]To cut[/]  " + in_words(margins, system))
    rows = []
    for cut in made.cuts:
        pieces = ", ".join(f"{wire} {shown(length, 'm', system)}" for wire, length in cut.cuts)
        total = ("~" if cut.guessed else "") + shown(cut.total_m, "m", system)
        first = ": measure first" if cut.guessed else ""
        rows.append((escape(cut.color or "any"), wire_size(cut.area_mm2, system), total, escape(pieces) + first))
    out.print(output.table(("color", "size", "together", "cuts"), rows, right=("together",)))
    out.print("\n[bold]Labels[/]  one for each end")
    labels = [map(escape, (label.wire, label.here, label.there)) for label in made.labels]
    out.print(output.table(("wire", "here", "there"), labels, right=()))


def _findings(found: tuple[Finding, ...], result: Assessment) -> None:
    if any(f.check.verdict != "ok" for f in found):
        output.console().print()
        output.findings(found, result.show, result.names)
