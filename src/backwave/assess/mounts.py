"""What each driver is mounted in: a door as far as it was measured, a box, or an infinite baffle; and where."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, pi
from typing import TYPE_CHECKING

from backwave.assess.measured import PRACTICE, Ledger
from backwave.finding import Check, Finding, Text
from backwave.job import Job, Place
from backwave.job.signal import Box, Path
from backwave.sound.airspace import BoxCabin
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
    space : BoxCabin or None, m
        The air of the cabin, in which every place must be; None where there is none.
    findings : list of Finding, no unit
        Takes what is missing.
    """

    job: Job
    here: dict[str, Place]
    fits: dict[tuple[str, str], PlaceFit]
    ledger: Ledger
    space: BoxCabin | None
    findings: list[Finding]

    def of(
        self, path: Path, subject: str, unit: Unit, what_if: WhatIf
    ) -> tuple[Mount, tuple[Point | None, ...]] | None:
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
        box = next((b for b in self.job.file.box if b.id == path.box), None)
        at = self._at(subject, box)
        if self.space is not None and not self._placed(subject, at):
            return None
        if box is not None:
            return self._box(box), (at,)
        return Baffle(), (at,)

    def _at(self, subject: str, box: Box | None) -> Point | None:
        if box is None:
            return self.here[subject].position_m
        return None if box.at is None else _point(box.at)

    def _placed(self, subject: str, at: Point | None) -> bool:
        """Whether a place is known and inside the cabin; if not, it is asked for once."""
        assert self.space is not None
        if at is not None and bool(self.space.contains([at])[0]):
            return True
        if at is None:
            said = Text("Nobody has said where in the cabin this is, so it is left out of the predictions")
            remedy = Text("Add at = [back from the front, right of the left side, above the floor], measured with a tape")
        else:
            said = Text("Its place lies outside the cabin's air, so it is left out of the predictions")
            remedy = Text("Measure at again, or the cabin's length, width and height")
        finding = Finding(Check("sound.place", "caution", said, remedy=remedy, key="at"), subject)
        if finding not in self.findings:
            self.findings.append(finding)
        return False

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
