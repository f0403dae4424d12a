"""Supply and harness of a job with their lists: as values, and as the documents of `wire --json`."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from backwave.assess.next_steps import grouped, tally
from backwave.finding import Finding
from backwave.job.gates import Gates
from backwave.power import CurrentBudget, GainTarget, Node, Peak, SpeakerCable, Supply, SupplyTree
from backwave.power.harness import Contact, CutRow, Harness, LabelRow, ScheduleRow
from backwave.power.protection import Protected
from backwave.units import show


@dataclass(frozen=True)
class Channel:
    """One output whose gain is to be set."""

    id: str  # "amp.1"
    speakers: tuple[str, ...]  # what is on it
    target: GainTarget  # its voltage, behind its gate
    input_v: tuple[float, float] | None = None  # minimum and maximum at the amplifier's input for full output
    loudest_v: float | None = None  # what the factory outputs that feed it give at least, at their largest clean volume
    clean_at: str = ""  # where the volume stands then, as the display says

    @property
    def about(self) -> str:
        """What its gate is about: this output, what is on it, and its rated output."""
        return f"{self.id}: {', '.join(self.speakers)}, {self.target.ceiling_v:.3f} V"

    def shown_v(self, gates: Gates) -> float | None:
        """The voltage of its test tone, rms; None for a tweeter, and until every line of its gate holds."""
        closed = gates.missing("gain", self.id, self.about, datetime.now(UTC))
        return None if closed else self.target.test_tone_v

    def input_words(self) -> tuple[str, ...]:
        """What its input takes and gets, and where the head unit's volume stands while its gain is found."""
        found = []
        if self.input_v is not None:
            low, high = (show(v, "V") for v in self.input_v)
            found.append(f"its input takes {low} to {high} for full output")
        if self.loudest_v is not None:
            gain = "" if self.target.gain_db is None else f", {self.target.gain_db:.1f} dB below the ceiling"
            found.append(f"what feeds it gives up to {show(self.loudest_v, 'V')}{gain}")
        at = self.clean_at or "not written down yet ([[factory_output]] loud_at)"
        return (*found, f"the head unit's largest clean volume: {at}")


