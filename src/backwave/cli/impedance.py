"""`backwave impedance`: a recording over a known resistor becomes a driver's curve and parameters, behind its gate."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.markup import escape

from backwave.atomic_write import write_whole
from backwave.cli import output
from backwave.errors import InputError
from backwave.plain_text import file_stem
from backwave.units import convert, parse

if TYPE_CHECKING:
    from backwave.job import Job
    from backwave.job.speaker import SpeakerTable
    from backwave.measure.impedance import Jig, Recorded, Second


def run(
    recording: Annotated[
        Path, typer.Argument(metavar="RECORDING", help="Two channels: before the resistor, and after it.")
    ],
    resistor: Annotated[str, typer.Option(help='The known resistor as measured, such as "10.02 ± 0.05 ohm".')],
    volts: Annotated[
        str, typer.Option(help="Most that the headphone output gives, by a meter: 0.7 V (1 V peak) or less.")
    ] = "",
    unplugged: Annotated[
        bool, typer.Option("--unplugged", help="The driver is unplugged from the vehicle: look before you say so.")
    ] = False,
    sweep: Annotated[Path | None, typer.Option(help="Description of the sweep; else beside the recording.")] = None,
    match: Annotated[
        Path | None, typer.Option(help="Recording with both channels at one point, to compare the inputs.")
    ] = None,
    mass_recording: Annotated[Path | None, typer.Option(help="The same with a mass on the cone, for Vas.")] = None,
    mass: Annotated[str, typer.Option(help='That mass, such as "12 ± 0.1 g".')] = "",
    box_recording: Annotated[Path | None, typer.Option(help="The same in a tight box, for Vas.")] = None,
    box: Annotated[str, typer.Option(help='Net volume of that box, such as "9.0 ± 0.2 L".')] = "",
    area: Annotated[str, typer.Option(help="Effective area of the cone, for Vas; else the job's.")] = "",
    job: Annotated[Path | None, typer.Option(help="Job folder whose driver it is.")] = None,
    speaker: Annotated[str, typer.Option(help="Which driver of the job.")] = "",
    keep: Annotated[bool, typer.Option("--keep", help="Write what was found into that driver's record.")] = False,
    plot: Annotated[Path | None, typer.Option(metavar="FILE", help="Write the chart there as SVG.")] = None,
    as_json: output.AsJson = False,
) -> None:
    """Impedance over a known resistor, Thiele-Small parameters with their uncertainty, Vas by a mass or a box."""
    from backwave.assess.proof.signals import fitted_quantity, gate, jig_chart, jig_json, jig_of
    from backwave.files.recordings import beside, described
    from backwave.job import load

    passed = gate(parse(volts, "voltage").to("V") if volts else None, unplugged)
    if passed.verdict != "ok":
        output.messages().print(f"{output.verdict_word(passed.verdict)}  {output.fill(passed.title)}")
        output.messages().print(f"   → {output.fill(passed.remedy)}", soft_wrap=True)
        raise typer.Exit(1)
    if keep and (job is None or not speaker):
        raise InputError("where to keep it", "no driver named", "--job JOB --speaker ID")
    read = None if job is None else load(job)
    row = None if read is None else _speaker(read, speaker)
    second = None
    if mass_recording is not None and box_recording is not None:
        raise InputError("second recording", "a mass and a box", "one of them")
    if mass_recording is not None:
        second = _second("mass", mass_recording, mass, area, row)
    elif box_recording is not None:
        second = _second("box", box_recording, box, area, row)
    made = jig_of(
        described(sweep or beside(recording)), _sound(recording), fitted_quantity(parse(resistor, "resistance"), "ohm"),
        passed, None if match is None else _sound(match), second,
    )  # fmt: skip
    if as_json:
        output.document(jig_json(made), indent=None)
    else:
        _show(made, "metric" if read is None else read.file.show)
    if plot is not None:
        output.save_chart(plot, jig_chart(made))
    if keep and read is not None and row is not None:
        _keep(read, row, made)


def _sound(path: Path) -> Recorded:
    from backwave.files.recordings import read_sound

    sound = read_sound(path)
    return sound.samples, float(sound.rate_hz)  # type: ignore[return-value]  # float32 is enough


def _speaker(job: Job, name: str) -> SpeakerTable:
    rows = job.file.speaker
    found = next((one for one in rows if one.id == name), None)
    if found is None:
        raise InputError("driver of the job", name or "none named", ", ".join(one.id for one in rows))
    return found


def _second(kind: str, path: Path, amount: str, area: str, row: SpeakerTable | None) -> tuple[Recorded, Second]:
    from backwave.assess.proof.signals import fitted_quantity
    from backwave.measure.impedance import Second

    unit, dimension, such = {"mass": ("kg", "mass", "12 ± 0.1 g"), "box": ("m3", "volume", "9.0 ± 0.2 L")}[kind]
    if not amount:
        raise InputError(f"the {kind} of the second recording", "none given", f'--{kind}, such as "{such}"')
    if area:
        wide = fitted_quantity(parse(area, "area"), "m2")
    elif row is not None and row.motor is not None and row.motor.Sd is not None:
        wide = fitted_quantity(row.motor.Sd, "m2")
    else:
        raise InputError("effective area of the cone", "none given", '--area "133 cm2", or Sd in the driver\'s motor')
    return _sound(path), Second(kind, fitted_quantity(parse(amount, dimension), unit), wide)


def _show(made: Jig, system: str) -> None:
    out, m, s = output.console(), made.motor, made.suspension
    found = [("Re", m.Re, 1.0, "ohm"), ("fs", m.fs, 1.0, "Hz"), ("Qms", m.Qms, 1.0, ""), ("Qes", m.Qes, 1.0, ""),
             ("Qts", m.Qts, 1.0, ""), ("n", m.n, 1.0, "")]  # fmt: skip
    if s is not None:
        found += [
            ("Vas", s.Vas, 1e3, "L"),
            ("Mms", s.Mms, 1e3, "g"),
            ("Cms", s.Cms, 1e3, "mm/N"),
            ("Bl", s.Bl, 1.0, "Tm"),
        ]
    rows = []
    for name, x, scale, unit in found:
        if system == "us" and unit in ("L", "g"):
            scale, unit = (scale * convert(1.0, unit, "in3" if unit == "L" else "oz"), "in³" if unit == "L" else "oz")
        rows.append((name, f"{scale * x.value:.4g} {unit}".strip(), f"{scale * x.u:.2g}"))
    rows.append(("Le at 1 kHz", f"{1e3 * m.inductance():.3g} mH", ""))
    output.put_table(("parameter", "value", "standard uncertainty"), rows)
    for check in made.checks:
        if check.verdict != "ok":
            out.print(f"{output.verdict_word(check.verdict)}  {escape(output.fill(check.title))}")
            out.print(f"   → {escape(output.fill(check.remedy))}", soft_wrap=True)
    out.print("[dim]In free air, at this small level: nothing of creep, of heating, of a suspension that stiffens[/]\n")


def _keep(job: Job, row: SpeakerTable, made: Jig) -> None:
    from backwave.assess.proof.signals import columns_of, kept_motor
    from backwave.job import disk

    out, where = output.messages(), job.folder or Path()
    curve = f"readings/{file_stem(row.id)}-impedance.txt"
    (where / "readings").mkdir(exist_ok=True)
    write_whole(where / curve, columns_of(made).encode())
    changes = {f"motor.{key}": value for key, value in kept_motor(made, row.motor).items()}
    kept = {**changes, "measured.impedance": curve}
    disk.update(where, ((f"speaker.{row.id}.{key}", value) for key, value in kept.items()), on=job)
    for key, value in changes.items():
        out.print(f"kept: {row.id} {key} = {value!r}" if value is not None else f"taken out: {row.id} {key}")
    out.print(f"kept: {curve}")
