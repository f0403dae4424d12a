"""`backwave design`: passive networks, protective capacitors, boxes to build, coils to wire."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.markup import escape

from backwave.cli import output
from backwave.errors import InputError, MissingError
from backwave.finding import Finding, value_words
from backwave.plain_text import file_stem
from backwave.units import parse, show

if TYPE_CHECKING:
    from backwave.assess import Prediction
    from backwave.assess.sound import design
    from backwave.job import Job

_KINDS = ("low-pass", "high-pass", "capacitor", "box", "coils")
_ACCEPTED = (
    'low-pass "2.5 kHz" LR4, high-pass "3 kHz" BW2, capacitor "3 kHz", box NAME, coils COUNT "4 ohm"; '
    "the first three with --path opening/speaker"
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
        _show(one)
    if plot is not None:
        _plot(one, plot)


def _show(one: design.DesignedNetwork) -> None:
    out = output.console()
    out.print(f"\n[bold]{escape(one.path)}[/]  {escape(one.kind)}, from source to speaker")
    for text in one.written:
        out.print(f"    {escape(text)}")
    out.print("[dim]coils: air, least wire (Brooks), copper at room temperature; as it goes into the job:[/]")
    quoted = ", ".join(f'"{text}"' for text in one.written)
    out.print(f"    network = [{escape(quoted)}]\n", soft_wrap=True)
    for load_, where in ((one.ideal, "into the textbook's resistor"), (one.real, "into this driver in this place")):
        reached = "never" if load_.reached_hz is None else show(load_.reached_hz, "Hz")
        out.print(
            f"  {where}: {load_.down_db:.0f} dB down at {reached}; the source sees {show(load_.least_ohm, 'ohm')} "
            f"or more, least at {show(load_.least_at_hz, 'Hz')}",
            soft_wrap=True,
        )
    for check in one.checks:
        if check.verdict != "ok":
            said = " → ".join(t for t in (output.fill(check.title), output.fill(check.remedy)) if t)
            out.print(f"  {output.verdict_word(check.verdict)}  {escape(said)}", soft_wrap=True)
    wide = float((one.real.high - one.real.low).max())
    out.print(f"  parts 5 % out either way move it by {wide / 2:.1f} dB at most")
    out.print(
        "  without a measured impedance this is the textbook's value for a model of the driver: claim no optimum\n"
    )
    rows = [
        (s.name, show(s.amps, "A"), show(s.volts, "V"),
         *(("", "") if s.part.kind == "C" else (show(s.watts, "W"), show(s.music_watts, "W"))), show(s.at_hz, "Hz"))
        for s in one.stress
    ]  # fmt: skip
    out.print(output.table(("part", "current", "peak voltage", "heat, sine", "heat, music", "worst at"), rows))
    out.print(
        f"[dim]at the source's full sine, {show(one.source_v, 'V')}; music: a tenth of its heat (common trade practice)[/]\n"
    )


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

    one, system = design.design_box(job, name), job.file.show
    if as_json:
        output.document(_box_json(one))
        return
    out, box = output.console(), one.made

    def size(*lengths_m: float) -> str:
        return " x ".join(show(n * 1e3, "mm", system) for n in lengths_m)

    def volume(cubic_m: float) -> str:
        return show(cubic_m * 1e3, "L", system)

    out.print(f"\n[bold]{name}[/]  outside {size(*box.outer)} (width, height, depth), inside {size(*box.inner)}")
    out.print(f"  {volume(box.gross)} inside; taken by " + ", ".join(f"{n} {volume(v)}" for n, v in box.taken))
    out.print(f"  {volume(box.net)} of air left\n")
    for cut in box.cuts:
        out.print(f"  {cut.count} x {cut.name:<15} {size(cut.long, cut.short)}  of {size(box.panel)}")
    if one.port_length:
        out.print(f"  each port {size(one.port_length)} long")
    out.print(
        "[dim]butt joints: top and bottom reach over everything; front and back between them; sides between all four[/]"
    )
    if one.check is not None:
        out.print(f"  {output.verdict_word(one.check.verdict)}  {output.fill(one.check.title, system)}")
    for item in one.assumed:
        out.print(f"  [dim]assumed: {item.key} = {value_words(item, system)}, {item.why}[/]")
    out.print()


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
    drives = f"; the output drives {show(lowest, 'ohm')} and more" if lowest else ""
    out.print(f"\n{given[0]} coils of {given[1]}{drives}")
    for row in rows:
        word = {True: "[green]✓ allowed[/]", False: "[bold red]✕ too low[/]", None: ""}[row["allowed"]]
        load_ = show(row["load_ohm"], "ohm")
        out.print(f"  {row['in_series']} in series, {row['in_parallel']} such in parallel: {load_}  {word}")
    out.print("[dim]every coil then carries the same current; other wirings load them unequally and are left out[/]\n")
