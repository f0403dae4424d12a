"""ngspice as the other road: runs a netlist and reads its binary result.  Needed by the tests, never skipped."""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Complex = NDArray[np.complex128]


def analyse(
    netlist: str, save: list[str], sweep: str, folder: Path
) -> tuple[NDArray[np.float64], dict[str, Complex], str]:
    """Run `.ac <sweep>`; frequencies, each saved vector, and what ngspice printed."""
    circuit, raw = folder / "n.cir", folder / "n.raw"
    raw.unlink(missing_ok=True)
    body = f"{netlist}.save {' '.join(save)}\n.ac {sweep}\n.end\n"
    circuit.write_text(body)
    done = subprocess.run(
        ["ngspice", "-b", "-r", str(raw), str(circuit)],
        capture_output=True,
        text=True,
        check=True,
        stdin=subprocess.DEVNULL,
    )
    assert "singular" not in done.stderr.lower(), done.stderr
    header, _, data = raw.read_bytes().partition(b"Binary:\n")
    lines = header.decode().splitlines()
    start = lines.index("Variables:") + 1
    names = [line.split()[1] for line in lines[start:] if line.strip()]
    table = np.frombuffer(data, dtype=np.complex128).reshape(-1, len(names))
    return table[:, 0].real, {name: table[:, k] for k, name in enumerate(names)}, done.stdout
