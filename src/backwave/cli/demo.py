"""`backwave demo`: the demo job, written and run whole, with recordings made by computation.

Nobody can record in a van that does not exist.  Each recording is what the model says of a van that differs from the job
in what nobody measured (more leak, a damper cabin), with trim resonances that no model has, places of the microphone that
differ a little, noise, a recorder on a clock of its own, and a driver that distorts.  The job's file says so beside each.
"""

from __future__ import annotations

import json
import os
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from backwave.atomic_write import write_whole
from backwave.cli import check, design, make, output, pack, read, wire
from backwave.cli.plan import day
from backwave.errors import InputError
from backwave.notation.wires import GATES

if TYPE_CHECKING:
    from backwave.job import Job

# which stage each recording is of, and how many times the harmonics of a good driver its drivers have
STAGES = {"before": ("factory", 3.0), "after": ("subwoofer", 1.0)}
SWEEPS = {1: ("sweep.json", -12.0), 2: ("quiet.json", -18.0)}  # which sweep each recording is of, and how loud
# what the recordings' van has and the job does not know
TRUTH = {
    "opening.front-door.cavity.leak": "48 cm2",
    "opening.front-door.gap.leak": "22 cm2",
    "opening.front-door.cavity.volume": "33 L",
    "vehicle.cabin.loss": 0.22,
}
SWEEP_S = 2.0
FULL_SCALE_DB = 115.0  # as the demo job says of its recorder


def run(folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where to put it.")] = Path("demo")) -> None:
    """Write the demo job (a bakery's night-round van) and run all of it: findings, predictions, wires, parts, drawings, dossier."""
    from backwave.assess import assess, with_comparisons
    from backwave.job import FILE, disk, load
    from backwave.job.load import read_text
    from backwave.make import make as make_parts

    out = output.console()
    folder.mkdir(parents=True, exist_ok=True)
    path, made_in = folder / FILE, folder / "made"
    text = (files("backwave.cli") / "demo_job" / FILE).read_text(encoding="utf-8")
    if os.path.lexists(path) and not path.is_file():
        raise InputError(output.relative(path), "no ordinary file", "a folder that is new, or holds a job already")
    if path.exists() and read_text(folder) != text:
        out.print(f"{output.relative(path)} was changed; it is kept as it is, and run as it is.")
    else:
        disk.save(folder, text)
        _confirm_all(folder)
    job = load(folder)
    result = with_comparisons(job, assess(job))
    check.show(result, all_=False)
    charts: list[Path] = []
    if result.prediction is not None:
        design.show(result.prediction, result.title, result.show, findings=False)
        charts = design.plots(result.prediction, made_in / "sound", result.show)
    if result.wires is not None:
        wire.show(result, job, job.gates)
        wire.drawings(result, made_in / "wires")
    record(folder, job)
    result = check.heard(job, result)
    read.show(result)
    proven = read.plots(result, made_in / "proof")
    made = make_parts(job, result, made_in, watch=make.progress)
    make.show(made, result, made_in)
    packed, _ = pack.build(job, result, folder, date=day(None))
    pack.show(packed)
    here = output.relative(folder)
    places = [(path, f"what was measured; change a number and run: backwave check {here}")]
    places += [(chart, f"and {len(charts) - 1} more charts: what each stage brings") for chart in charts[:1]]
    computed = "before, after and predicted; the demo's recordings are made by computation"
    places += [(chart, computed) for chart in proven[:1]]
    places += [(folder, f"in the browser: backwave open {here}")]
    places += [(drawing, "") for drawing in sorted((made_in / "drawings").glob("*.svg"))]
    templates = (page for page in sorted(made_in.glob("*/*.pdf")) if page.parent.name != "dossier")
    places += [(page, "measure both bars on the paper before you cut") for page in templates]
    places += [(made_in, "a folder a part: STEP, STL, 3MF, DXF, paper template, dummy\n")]
    out.print("[bold]Where to look[/]")
    for place, what in places:
        out.print(f"  {output.relative(place)}" + (f"  {what}" if what else ""), soft_wrap=True)


def _confirm_all(folder: Path) -> None:
    """What the demo's invented people confirmed before they read its pairs and outputs."""
    from backwave.job import load
    from backwave.job.gates import about, add, has_reading, reading, rows

    for gate, row in rows(load(folder).file):
        if has_reading(gate, row):
            add(folder, gate, row.id, about(gate, row), dict.fromkeys(GATES[gate], True), reading(gate, row))


def record(folder: Path, job: Job) -> list[Path]:
    """Make the recordings that the demo job names, with the description of the sweep; what is there stays."""
    from backwave.assess import predict
    from backwave.assess.proof.recordings import Flaws, simulated
    from backwave.assess.proof.signals import signal_of
    from backwave.files.recordings import write_flac
    from backwave.job import FILE, loads, toml_edit

    wanted = [folder / row.file for row in job.file.reading]
    if not wanted or all(path.is_file() for path in wanted):
        return []
    text = (folder / FILE).read_text(encoding="utf-8")
    for key, value in TRUTH.items():
        text = toml_edit.with_key(text, key, value)
    made = predict(loads(text, folder))
    if made is None:
        return []
    (folder / "readings").mkdir(exist_ok=True)
    written = []
    for k, (name, level) in SWEEPS.items():
        played = signal_of("response", level_db=level, identified=True, length_s=SWEEP_S).description
        write_whole(folder / "readings" / name, (json.dumps(played, indent=2) + "\n").encode())
        for when, (stage, worse) in STAGES.items():
            path = folder / "readings" / f"computed-{when}-{k}.flac"
            if path not in wanted or path.is_file():
                continue
            flaws = Flaws(23.0, -78.0, 1.5, 0.6, 0.02 * worse, 0.01 * worse)
            samples = simulated(made, stage, 0, played, FULL_SCALE_DB, flaws=flaws, seed=10 * k + len(when))
            written.append(write_flac(path, samples, int(played["rate_hz"])))
    return written
