"""A thousand random parts: each becomes a closed solid or a finding that says why not.

    python -m benchmarks.many_solids [COUNT] [FIRST_SEED]

Each is built, meshed (judged closed by us and by manifold3d), written as STEP and read back.  The result is written
to docs/many-solids.md when a thousand are asked for.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from backwave.errors import BuildError
from backwave.workers import Workers
from tests.part.specs import random_spec

DOC = Path(__file__).parents[1] / "docs" / "many-solids.md"


@dataclass(frozen=True)
class Outcome:
    """What became of one random part."""

    seed: int
    verdict: str
    """closed, or finding, or else what went wrong."""
    words: str
    seconds: float
    faces: int = 0
    off: float = 0.0
    foretold: bool = False
    """The checks before the build had a stop."""


def one(seed: int) -> Outcome:
    """Build the part of one seed and look at it."""
    import manifold3d

    from backwave.files.solid_files import write_step
    from backwave.part.checks import shape_checks
    from backwave.part.solid import build, mesh

    spec = random_spec(np.random.default_rng(seed))
    foretold = any(c.verdict == "stop" for c in shape_checks(spec))
    started = time.perf_counter()
    try:
        built = build(spec)
        fine = mesh(built.solid)
        with tempfile.TemporaryDirectory() as folder:
            facts = write_step(built.solid, Path(folder) / "part.step")
    except BuildError as fault:
        return Outcome(seed, "finding", str(fault), time.perf_counter() - started, foretold=foretold)
    spent = time.perf_counter() - started
    judged = manifold3d.Manifold(manifold3d.Mesh(fine.vertices_mm.astype(np.float32), fine.triangles.astype(np.uint32)))
    off = abs(fine.volume_mm3 / facts.volume_mm3 - 1.0)
    bad = [
        words
        for words, wrong in (
            ("its mesh is open", not fine.closed),
            (f"manifold3d says {judged.status()}", judged.status() != manifold3d.Error.NoError),
            (f"its mesh is off by {off:.1e} in volume", off > 1e-3),
        )
        if wrong
    ]
    return Outcome(seed, "; ".join(bad) or "closed", "", spent, facts.faces, off, foretold)


def main(count: int = 1000, first: int = 0) -> int:
    """Build so many and say how it went; returns how many neither closed nor said why."""
    started = time.perf_counter()
    with Workers(2, load=("build123d",)) as workers:
        tickets = [workers.submit(f"solid {seed}", one, seed) for seed in range(first, first + count)]
        found = []
        for seed, ticket in enumerate(tickets, first):
            try:
                found.append(ticket.result())
            except Exception as wrong:  # noqa: BLE001 - it is what is looked for here
                found.append(Outcome(seed, f"{type(wrong).__name__}: {wrong}", "", 0.0))
            if (seed - first + 1) % 100 == 0:
                print(f"{seed - first + 1:5} after {time.perf_counter() - started:.0f} s", flush=True)
    text = _said(found, first)
    print(text)
    if count >= 1000:
        DOC.write_text(text, encoding="utf-8")
    return sum(o.verdict not in ("closed", "finding") for o in found)


def _said(found: list[Outcome], first: int) -> str:
    closed = [o for o in found if o.verdict == "closed"]
    told = [o for o in found if o.verdict == "finding"]
    wrong = [o for o in found if o not in closed and o not in told]
    lines = [
        "# Many solids",
        "",
        f"Written by `python -m benchmarks.many_solids {len(found)} {first}`: random parts by seed, every feature the",
        "part room knows in random sizes and places, not all of them sound. Each has to become one closed solid whose",
        "STEP file reads back the same and whose mesh is closed, by our own count of edges and by manifold3d, or a",
        "finding that says why not.",
        "",
        "| outcome | parts |",
        "| --- | --- |",
        f"| closed solid | {len(closed)} |",
        f"| finding that says why not | {len(told)} |",
        f"| neither | {len(wrong)} |",
        "",
    ]
    if closed:
        seconds = np.array([o.seconds for o in closed])
        lines += [
            f"Mesh and solid differ by at most {max(o.off for o in closed):.1e} of the volume. Build, mesh, STEP and",
            f"reading back took {np.median(seconds):.2f} s in the middle, {np.percentile(seconds, 95):.2f} s at the 95th",
            f"percentile, {seconds.max():.2f} s at most (two processes on two cores).",
            "",
        ]
    if told:
        kinds = Counter(" ".join(w for w in o.words.split(":")[0].split() if not _number(w)) for o in told)
        lines += [
            f"Of the findings, {sum(o.foretold for o in told)} had been told by the checks before the build.",
            "",
            "| finding | parts |",
            "| --- | --- |",
            *(f"| {words} | {n} |" for words, n in kinds.most_common()),
            "",
        ]
    if wrong:
        lines += ["Neither:", "", *(f"- seed {o.seed}: {o.verdict}" for o in wrong), ""]
    return "\n".join(lines)


def _number(word: str) -> bool:
    return word.replace(".", "").replace("-", "").isdigit()


if __name__ == "__main__":
    sys.exit(min(1, main(*(int(a) for a in sys.argv[1:]))))
