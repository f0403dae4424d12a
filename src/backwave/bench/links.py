"""From a finding, or an assumed value, to the place and the field that answer it."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from backwave.bench import schema_form
from backwave.bench.board import Board
from backwave.finding import Finding
from backwave.job.model import TABLES
from backwave.job.toml_spans import KeyPath, path_of


def href(path: KeyPath) -> str:
    """The address of a field."""
    place = f"/survey/{path[0]}"
    if len(path) > 1 and isinstance(path[1], int):
        place += f"/{path[1]}"
    whole = isinstance(path[-1], int) or path in [(t.key,) for t, _ in schema_form.tops()]  # a table, not a field of it
    return place if whole else f"{place}#{schema_form.field_id(path)}"


def why(id_: str) -> str:
    """The address of a finding's working."""
    return f"/why/{quote(id_, safe='@.')}"


def of_key(data: Any, key: str) -> KeyPath | None:
    """Where a key written with ids leads, if there is a field for it."""
    path = path_of(data, key)
    if not path or not _known(path):
        return None
    if path in [(t.key,) for t, many in schema_form.tops() if many]:
        return (path[0], len(data.get(path[0], ())))  # of a list: the next one
    return path


def _known(path: KeyPath) -> bool:
    table = schema_form.table()
    for n, key in enumerate(path):
        if isinstance(key, int):
            continue
        inner = next((t for t, _ in table.below if t.key == key), None)
        if inner is None:
            return n == len(path) - 1 and any(f.key == key for f in table.fields)
        table = inner
    return True


def of_finding(board: Board, finding: Finding) -> str:
    """The address of what answers a finding: its field, else the drawing that shows it, else its working."""
    data, key, subject = board.data, finding.check.key, finding.subject
    places = () if board.result is None else board.result.places
    fit = next((p for p in places if p.subject == subject), None)
    if key:
        opening = subject.partition(".")[0]
        keys = [
            key,
            f"opening.{key}",
            f"opening.{opening}.{key}",
            *(f"{name}.{subject}.{key}" for name, table in TABLES.items() if table.named),
        ]
        if fit is not None:
            rows = data.get("adapter", [])
            number = next(
                (
                    n
                    for n, r in enumerate(rows)
                    if (r.get("opening"), r.get("speaker")) == (fit.opening_id, fit.speaker_id)
                ),
                None,
            )
            keys += [f"speaker.{fit.speaker_id}.{key}"] + ([] if number is None else [f"adapter[{number}].{key}"])
        for one in keys:
            if path := of_key(data, one):
                return href(path)
    if fit is not None:
        kind = finding.check.code
        place = "part" if kind.startswith("part.") else "face" if kind == "fit.clocking" else "section"
        return f"/{place}/{subject}"
    if finding.topic == "sound":
        return "/sound"
    if finding.topic == "measure":
        return "/proof"
    if finding.topic == "power":
        return "/wires"
    if finding.topic == "wire":
        return "/wires/factory" if subject == "factory" else "/wires/harness"
    return why(finding.id)
