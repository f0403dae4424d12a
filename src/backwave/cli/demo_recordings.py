"""The demo's recordings: made by computation, since nobody can record in a van that does not exist.

Each is what the model says of a van that differs from the job in what nobody measured (more leak, a damper cabin), with
trim resonances that no model has, places of the microphone that differ a little, noise, a recorder on a clock of its
own, and a driver that distorts.  The job's file says so beside each.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from backwave.atomic_write import write_whole

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


def write(folder: Path, job: Job) -> list[Path]:
    """Make the recordings that the demo job names, with the description of the sweep; what is there stays."""
    wanted = [folder / row.file for row in job.file.reading]
    if not wanted or all(path.is_file() for path in wanted):
        return []
    from backwave.assess import predict
    from backwave.assess.proof.signals import signal_of
    from backwave.assess.proof.simulate_recording import Flaws, simulated
    from backwave.files.recordings import write_flac
    from backwave.job import FILE, loads, toml_edit

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