@dataclass(frozen=True)
class Wires:
    """Everything that follows for supply and wires."""

    supply: Supply
    budget: CurrentBudget
    tree: SupplyTree  # cable and fuse of each branch as built, parents first
    design: SupplyTree  # as it was planned, before anything of its wires was recorded
    protected: tuple[Protected, ...]  # every conductor with its fuses
    peaks: tuple[Peak, ...]  # engine off, and running where the alternator is known
    channels: tuple[Channel, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[Finding, ...]  # what can hurt


@dataclass(frozen=True)
class SpeakerRun:
    """A run to a speaker."""

    subject: str  # where it goes: "front-door.left", or the box
    speaker: str
    output: str
    cable: SpeakerCable | None  # what the pair does; None where nobody rated the driver
    there: bool  # the vehicle's own wires
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class PlugFace:
    """The face of a kept plug."""

    id: str  # its name, and what keeps it from going in the wrong way round
    keyed: str
    contacts: int  # how many contacts in how many rows
    rows: int
    pins: tuple[Contact, ...]  # every contact that anything is known of

    @property
    def name(self) -> str:
        """Its id, and how it is keyed."""
        return self.id + (f" (keyed: {self.keyed})" if self.keyed else "")

    @property
    def in_order(self) -> tuple[Contact, ...]:
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

    @property
    def plate(self) -> str:
        """How many of its lines are open, as every list counts them."""
        return tally(grouped(self.findings if self.begun else (), {}))


def wires_json(
    made: Wires | None, harness: dict[str, Any] | None = None, factory: dict[str, Any] | None = None,
    gates: Gates | None = None,
) -> dict[str, Any]:  # fmt: skip
    """The document of `wire --json`; the voltage of a test tone is null until its gate holds in `gates`."""
    gates = gates or Gates()
    if made is None:
        return {"cables": [], "supply": {}, "channels": [], "harness": harness or {}, "factory": factory or {}}
    by_subject: dict[str, list[str]] = {}
    for finding in made.findings:
        by_subject.setdefault(finding.subject, []).append(finding.id)
    budget = made.budget
    return {
        "cables": [_cable(node, made, by_subject.get(node.id, [])) for node in made.tree.nodes],
        "supply": {
            "rated_a": _round(budget.rated_a), "musical_a": _round(budget.musical_a),
            "idle_spare_a": _round(budget.idle_spare_a), "speed_spare_a": _round(budget.speed_spare_a),
            "engine_off_min": _round(budget.off_min), "battery_share_used": budget.depth,
            "peaks": [
                {
                    "engine": peak.engine, "source_v": _round(peak.source_v), "current_a": _round(peak.current_a),
                    "loads": [
                        {
                            "id": load.name, "at_v": _round(load.volts), "current_a": _round(load.current_a),
                            "power_fraction": _round(load.power_fraction, 4), "power_db": _round(load.power_db),
                        }
                        for load in peak.loads
                    ],
                }
                for peak in made.peaks
            ],
            "findings": by_subject.get("vehicle", []),
        },
        "channels": [
            {
                "id": one.id, "speakers": list(one.speakers), "load_ohm": _round(one.target.load_ohm, 3),
                "test_tone_v": _round(one.shown_v(gates)), "tone_hz": one.target.tone_hz, "tone_db": one.target.tone_db,
                "gate": [text.template for text in one.target.gate], "input_v": None if one.input_v is None else list(one.input_v),
                "source_v": _round(one.loudest_v), "clean_at": one.clean_at or None, "gain_db": _round(one.target.gain_db),
            }
            for one in made.channels
        ],
        "harness": harness or {},
        "factory": factory or {},
    }  # fmt: skip


def _cable(node: Node, made: Wires, findings: list[str]) -> dict[str, Any]:
    cable, fuse = node.cable, node.fuse
    mine = {one.conductor.role: one for one in made.protected if one.conductor.subject == node.id}
    back = mine.get("ground") or mine.get("return")
    planned = made.design.node(node.id).cable
    return {
        "id": node.id, "from": node.parent, "load": node.load, "current_a": _round(cable.current_a),
        "length_m": _round(cable.length_m, 3), "size": cable.size, "area_mm2": cable.area_mm2, "awg": cable.awg or None,
        "drop_v": _round(cable.drop_v, 4), "drop_fraction": _round(cable.drop_fraction, 5),
        "conductor_degc": _round(cable.conductor_degc), "ampacity_a": _round(cable.ampacity_a),
        "fuse_a": fuse.rating_a if node.fitted else None,
        "fuse": {
            "style": fuse.style, "color": fuse.color, "breaking_a": fuse.breaking_a,
            "prospective_a": _round(node.prospective_a), "standard": fuse.standard,
        } if node.fitted else None,
        "protection": _protection(mine.get("feed")),
        "ground": None if back is None else {
            "size": back.conductor.size, "length_m": _round(back.conductor.length_m, 3),
            "return": back.conductor.role == "return", "protection": _protection(back),
        },
        "designed": {"size": planned.size, "length_m": _round(planned.length_m, 3)},
        "tried": [
            {"size": t.name, "area_mm2": t.area_mm2, "fails": list(t.fails), "drop_v": _round(t.drop_v, 4)}
            for t in cable.tried
        ],
        "findings": findings,
    }  # fmt: skip


def _protection(one: Protected | None) -> dict[str, Any] | None:
    """What holds a conductor: fuses that are fitted, and where it settles at them and at 1.35 times."""
    if one is None:
        return None
    return {
        "fuse_a": _round(one.fuse_a), "ampacity_a": _round(one.ampacity_a), "rating_degc": _round(one.rating_degc),
        "overload_degc": _round(one.overload_degc), "margin_k": _round(one.margin_k),
    }  # fmt: skip


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
                "damping_factor": _round(run.cable.damping_factor), "qes_factor": _round(run.cable.qes_factor, 4),
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


def _round(value: float | None, places: int = 2) -> float | None:
    return None if value is None else round(float(value), places)
