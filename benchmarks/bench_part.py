"""How fast a part is made, once the kernel is loaded: python -m benchmarks part

Limits: preview mesh within 1 s; all files of one side within 2.5 s (round flange) and 4.5 s (free form); checks in
two dimensions within 50 ms.  The kernel's own share is stated: its booleans and its meshing, timed inside the
same run.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from backwave.files.part_files import SideOrder, make_side
from backwave.part import AdapterSpec, Material, Printer, RingSpec, StandInSpec, Zone, check_ring, plan_checks
from backwave.part.features import features, marks
from backwave.part.order import PartOrder
from backwave.part.solid import build, preview_mesh
from backwave.shape import circle, smooth
from tests.part.specs import full

ASA, DOOR = Material("ASA", 1070.0, 90.0), Zone("door", 70.0)
GAUGE = StandInSpec(((70.0, 0.0), (66.0, 14.0), (46.0, 38.0), (46.0, 64.0)), 12.0, 83.0, 5.0)


def free_form() -> AdapterSpec:
    """A traced flange: 90 points, nowhere round."""
    turn = np.linspace(0.0, 2.0 * np.pi, 90, endpoint=False)
    r = 97.0 + 3.0 * np.cos(2.0 * turn) + 2.0 * np.cos(3.0 * turn + 1.0)
    return full(smooth(np.column_stack((r * np.cos(turn), r * np.sin(turn)))))


class Kernel:
    """Seconds spent inside the kernel's booleans and meshing while this is on."""

    def __enter__(self) -> Kernel:
        import build123d.topology.shape_core as core
        from OCP import BRepMesh

        self.seconds, self._undo = 0.0, []
        for place, name in ((core.Shape, "_bool_op"), (BRepMesh, "BRepMesh_IncrementalMesh")):
            self._undo.append((place, name, getattr(place, name)))
            setattr(place, name, self._timed(getattr(place, name)))
        return self

    def __exit__(self, *_: object) -> None:
        for place, name, old in self._undo:
            setattr(place, name, old)

    def _timed(self, call: Callable[..., Any]) -> Callable[..., Any]:
        def timed(*args: Any, **kwargs: Any) -> Any:
            start = time.perf_counter()
            try:
                return call(*args, **kwargs)
            finally:
                self.seconds += time.perf_counter() - start

        return timed


def fresh(run: Callable[[], object], times: int = 3) -> tuple[float, float]:
    """Best seconds, nothing kept from before, and the kernel's share of them."""
    found = []
    for _ in range(times):
        features.cache_clear()
        marks.cache_clear()
        with Kernel() as kernel:
            start = time.perf_counter()
            run()
            found.append((time.perf_counter() - start, kernel.seconds))
    return min(found)


def side(spec: AdapterSpec) -> None:
    with tempfile.TemporaryDirectory() as folder:
        foam = RingSpec(circle(83.0), circle(75.0), 12.0, name="foam ring")
        part = PartOrder(
            "front-left", "left", "front.left", "Front door, left", spec, ASA, Printer(), DOOR, foam, GAUGE,
            check_ring(spec),
        )  # fmt: skip
        make_side(SideOrder(part, Path(folder), "Night-round delivery van", "0123456789abcdef"))


def main() -> int:
    build(full(circle(91.0)), lettering=False)  # the kernel, loaded
    rows = []
    for name, spec, limit in (("round", full(), 2.5), ("free form", free_form(), 4.5)):
        checks, _ = fresh(partial(plan_checks, spec, ASA, Printer(), DOOR))
        preview, inside = fresh(partial(preview_mesh, spec))
        files, kernel = fresh(partial(side, spec))
        rows += [
            (f"{name}: checks in two dimensions, ms", checks * 1e3, 50.0),
            (f"{name}: preview mesh, s  (kernel {inside / preview:.0%})", preview, 1.0),
            (f"{name}: all files of one side, s  (kernel {kernel / files:.0%})", files, limit),
            ("  against the preview", files / preview, None),
        ]
    for name, value, most in rows:
        verdict = "" if most is None else f"limit {most:g}  {'ok' if value <= most else 'OVER'}"
        print(f"{name:78} {value:8.2f}  {verdict}")
    return int(any(most is not None and value > most for _, value, most in rows))


if __name__ == "__main__":
    raise SystemExit(main())
