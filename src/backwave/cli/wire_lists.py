"""What `backwave wire` says of the harness and of the factory's wires; its lists for the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backwave.cli import output
from backwave.notation.measures import in_words, wire_size
from backwave.units import show as shown

if TYPE_CHECKING:
    from rich.table import Table

    from backwave.assess import Assessment
    from backwave.assess.inputs.factory import FactoryRecord
    from backwave.assess.power.results import Harnessed
    from backwave.finding import Finding


def _table(*columns: str, right: tuple[str, ...] = ()) -> Table:
    from rich.table import Table

    table = Table(box=None, header_style="dim", pad_edge=False, padding=(0, 2, 0, 0))
    for name in columns:
        table.add_column(name, justify="right" if name in right else "left", overflow="fold")
    return table


def factory(record: FactoryRecord, result: Assessment) -> None:
    """Print what is known of the factory's wires, the gate of each pair first; then what its system does."""
    from rich.markup import escape

    from backwave.finding import words
    from backwave.notation.wires import PAIR_GATE

    out = output.console()
    if record.pairs:
        out.print("\n[bold]Factory wires[/]  an airbag's igniter reads just like a speaker; before each pair:")
        for line in PAIR_GATE.values():
            out.print(f"  □ {escape(line)}", soft_wrap=True)
        for pair in record.pairs:
            colors = " and ".join(map(str, pair.table.colors or ()))
            said = words(pair.says.checks[0].title, result.show) or ""
            out.print(f"  {escape(said)}{f' ({escape(colors)})' if colors else ''}", soft_wrap=True)
    if record.outputs:
        out.print("\n[bold]Factory outputs[/]")
        table = _table("output", "band", "loudest", "volume", "load", "between its wires", "goes to")
        for one in record.outputs:
            band = "" if one.band is None else " to ".join(shown(q.to("Hz"), "Hz") for q in one.band)
            tied = {True: "both swing", False: "one is ground", None: "nobody looked"}[one.bridge_tied]
            table.add_row(
                escape(one.id), band, "" if one.loudest is None else shown(one.loudest.to("V"), "V"), escape(one.loud_at),
                "" if one.rated is None else shown(one.rated.to("ohm"), "ohm"), tied, escape(one.into or "its speaker"),
            )  # fmt: skip
        out.print(table)
    if record.system is not None and record.system.must_sound:
        keeps = ", ".join(f"{what} ({pair})" if pair else what for what, pair in record.system.must_sound)
        out.print(f"  must still sound at hand-over: {escape(keeps)}", soft_wrap=True)
    _findings([f for f in record.findings if f.check.verdict != "ok"], result)


def harness(made: Harnessed, result: Assessment) -> None:
    """Print the harness: runs to the speakers, plugs, what was found."""
    from rich.markup import escape

    out, system = output.console(), result.show
    count = len(made.schedule)
    out.print(f"\n[bold]Harness of the last stage[/]  {count} wires; --lists prints them, --plot draws them")
    runs = [run for run in made.runs if run.cable is not None]
    if runs:
        table = _table("run to", "length", "size", "loses", "damping", "low-pass", "least that will do", right=("length", "loses"))  # fmt: skip
        for run in runs:
            cable = run.cable
            assert cable is not None
            length = ("~" if cable.guessed else "") + shown(cable.length_m, "m", system)
            damping = "" if cable.damping_factor is None else f"{cable.damping_factor:.0f}"
            table.add_row(
                escape(f"{run.subject} ({run.speaker})"), length, wire_size(cable.size, system) + (" (there)" if run.there else ""),
                f"{-cable.loss_db:.2f} dB", damping, f"{100 * (cable.low_pass_factor - 1):+.1f} %", wire_size(cable.least, system) or "none",
            )  # fmt: skip
        out.print(table)
        out.print(
            "  [dim]~ nobody measured it; (there): the vehicle's own; low-pass: by how much one before the cable moves[/]"
        )
    for plug in made.plugs:
        out.print(f"  plug {escape(plug.name)}", soft_wrap=True)
        for pin in plug.in_order:
            out.print(f"    {escape(pin.number)}  {escape(pin.words)}", soft_wrap=True)
    if made.begun:
        _findings([f for f in made.findings if f.check.verdict != "ok"], result)
    out.print()


def lists(made: Harnessed, system: str) -> None:
    """Print the lists a person works from at the bench: every wire, what to cut, the labels."""
    from rich.markup import escape

    out = output.console()
    out.print("[bold]Wires[/]  ~ nobody measured it; (there): the vehicle's own, nothing is cut")
    table = _table("wire", "from", "to", "color", "size", "length", right=("length",))
    for row in made.schedule:
        size = wire_size(row.area_mm2, system)
        length = (
            "(there)" if row.there and row.guessed else ("~" if row.guessed else "") + shown(row.length_m, "m", system)
        )
        table.add_row(escape(row.id), escape(row.from_pin), escape(row.to_pin), escape(row.color), size, length)
    out.print(table)
    out.print(
        "\n[bold]To cut[/]  "
        + in_words("each with 50 mm at both ends, and 100 mm more through a hinge boot (common trade practice)", system)
    )
    table = _table("color", "size", "together", "cuts", right=("together",))
    for cut in made.cuts:
        size = wire_size(cut.area_mm2, system)
        pieces = ", ".join(f"{wire} {shown(length, 'm', system)}" for wire, length in cut.cuts)
        total = ("~" if cut.guessed else "") + shown(cut.total_m, "m", system)
        table.add_row(
            escape(cut.color or "any"), size, total, escape(pieces) + (": measure first" if cut.guessed else "")
        )
    out.print(table)
    out.print("\n[bold]Labels[/]  one for each end")
    table = _table("wire", "here", "there")
    for label in made.labels:
        table.add_row(escape(label.wire), escape(label.here), escape(label.there))
    out.print(table)


def _findings(found: list[Finding], result: Assessment) -> None:
    if found:
        out = output.console()
        out.print()
        output.findings(out, found, result.show, names=result.names)
