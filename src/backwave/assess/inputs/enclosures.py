"""What each driver is mounted in (a door as far as it was measured, a box, or an infinite baffle), where, and on which output."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import inf, pi, sqrt
from typing import TYPE_CHECKING, Any

from backwave.assess.inputs.opening import skin_mm
from backwave.assess.sound.results import Outputs, PlannedChannel, PlannedPath
from backwave.finding import PRACTICE, Finding, Ledger, check_of
from backwave.job import Job, Place
from backwave.job.cross_checks import WALL_MM
from backwave.job.opening import OpeningTable
from backwave.job.signal_chain import BoxTable, PathTable, StageTable
from backwave.notation.crossover import Branch
from backwave.sound.cabin import BoxCabin
from backwave.sound.driver import Unit
from backwave.sound.enclosures import DOOR_KINDS, Baffle, Door, InBox, InDoor, Port, counted_area
from backwave.sound.output_network import Chain, Load, Mount
from backwave.units import Quantity, convert, in_unit

if TYPE_CHECKING:
    from backwave.assess.place_result import Dimensions
    from backwave.sound.driver import Unit

Point = tuple[float, float, float]
# what the model of a door takes for itself; its cone 20 mm behind the grille (common trade practice)
PLAIN = Door(0.02, 1e-4, 1e-2)


@dataclass(frozen=True)
class WhatIf:
    """What is otherwise than the job says, to see what it is worth; changes nothing in the job."""

    ring: bool = True  # false: without the foam ring
    holes_covered: bool = False  # true: every service hole of the doors' skin covered
    high_pass: bool = True  # false: without any high-pass among the active filters
    # paths, by opening or box and driver ("front-door/demo-165"), with their polarity turned
    flipped: frozenset[str] = frozenset()
    networks: tuple[tuple[str, tuple[Branch, ...]], ...] = ()  # other passive parts for a path, by the same name


@dataclass
class Mounts:
    """Makes the mount of a driver at a place, and remembers what it assumed."""

    job: Job
    here: Mapping[str, Place]  # openings on their sides
    sized: Mapping[tuple[str, str], Dimensions]  # mm, lengths and areas from the fit
    ledger: Ledger  # takes what was assumed
    space: BoxCabin | None  # m, the air of the cabin, in which every place must be; None where there is none
    findings: list[Finding]

    def of(
        self, path: PathTable, subject: str, unit: Unit, what_if: WhatIf
    ) -> tuple[Mount, tuple[Point | None, ...]] | None:
        """The mount of a driver, and where its outlets are."""
        box = next((b for b in self.job.file.box if b.id == path.box), None)
        at = self._at(subject, box)
        if self.space is not None and not self._placed(subject, at):
            return None
        if box is not None:
            return box_mount(box, self.ledger), (at,)
        if not _is_door(self.here[subject].opening):
            return Baffle(), (at,)
        return self._door(subject, path.speaker, unit, what_if), (at, self._trim_at(subject, at))

    def _trim_at(self, subject: str, at: Point | None) -> Point | None:
        """Where the trim's leak and the trim itself sound."""
        place = self.here[subject]
        panel = None if place.opening.trim is None else place.opening.trim.panel
        if panel is None or panel.at is None or self.space is None:
            return at
        x, y, z = point_m(panel.at)
        mirrored = place.mirrored and "trim" not in place.own
        point = on_wall(self.space, (x, self.space.width - y if mirrored else y, z))
        return point if self._placed(subject, point) else at

    def _door(self, subject: str, speaker: str, unit: Unit, what_if: WhatIf) -> InDoor:
        opening, key = self.here[subject].opening, f"opening.{self.here[subject].opening.id}"
        if opening.door is None:
            self.ledger.note(f"{key}.door", "sheet", "", "the commonest; " + PRACTICE)
        kind = DOOR_KINDS[opening.door or "sheet"]
        wide = dict(kind.spread)

        def taken(element: str, name: str, unit_: str, default: float, shown: str) -> float:
            """A quantity of the opening by its key, or the kind's, which is said."""
            given: Any = opening
            for table in name.split("."):
                given = getattr(given, table, None)
            if given is None:
                value = convert(default, unit_, shown)
                self.ledger.note(f"{key}.{name}", float(f"{value:.3g}"), shown, f"{kind.words}; {PRACTICE}")
                return default
            value, u, half = given.to(unit_), given.u_to(unit_), given.half_to(unit_)
            wide.pop(element, None)
            if element and value > 0 and (u or half):  # somebody said how sure, or a reading taught it
                wide[element] = (u or (half or 0.0) / sqrt(3)) / value
            return value

        cavity = opening.cavity
        if cavity is not None and cavity.leak is None and cavity.holes is not None:
            holes_area = counted_area(cavity.holes.finger, cavity.holes.fist, cavity.holes.hand)
            wide["holes"] = 0.4  # counted by hand, not measured
        else:
            holes_area = taken("holes", "cavity.leak", "m2", kind.holes_area, "cm2")
        cover_area, cover_mass = kind.cover_area, kind.cover_mass
        if what_if.holes_covered:
            sealed = DOOR_KINDS["sealed"]
            holes_area, cover_mass = min(holes_area, sealed.holes_area), sealed.cover_mass
            cover_area = max(cover_area, sealed.cover_area)
        shape = self._front(subject, speaker, unit, what_if, wide)
        door = Door(
            **shape, gap_volume=taken("gap", "gap.volume", "m3", kind.gap_volume, "L"),
            trim_leak=taken("trim leak", "gap.leak", "m2", kind.trim_leak, "cm2"),
            trim_area=taken("", "trim.panel.area", "m2", PLAIN.trim_area, "m2"),
            trim_mass=taken("trim", "trim.panel.mass", "kg/m2", PLAIN.trim_mass, "kg/m2"),
            trim_hz=taken("", "trim.panel.resonance", "Hz", PLAIN.trim_hz, "Hz"), holes_area=holes_area,
            skin=skin_mm(opening, self.ledger) * 1e-3, cover_area=cover_area, cover_mass=cover_mass,
            cavity_volume=taken("cavity", "cavity.volume", "m3", kind.cavity_volume, "L"),
            outside_area=taken("outside", "cavity.outside", "m2", kind.outside_area, "cm2"),
        )  # fmt: skip
        self._unsaid(key, door)
        return InDoor(door, tuple(wide.items()))

    def _unsaid(self, key: str, door: Door) -> None:
        """Defaults of the model that no key of a job sets: shown like every other."""
        for name, value, unit_, shown in (
            ("service holes: radius of one", door.hole_radius, "m", "mm"),
            ("trim's leak: height of its slits", door.trim_leak_gap, "m", "mm"),
            ("trim's leak: depth", door.trim_leak_depth, "m", "mm"),
            ("drains: height of their slits", door.outside_gap, "m", "mm"),
            ("drains: depth", door.outside_depth, "m", "mm"),
            ("trim: loss factor", door.trim_loss, "1", "1"),
            ("trim space: loss factor", door.gap_loss, "1", "1"),
            ("cavity: loss factor", door.cavity_loss, "1", "1"),
        ):
            number = convert(value, unit_, shown)
            self.ledger.note(f"{key}: {name}", number, shown.removesuffix("1"), PRACTICE)

    def _front(
        self, subject: str, speaker: str, unit: Unit, what_if: WhatIf, wide: dict[str, float]
    ) -> dict[str, float]:
        """Chamber, grille, ring and bore: lengths and areas from the fit where there is one."""
        opening, sized = self.here[subject].opening, self.sized.get((subject, speaker))
        key = f"opening.{opening.id}.trim"

        def taken(name: str, default: float, unit_: str, why: str, places: int | None = None) -> float:
            """A quantity of the trim by its key, or a default, which is said."""
            written = getattr(opening.trim, name, None)
            if written is None:
                scale, shown = (1e3, "mm") if unit_ == "m" else (100, "%")
                self.ledger.note(f"{key}.{name}", scale * default, shown, f"{why}; {PRACTICE}", places)
                return default
            return float(written.to(unit_))

        across = taken("grille", 1.1 * 2 * unit.driver.radius, "m", "a little more than the cone", 0)
        share = taken("open_area", PLAIN.grille_open, "1", "a pressed grille")
        if opening.trim is not None and opening.trim.open_area is not None:
            wide.pop("grille", None)
        depth = PLAIN.chamber_depth
        if sized is not None and sized.opening.trim_clear is not None:
            depth = max((sized.opening.trim_clear.value - sized.seat_height_mm) * 1e-3, 0.005)
            wide.pop("chamber", None)
        else:
            self.ledger.note(f"{key}: cone to grille", 1000 * depth, "mm", f"{speaker} has no fit there; {PRACTICE}")
        area = pi * across**2 / 4
        found = {
            "chamber_depth": depth, "chamber_volume": depth * pi * across**2 / 4, "grille_area": area, "grille_open": share,
            "grille_hole": taken("grille_hole", 2 * PLAIN.grille_hole, "m", "a pressed grille") / 2,
            "grille_thickness": taken("grille_thickness", PLAIN.grille_thickness, "m", "a pressed grille"),
        }  # fmt: skip
        ring = None if sized is None else sized.foam.front
        if ring is not None and (not what_if.ring or ring.free_mm <= 0):
            found |= {
                "ring_gap": max(ring.closed_mm, 0.0) * 1e-3,
                "ring_width": ring.width_mm * 1e-3,
                "ring_length": pi * (ring.inner_mm + ring.outer_mm) / 2 * 1e-3,
            }
        if sized is not None:
            found |= {"bore_length": sized.spec.thickness_mm * 1e-3, "bore_radius": sized.spec.bore_mm * 1e-3}
        return found

    def _at(self, subject: str, box: BoxTable | None) -> Point | None:
        at = self.here[subject].position_m if box is None else None if box.at is None else point_m(box.at)
        return at if at is None or self.space is None else on_wall(self.space, at)

    def _placed(self, subject: str, at: Point | None) -> bool:
        """Whether a place is known and inside the cabin; if not, it is asked for once."""
        assert self.space is not None
        if at is not None and bool(self.space.contains([at])[0]):
            return True
        said = "Its place lies outside the cabin's air, so it is left out of the predictions"
        remedy = "Measure at again, or the cabin's length, width and height"
        if at is None:
            said = "No place in the cabin entered yet, so it is left out of the predictions"
            remedy = "Add at = [back from the front, right of the left side, above the floor], measured with a tape"
        finding = Finding(check_of("sound.place", "caution", said, remedy, sources=(), key="at"), subject)
        if finding not in self.findings:
            self.findings.append(finding)
        return False

    def has_ring(self, subject: str, speaker: str) -> bool:
        """Whether a foam ring closes the front of a driver at a place."""
        sized = self.sized.get((subject, speaker))
        return sized is not None and sized.foam.front is not None and sized.foam.front.free_mm > 0


