"""`backwave demo`: the demo job, written and run whole."""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path
from typing import Annotated

import typer

from backwave.cli import output
from backwave.cli.plan import day
from backwave.errors import InputError


def confirm_all(folder: Path) -> None:
    """What the demo's invented people confirmed before they read its pairs and outputs."""
    from backwave.job import load
    from backwave.job.gates import about, add, has_reading, reading, rows
    from backwave.notation.wires import GATES

    for gate, row in rows(load(folder).file):
        if has_reading(gate, row):
            add(folder, gate, row.id, about(gate, row), dict.fromkeys(GATES[gate], True), reading(gate, row))


def run(folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where to put it.")] = Path("demo")) -> None:
    """Write the demo job (a bakery's night-round van) and run all of it: findings, predictions, wires, parts, drawings, dossier."""
    from backwave.assess import assess, with_comparisons
    from backwave.cli import check, demo_recordings, make, pack, predict, proof, wire
    from backwave.job import FILE, disk, load
    from backwave.job.load import read_text
    from backwave.make import make as make_parts

    out = output.console()
    folder.mkdir(parents=True, exist_ok=True)
    source = files("backwave.cli") / "demo_job" / FILE
    path = folder / FILE
    text = source.read_text(encoding="utf-8")
    if os.path.lexists(path) and not path.is_file():
        raise InputError(output.relative(path), "no ordinary file", "a folder that is new, or holds a job already")
    if path.exists() and read_text(folder) != text:
        out.print(f"{output.relative(path)} was changed; it is kept as it is, and run as it is.")
    else:
        disk.save(folder, text)
        confirm_all(folder)
    job = load(folder)
    result = with_comparisons(job, assess(job))
    check.show(result, all_=False)
    charts = []
    if result.prediction is not None:
        predict.show(result.prediction, result.title, result.show, findings=False)
        charts = predict.plots(result.prediction, folder / "made" / "sound", result.show)
    if result.wires is not None:
        wire.show(result.wires, result, job.gates)
        wire.drawings(result, folder / "made" / "wires")
    demo_recordings.write(folder, job)
    result = proof.heard(job, result)
    proof.show(result)
    proven = proof.plots(result, folder / "made" / "proof")
    made = make_parts(job, result, folder / "made", watch=make.progress)
    make.show(made, result, folder / "made")
    packed, _ = pack.build(job, result, folder, date=day(None))
    pack.show(packed)
    out.print("[bold]Where to look[/]")
    out.print(
        f"  {output.relative(path)}  what was measured; change a number and run: backwave check {output.relative(folder)}",
        soft_wrap=True,
    )
    for chart in charts[:1]:
        out.print(
            f"  {output.relative(chart)}  and {len(charts) - 1} more charts: what each stage brings", soft_wrap=True
        )
    for chart in proven[:1]:
        out.print(
            f"  {output.relative(chart)}  before, after and predicted; the demo's recordings are made by computation",
            soft_wrap=True,
        )
    out.print(f"  {output.relative(folder)}  in the browser: backwave open {output.relative(folder)}", soft_wrap=True)
    for drawing in sorted((folder / "made" / "drawings").glob("*.svg")):
        out.print(f"  {output.relative(drawing)}", soft_wrap=True)
    templates = (path for path in sorted((folder / "made").glob("*/*.pdf")) if path.parent.name != "dossier")
    for template in templates:
        out.print(f"  {output.relative(template)}  measure both bars on the paper before you cut", soft_wrap=True)
    out.print(
        f"  {output.relative(folder / 'made')}  a folder a part: STEP, STL, 3MF, DXF, paper template, dummy\n",
        soft_wrap=True,
    )
