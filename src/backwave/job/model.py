"""The whole of `job.toml` as frozen values: every key with its meaning, its kind and its default.

Every table carries a `Topic`, what it is about: the one list that the memo, the workbench and the survey go by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Any, Literal, TypeVar, get_args, get_origin

from pydantic import BaseModel, Field, field_validator

from backwave.errors import InputError
from backwave.finding import PRACTICE
from backwave.job.fields import AnyLength, Dim, Number, Table, Thin, Whole, always, default, given, own_id
from backwave.job.opening import OpeningTable
from backwave.job.signal_chain import BoxTable, ReadingTable, SourceTable, StageTable, TuneTable
from backwave.job.speaker import AdapterTable, PrinterTable, SheetTable, SpeakerTable
from backwave.job.supply import (
    CableTestTable,
    ConverterTable,
    CrewTable,
    DistributionTable,
    HandOverTable,
    LoadTable,
    MoreBatteryTable,
    SignalTable,
    SupplyTable,
    SupplyTestTable,
)
from backwave.job.wiring import (
    BootTable,
    FactoryOutputTable,
    FactorySystemTable,
    PairTable,
    PlugTable,
    SpeakerCableTable,
    WireTable,
)
from backwave.units import Quantity, parse

R = TypeVar("R", bound=Table)
Rows = tuple[R, ...]  # of a table such as [[opening]]
Subject = Literal["fit", "place", "sound", "power", "wire", "proof", "work"]


@dataclass(frozen=True)
class Topic:
    """What a table is about, beside its field in the model."""

    # "fit": every fit follows from it; "place": a fit is given its rows one by one; all others no fit hears of
    subject: Subject
    one: str = ""  # what a person calls a row of it; as written in the model "" stands for its key
    many: str = ""  # and all of it; "" for the same with an s where it is a list
    # what is worked out after the fit once it is filled in: subjects of findings
    starts: tuple[Subject, ...] = ()


@dataclass(frozen=True)
class JobTable:
    """A table of the job, with what its model says of it."""

    key: str
    topic: Topic
    named: bool  # it is a list whose rows have an `id`


def tables_of(model: type[BaseModel]) -> Mapping[str, JobTable]:
    """Every table of a job by its key, in the order of the file. TypeError: A field that does not say what it is
    about."""
    found = {}
    for key, info in model.model_fields.items():
        topics = [one for one in info.metadata if isinstance(one, Topic)]
        if len(topics) != 1:
            raise TypeError(f"{model.__name__}.{key}: give it one Topic, for whoever goes through the tables")
        rows = [one for one in get_args(info.annotation) if isinstance(one, type) and issubclass(one, BaseModel)]
        several = get_origin(info.annotation) is tuple and bool(rows)
        one = topics[0].one or key.replace("_", " ").capitalize()
        topic = replace(topics[0], one=one, many=topics[0].many or one + "s" * several)
        found[key] = JobTable(key, topic, any("id" in row.model_fields for row in rows))
    return found


FORMAT = 1
_FIT = Topic("fit")


class CabinTable(Table):
    """The air space of the cabin as a box."""

    length: Annotated[Quantity, Dim("length", "0.3 m", "30 m")] = given("Front to back")
    width: Annotated[Quantity, Dim("length", "0.3 m", "4 m")] = given("Left to right")
    height: Annotated[Quantity, Dim("length", "0.3 m", "4 m")] = given("Floor to roof")
    leak: Annotated[Quantity, Dim("area", "0 cm2")] | None = given(
        "Of seals and vents to the outside; left out: 20 cm2", None
    )
    loss: Annotated[Number, Field(ge=0.001, le=1)] | None = given("Loss factor of its modes; left out: 0.15", None)


class VehicleTable(Table):
    """The vehicle."""

    name: str | None = given("What it is called", None)
    cabin: CabinTable | None = given("The cabin's air space", None)


class ListenerTable(Table):
    """Where somebody listens."""

    id: str = own_id()
    ear: tuple[AnyLength, AnyLength, AnyLength] = given("Where the head is")


class MarginsTable(Table):
    """Room to keep for practical reasons, apart from uncertainty."""

    glass: Thin = default("To glass and what moves with it", "length", "5 mm", PRACTICE)
    grille: Thin = default("Cone at its mechanical limit to the grille", "length", "3 mm", PRACTICE)
    metal: Thin = default("To fixed metal, looms, the carrier", "length", "3 mm", PRACTICE)
    hole: Thin = default("To the edge of the hole, all round", "length", "1 mm", PRACTICE)
    vent: Thin = default("Free air behind a vent in the pole", "length", "8 mm", "5 to 10 mm; " + PRACTICE)


class JobFile(Table):
    """A job."""

    format: Annotated[Whole, Field(ge=FORMAT, le=FORMAT), _FIT] = given(
        "Which edition of this file's format it is written in"
    )
    title: Annotated[str, _FIT] = Field(
        "Untitled job", min_length=1, max_length=120, description="What the job is called"
    )
    show: Annotated[Literal["metric", "us"], _FIT] = given(
        "What a person sees: metric, or us (inches, pounds, Fahrenheit)", "metric"
    )
    vehicle: Annotated[VehicleTable, _FIT] = always(VehicleTable, "The vehicle")
    seat: Annotated[Rows[ListenerTable], Topic("sound")] = given("Where somebody listens", ())
    instruments: Annotated[dict[str, Thin], _FIT] = Field(
        default_factory=dict,
        description="What each instrument may be out by, either way; "
        '"default", a length or the name of one of these, stands for every reading that names none',
    )
    margins: Annotated[MarginsTable, _FIT] = always(MarginsTable, "Room to keep")
    opening: Annotated[Rows[OpeningTable], Topic("place")] = given("The openings", ())
    speaker: Annotated[Rows[SpeakerTable], Topic("place")] = given("The drivers", ())
    adapter: Annotated[Rows[AdapterTable], Topic("place")] = given("The parts to make", ())
    printer: Annotated[PrinterTable, _FIT] = always(PrinterTable, "The printer")
    sheet: Annotated[SheetTable, Topic("fit", many="Sheet stock")] = always(SheetTable, "Sheet stock on hand")
    stock: Annotated[dict[str, tuple[dict[str, Any], ...]], _FIT] = Field(
        default_factory=dict, description="Your own rows of the stock tables, such as [[stock.material]]"
    )
    source: Annotated[Rows[SourceTable], Topic("sound")] = given("Sources of the signal", ())
    stage: Annotated[Rows[StageTable], Topic("sound", starts=("sound", "wire"))] = given("Stages of the work", ())
    box: Annotated[Rows[BoxTable], Topic("sound", many="Boxes")] = given("Boxes", ())
    supply: Annotated[SupplyTable | None, Topic("power")] = given("The vehicle's supply", None)
    distribution: Annotated[Rows[DistributionTable], Topic("power", "Distribution block", starts=("power",))] = given(
        "Blocks where one feed becomes several", ()
    )
    load: Annotated[Rows[LoadTable], Topic("power", starts=("power",))] = given("What draws current", ())
    battery: Annotated[
        Rows[MoreBatteryTable], Topic("power", "Second battery", "More batteries", starts=("power",))
    ] = given("Batteries beside the starter battery", ())
    converter: Annotated[Rows[ConverterTable], Topic("power", starts=("power",))] = given(
        "Converters from one direct voltage to another", ()
    )
    signal: Annotated[Rows[SignalTable], Topic("wire")] = given("Ways of the signal that are no factory output", ())
    hand_over: Annotated[HandOverTable | None, Topic("wire", starts=("wire",))] = given(
        "What was tested before the vehicle is given back", None
    )
    cable_test: Annotated[Rows[CableTestTable], Topic("power")] = given(
        "What was measured on cables as bought and built", ()
    )
    supply_test: Annotated[SupplyTestTable | None, Topic("power")] = given("What the finished supply reads", None)
    speaker_cable: Annotated[Rows[SpeakerCableTable], Topic("power")] = given("Runs to the speakers", ())
    plug: Annotated[Rows[PlugTable], Topic("wire")] = given("Factory plugs that are kept", ())
    boot: Annotated[Rows[BootTable], Topic("wire")] = given("Boots at door hinges", ())
    pair: Annotated[Rows[PairTable], Topic("wire", starts=("wire",))] = given(
        "Pairs of factory wires, behind their gate", ()
    )
    factory_system: Annotated[FactorySystemTable | None, Topic("wire", starts=("wire",))] = given(
        "What the factory system does", None
    )
    factory_output: Annotated[Rows[FactoryOutputTable], Topic("wire", starts=("wire",))] = given(
        "What each pair of its output wires carries", ()
    )
    wire: Annotated[Rows[WireTable], Topic("wire", starts=("wire",))] = given("What is known of single wires", ())
    reading: Annotated[Rows[ReadingTable], Topic("proof")] = given("Recordings and responses", ())
    tune: Annotated[TuneTable, Topic("proof")] = always(TuneTable, "Toward what the sound is set")
    crew: Annotated[CrewTable | None, Topic("work")] = given("Who works, when, with what", None, used=False)

    @field_validator("instruments", mode="before")
    @classmethod
    def _default_by_name(cls, value: Any) -> Any:
        """`default = "caliper"`: what the caliper may be out by; the name stays as its text."""
        name = value.get("default") if isinstance(value, dict) else None
        if not isinstance(name, str) or name[:1].isdigit() or name == "default":
            return value
        if not isinstance(value.get(name), str):
            known = ", ".join(n for n in value if n != "default") or "none: add it there"
            raise InputError("an instrument that [instruments] does not list", name, f"a length, or one of {known}")
        return {**value, "default": replace(parse(value[name], "length"), text=name)}


TABLES = tables_of(JobFile)  # every table of a job with what it is about, by its key