def box_mount(box: BoxTable, ledger: Ledger) -> InBox:
    """The mount that a box of the job is."""
    key, vented = f"box.{box.id}", box.kind == "vented"
    leak = box.leak_q
    if leak is None:
        leak = 7.0 if vented else 20.0
        ledger.note(f"{key}.leak_q", leak, "", "a usual box; " + PRACTICE)
    absorption = inf if box.absorption_q is None else box.absorption_q
    if not vented:
        return InBox(box.volume.to("m3"), None, None, leak, absorption)
    assert box.tuning is not None
    assert box.port is not None
    port = Port(
        box.port.count * pi * (box.port.diameter.to("m") / 2) ** 2, box.port.count, in_unit(box.port.length, "m")
    )
    return InBox(box.volume.to("m3"), box.tuning.to("Hz"), port, leak, absorption)


def _is_door(opening: OpeningTable) -> bool:
    """Whether an opening has a door's air behind it, or is taken for a baffle."""
    return opening.zone == "door" or opening.door is not None or opening.cavity is not None


def on_wall(space: BoxCabin, at: Point) -> Point:
    """A point as it was read, or the wall's own where it was read just outside."""
    near = WALL_MM * 1e-3
    x, y, z = (
        min(max(c, 0.0), side) if -near <= c <= side + near else c for c, side in zip(at, space.sides, strict=True)
    )
    return x, y, z


