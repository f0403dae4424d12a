"""What the lists follow from: plain facts about places, parts, stages and loads."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["LoadFact", "PartFact", "PlaceFact", "PlanInputs", "StageFact"]


@dataclass(frozen=True)
class PlaceFact:
    """Somewhere a driver goes, on one side.

    Parameters
    ----------
    id, name : str, no unit
        "front-door.left", and what a person calls it.
    zone : str, no unit
        "door", "dash", "pillar", "shelf", "cargo", "box" and so on.
    driver : str, no unit
        What goes in.
    again : tuple of str, no unit
        What has to be read again before the part is made, in whole sentences.
    parts : tuple of str, no unit
        Ids of the parts it needs; empty where the driver goes straight in.
    tweeter : bool, no unit
        The driver is a tweeter.
    network : bool, no unit
        A passive network belongs to it.
    fasteners : int or None, no unit
        The factory's own fixings in the metal; None where nobody counted them.
    """

    id: str
    name: str
    zone: str
    driver: str
    again: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    tweeter: bool = False
    network: bool = False
    fasteners: int | None = None


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
    """A stage of the work.

    Parameters
    ----------
    id, name : str, no unit
        Its id, and what a person calls it.
    places : tuple of str, no unit
        Ids of the places that get their driver in this stage.
    loads : tuple of str, no unit
        Ids of the devices that come in with this stage.
    boxes : tuple of str, no unit
        Names of the boxes that come in with this stage.
    """

    id: str
    name: str
    places: tuple[str, ...] = ()
    loads: tuple[str, ...] = ()
    boxes: tuple[str, ...] = ()


@dataclass(frozen=True)
class LoadFact:
    """Something that draws current.

    Parameters
    ----------
    id, name : str, no unit
        Its id, and what a person calls it.
    fuse : str, no unit
        The fuse at the head of its cable, such as "80 A blade"; "" where the one before it does.
    channels : tuple of str, no unit
        Outputs whose gain is to be set.
    """

    id: str
    name: str
    fuse: str = ""
    channels: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlanInputs:
    """Everything the checklist follows from.

    Parameters
    ----------
    places : tuple of PlaceFact, no unit
        Where drivers go.
    parts : tuple of PartFact, no unit
        Parts to make.
    stages : tuple of StageFact, no unit
        In the order they are done; a job without stages fits everything at once.
    loads : tuple of LoadFact, no unit
        What draws current.
    people : tuple of str, no unit
        Who works: the one who knows the trade first; empty stands for "lead" and "helper".
    battery : bool, no unit
        The main fuse and cable from the battery are part of the work.
    """

    places: tuple[PlaceFact, ...] = ()
    parts: tuple[PartFact, ...] = ()
    stages: tuple[StageFact, ...] = ()
    loads: tuple[LoadFact, ...] = ()
    people: tuple[str, ...] = ()
    battery: bool = False
