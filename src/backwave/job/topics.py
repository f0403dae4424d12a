"""What each table of a job is about: the one list that the memo, the workbench and the survey go by.

Every field of the file's model carries a `Topic`; a table without one cannot even be imported.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from pydantic import BaseModel

Subject = Literal["fit", "place", "sound", "power", "wire", "proof", "work"]


@dataclass(frozen=True)
class Topic:
    """What a table is about, beside its field in the model."""

    # "fit": every fit follows from it; "place": a fit is given its rows one by one; all others no fit hears of
    subject: Subject
    one: str = ""  # what a person calls a row of it and all of it; "" takes its key
    many: str = ""
    # what is worked out after the fit once it is filled in: subjects of findings
    starts: tuple[Subject, ...] = ()


@dataclass(frozen=True)
class JobTable:
    """A table of the job, with what its model says of it."""

    key: str
    topic: Topic
    named: bool  # it is a list whose rows have an `id`


def tables_of(model: type[BaseModel]) -> Mapping[str, JobTable]:
    """Every table of a job by its key, in the order of the file.

    TypeError: A field that does not say what it is about.
    """
    found = {}
    for key, info in model.model_fields.items():
        topics = [one for one in info.metadata if isinstance(one, Topic)]
        if len(topics) != 1:
            raise TypeError(f"{model.__name__}.{key}: give it one Topic, for whoever goes through the tables")
        rows = [one for one in get_args(info.annotation) if isinstance(one, type) and issubclass(one, BaseModel)]
        found[key] = JobTable(key, topics[0], any("id" in row.model_fields for row in rows))
    return found