def point_m(at: Iterable[Quantity]) -> Point:
    """A position in the cabin as written, m."""
    x, y, z = (q.to("m") for q in at)
    return x, y, z


def plan_stage(
    stage: StageTable, what_if: WhatIf, units: Mapping[str, Unit | None], outputs: Mapping[str, Outputs | None],
    here: Mapping[str, Place], mounts: Mounts,
) -> tuple[PlannedChannel, ...]:  # fmt: skip
    """The outputs of a stage; a path whose driver or source lacks something is left out."""
    found: dict[tuple[str, str, str], PlannedChannel] = {}
    others = dict(what_if.networks)
    for number, path in enumerate(stage.path):
        unit, output = units[path.speaker], outputs[path.source]
        if unit is None or output is None:
            continue
        target = path.opening or path.box or ""
        label = f"{target}/{path.speaker}"
        parts = others.get(label, path.network)
        polarity = -path.polarity if label in what_if.flipped else path.polarity
        filters = tuple(f for f in path.filters if what_if.high_pass or f.kind != "high-pass")
        chain = Chain(
            filters, 0.0 if path.delay is None else path.delay.to("s"), 0.0 if path.gain is None else path.gain.to("dB")
        )
        for side, subject in _sides(path, here):
            mounted = mounts.of(path, subject, unit, what_if)
            if mounted is None:
                continue
            mount, points = mounted
            name = f"{subject}/{path.speaker}"
            planned = PlannedPath(
                name, label, subject, path, number, side, Load(unit, mount, parts), points, polarity,
                mounts.has_ring(subject, path.speaker),
            )  # fmt: skip
            key = (path.source, path.channel, side)
            if key in found:
                found[key] = replace(found[key], paths=(*found[key].paths, planned))
            else:
                found[key] = PlannedChannel(*key, output, chain, (planned,))
    return tuple(found.values())


def _sides(path: PathTable, here: Mapping[str, Place]) -> list[tuple[str, str]]:
    """Each side of a path with its subject; a box has the side that the path names, or none."""
    if path.opening is None:
        return [(path.side or "", path.box or "")]
    return [
        (place.side, subject)
        for subject, place in here.items()
        if place.opening.id == path.opening and path.side in (None, place.side)
    ]
