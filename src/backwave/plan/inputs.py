"""What the lists follow from: plain facts about places, parts, stages and loads."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PlaceFact:
    """Somewhere a driver goes, on one side."""

    id: str  # "front-door.left", and what a person calls it
    name: str
    zone: str  # "door", "dash", "pillar", "shelf", "cargo", "box" and so on
    driver: str
    again: tuple[str, ...] = ()  # what has to be read again before the part is made, in whole sentences
    parts: tuple[str, ...] = ()  # ids of the parts it needs; empty where the driver goes straight in
    tweeter: bool = False
    network: bool = False
    fasteners: int | None = None  # the factory's own fixings in the metal; None where nobody counted them


@dataclass(frozen=True)
class PartFact:
    """A part to make."""

    id: str
    name: str  # what a person calls it
    process: str  # "print" or "sheet"
    material: str
    fumes: str = ""  # what its fumes do
    machine_min: float | None = None  # how long the printer runs; None where that is not known
    inserts: int = 0  # heat-set inserts to set
    insert: str = ""  # their size, "M4"
    ring: bool = False  # a foam ring in front
    gasket: bool = False  # a gasket behind
    stand_in: bool = False  # a dummy to try first
    layers: int = 0  # of sheet to glue; 0 for a print
    stopped: bool = False  # it is not to be made until what stops it is settled
    mark: str = ""  # why it is made all the same


@dataclass(frozen=True)
class StageFact:
    """A stage of the work."""

    id: str  # its id, and what a person calls it
    name: str
    places: tuple[str, ...] = ()  # ids of the places that get their driver in this stage
    loads: tuple[str, ...] = ()  # ids of the devices that come in with this stage
    boxes: tuple[str, ...] = ()  # names of the boxes that come in with this stage


@dataclass(frozen=True)
class LoadFact:
    """Something that draws current."""

    id: str  # its id, and what a person calls it
    name: str
    fuse: str = ""  # the fuse at the head of its cable, such as "80 A blade"; "" where the one before it does
    channels: tuple[str, ...] = ()  # outputs whose gain is to be set


@dataclass(frozen=True)
class PlanInputs:
    """Everything the checklist follows from."""

    places: tuple[PlaceFact, ...] = ()  # where drivers go
    parts: tuple[PartFact, ...] = ()
    stages: tuple[StageFact, ...] = ()  # in the order they are done; a job without stages fits everything at once
    loads: tuple[LoadFact, ...] = ()
    # who works: the one who knows the trade first; empty stands for "lead" and "helper"
    people: tuple[str, ...] = ()
    battery: bool = False  # the main fuse and cable from the battery are part of the work
