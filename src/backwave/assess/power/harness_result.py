"""The harness of a job with its lists, as a value and as JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from backwave.finding import Finding
from backwave.power.harness import CutRow, Harness, LabelRow, ScheduleRow

if TYPE_CHECKING:
    from backwave.assess.power.speaker_runs import SpeakerRun


@dataclass(frozen=True)
class PlugPin:
    """A contact of a kept plug, with what is on either side of it."""

    number: str  # as molded, and what the factory wire there is for
    carries: str
    color_in: str  # letters of the factory wire and of the adapter's, "" where nobody said
    color_out: str
    wire_in: str  # their names on the schedule, "" where it has none
    wire_out: str
    hides: str  # A part inside, "" for none; with "(bridged)" where it is

    @property
    def words(self) -> str:
        """What it carries, its wires, what it hides."""
        said = [self.carries, f"factory wire {self.color_in or 'of a color nobody read'}"]
        said += [f"to {self.wire_out}" + (f", {self.color_out}" if self.color_out else "")] if self.wire_out else []
        said += [f"hides {self.hides}"] if self.hides else []
        return "; ".join(said if self.wire_out else [*said, "stays as it is"])


@dataclass(frozen=True)
class PlugFace:
    """The face of a kept plug."""

    id: str  # its name, and what keeps it from going in the wrong way round
    keyed: str
    contacts: int  # how many contacts in how many rows
    rows: int
    pins: tuple[PlugPin, ...]  # every contact that anything is known of

    @property
    def name(self) -> str:
        """Its id, and how it is keyed."""
        return self.id + (f" (keyed: {self.keyed})" if self.keyed else "")

    @property
    def in_order(self) -> tuple[PlugPin, ...]:
        """Its contacts by their numbers, those that have a word for one last."""
        return tuple(sorted(self.pins, key=lambda p: (not p.number.isdecimal(), p.number.zfill(4))))


@dataclass(frozen=True)
class Harnessed:
    """The harness and its lists."""

    harness: Harness
    schedule: tuple[ScheduleRow, ...]
    cuts: tuple[CutRow, ...]
    labels: tuple[LabelRow, ...]
    plugs: tuple[PlugFace, ...]  # factory plugs that are kept, contact by contact
    runs: tuple[SpeakerRun, ...]  # what each run to a speaker does
    findings: tuple[Finding, ...]
    begun: bool  # somebody has recorded anything of it; nobody else is asked for lengths


def harness_json(made: Harnessed) -> dict[str, Any]:
    """The harness as JSON."""
    return {
        "devices": [{"id": d.id, "kind": d.kind, "pins": list(d.pins)} for d in made.harness.devices],
        "wires": [
            {
                "id": row.id, "from": row.from_pin, "to": row.to_pin, "color": row.color or None,
                "length_m": round(row.length_m, 3), "guessed": row.guessed, "area_mm2": row.area_mm2,
                "fuse_a": row.fuse_a, "boot": row.boot, "there_already": row.there,
            }
            for row in made.schedule
        ],
        "plugs": [
            {
                "id": plug.id, "keyed": plug.keyed or None, "contacts": plug.contacts, "rows": plug.rows,
                "pins": [
                    {
                        "number": pin.number, "carries": pin.carries, "color": pin.color_in or None,
                        "wire_in": pin.wire_in or None, "wire_out": pin.wire_out or None, "hides": pin.hides or None,
                    }
                    for pin in plug.pins
                ],
            }
            for plug in made.plugs
        ],
        "speaker_cables": [
            {
                "id": run.subject, "speaker": run.speaker, "output": run.output, "there_already": run.there,
                "length_m": round(run.cable.length_m, 3), "guessed": run.cable.guessed, "size": run.cable.size,
                "area_mm2": run.cable.area_mm2, "loop_ohm": round(run.cable.loop_ohm, 5), "loss_db": round(run.cable.loss_db, 3),
                "damping_factor": None if run.cable.damping_factor is None else round(run.cable.damping_factor, 2),
                "qes_factor": None if run.cable.qes_factor is None else round(run.cable.qes_factor, 4),
                "low_pass_factor": round(run.cable.low_pass_factor, 4), "high_pass_factor": round(run.cable.high_pass_factor, 4),
                "least_size": run.cable.least or None,
                "tried": [
                    {"size": t.size, "loss_db": round(t.loss_db, 3), "ampacity_a": round(t.ampacity_a, 2), "fails": list(t.fails)}
                    for t in run.cable.tried
                ],
            }
            for run in made.runs
            if run.cable is not None
        ],
        "cut_list": [
            {
                "color": row.color or None, "area_mm2": row.area_mm2, "total_m": round(row.total_m, 3),
                "guessed": row.guessed, "cuts": [{"wire": w, "length_m": round(n, 3)} for w, n in row.cuts],
            }
            for row in made.cuts
        ],
        "labels": [{"wire": row.wire, "here": row.here, "there": row.there} for row in made.labels],
        "findings": [finding.id for finding in made.findings],
    }  # fmt: skip
