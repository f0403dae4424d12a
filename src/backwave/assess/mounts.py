"""What each driver is mounted in: a door as far as it was measured, a box, or an infinite baffle; and where."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, pi
from typing import TYPE_CHECKING

from backwave.assess.measured import PRACTICE, Ledger
from backwave.finding import Finding
from backwave.job import Job, Place
from backwave.job.signal import Box, Path
from backwave.sound.channel import Mount
from backwave.sound.mount import Baffle, InBox, Port

if TYPE_CHECKING:
    from backwave.assess.placed import PlaceFit
    from backwave.assess.what_if import WhatIf
    from backwave.sound.unit import Unit

__all__ = ["Mounts"]

Point = tuple[float, float, float]


@dataclass
class Mounts:
    """Makes the mount of a driver at a place, and remembers what it assumed.

    Parameters
    ----------
    job : Job, no unit
        The job.
    here : dict of str to Place, no unit
        Openings on their sides.
    fits : dict of (subject, speaker) to PlaceFit, mm
        The fits, for their lengths.
    ledger : Ledger, no unit
        Takes what was assumed.
    in_cabin : bool, no unit
        There is a cabin, so every place must be known.
    findings : list of Finding, no unit
        Takes what is missing.
    """

    job: Job
    here: dict[str, Place]
    fits: dict[tuple[str, str], PlaceFit]
    ledger: Ledger
    in_cabin: bool
    findings: list[Finding]

    def of(self, path: Path, subject: str, unit: Unit, what_if: WhatIf) -> tuple[Mount, tuple[Point | None, ...]]:
        """The mount of a driver, and where its outlets are.

        Parameters
        ----------
        path : Path, no unit
            Of the stage.
        subject : str, no unit
            The opening on its side, or the box.
        unit : Unit, no unit
            The driver.
        what_if : WhatIf, no unit
            What is otherwise.
        """
        if path.box is not None:
            box = next(b for b in self.job.file.box if b.id == path.box)
            at = None if box.at is None else _point(box.at)
            return self._box(box), (at,)
        return Baffle(), (self.here[subject].position_m,)

    def has_ring(self, subject: str, speaker: str) -> bool:
        """Whether a foam ring closes the front of a driver at a place.

        Parameters
        ----------
        subject, speaker : str, no unit
            The opening on its side, and the driver.
        """
        fit = self.fits.get((subject, speaker))
        return fit is not None and fit.ring is not None and fit.ring.free_mm > 0

    def _box(self, box: Box) -> InBox:
        key, vented = f"box.{box.id}", box.kind == "vented"
        leak = box.leak_q
        if leak is None:
            leak = 7.0 if vented else 20.0
            self.ledger.note(f"{key}.leak_q", f"{leak:g}", "a usual box; " + PRACTICE)
        absorption = inf if box.absorption_q is None else box.absorption_q
        if not vented:
            return InBox(box.volume.to("m3"), None, None, leak, absorption)
        assert box.tuning is not None
        assert box.port is not None
        port = Port(
            box.port.count * pi * (box.port.diameter.to("m") / 2) ** 2,
            box.port.count,
            None if box.port.length is None else box.port.length.to("m"),
        )
        return InBox(box.volume.to("m3"), box.tuning.to("Hz"), port, leak, absorption)


def _point(at) -> Point:  # type: ignore[no-untyped-def]
    x, y, z = (q.to("m") for q in at)
    return x, y, z
