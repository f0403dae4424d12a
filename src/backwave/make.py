"""The parts of a job and their files, each side in a worker process of its own: what `backwave make` does, from Python.

From: a job and what follows from it.  Writes under one folder and nowhere else.  Meeting floor."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from backwave.assess import Assessment, PartOrder, from_plain, made_digest, part_digest, to_plain
from backwave.atomic_write import write_whole
from backwave.budget import Budget, checkpoint, within
from backwave.drawing.face import face_svg
from backwave.drawing.section import section_svg
from backwave.errors import InputError
from backwave.files.manifest import document_bytes, part_folders, put_by, read_kept, write_kept
from backwave.files.part_files import SideOrder, drop_final, make_side
from backwave.finding import Finding
from backwave.job import Job
from backwave.plain_text import file_stem
from backwave.workers import Ticket, Workers, report

# a part takes some 5 s and 0.2 GB, a drawing 20 ms
PART_S, PART_BYTES, DRAWINGS_S = 300.0, 3_000_000_000, 120.0
Watch = Callable[[list[Ticket]], AbstractContextManager[Any]]


@dataclass(frozen=True)
class MadeParts:
    """What was made."""

    entries: tuple[dict[str, Any], ...]  # the parts' entries of the manifest
    findings: tuple[Finding, ...]  # what was found on their solids and files
    as_before: frozenset[str]  # parts that were there already, made from the same numbers
    old: tuple[str, ...]  # folders and drawings of what is no longer in the job, moved to `old`


def make(
    job: Job,
    result: Assessment,
    folder: Path,
    only: Sequence[str] = (),
    paper: str = "A4",
    watch: Watch = lambda tickets: nullcontext(),
) -> MadeParts:
    """Make what is not there yet; a part whose numbers have not changed is left as it is. Of a place that is stopped
    the dummy, the test ring and the paper are made, and the part only where the person gave a reason
    (`backwave.assess.part_release.with_reasons`). `watch`: gives a context that looks on while they are built, such as
    a progress bar; InputError: no such paper, no such part; OSError: the disk is full, or the folder may not be
    written."""

    if paper not in ("A4", "Letter"):
        raise InputError("paper", paper, "A4 or Letter")
    parts = chosen(result.parts, only)
    kept = read_kept(folder)
    wanted = {part.id: f"{made_digest(part)} {paper} {result.title} {result.show}" for part in parts}
    ids = [part.id for part in result.parts]
    stems = part_folders(ids)
    drawn = _drawings(result)
    old = put_by(folder, stems.values(), drawn, kept)
    stale = [part for part in parts if not _there(kept.get(part.id, {}), wanted[part.id], folder, stems[part.id])]
    for part in result.parts:
        if not part.final:  # an earlier one must not pass for it, whatever comes now
            drop_final(folder / stems[part.id])
            if kept.get(part.id, {}).get("made") != made_digest(part):
                kept.pop(part.id, None)
    orders = [
        SideOrder(part, folder / stems[part.id], result.title, part_digest(part)[:12], paper, result.show)
        for part in stale
    ]
    with Workers(
        count=min(2, len(orders)) or 1, load=("backwave.part.solid", "build123d"),
        most_bytes=PART_BYTES, most_s=PART_S, what="the solid of a part",
    ) as workers:  # fmt: skip
        tickets = [workers.submit(order.part.id, make_side, order, report) for order in orders]
        with watch(tickets):
            for part, ticket in zip(stale, tickets):
                side = ticket.result()
                kept[part.id] = {
                    "digest": part_digest(part),
                    "made": made_digest(part),
                    "wanted": wanted[part.id],
                    "entry": {**side.manifest, "files": {k: f"{stems[part.id]}/{n}" for k, n in side.files.items()}},
                    "checks": [to_plain(check) for check in side.checks],
                }
                write_kept(folder, kept)
    write_kept(folder, {id_: kept[id_] for id_ in ids if id_ in kept})  # in the order of the job, whatever came first
    for name, drawing in drawn.items():
        write_whole(folder / "drawings" / name, drawing.encode())
    entries = tuple(kept[part.id]["entry"] for part in parts)
    entries_kept = [kept[p.id]["entry"] for p in result.parts if p.id in kept]
    write_whole(folder / "manifest.json", document_bytes(entries_kept, result.title, job.digest))
    findings = tuple(Finding(from_plain(check), part.subject) for part in parts for check in kept[part.id]["checks"])
    before = frozenset(part.id for part in parts) - {part.id for part in stale}
    return MadeParts(entries, findings, before, tuple(old))


def chosen(parts: tuple[PartOrder, ...], only: Sequence[str]) -> list[PartOrder]:
    """The parts of these names; none for all of them."""
    ids = [part.id for part in parts]
    unknown = [name for name in only if name not in ids]
    if unknown:
        raise InputError("no such part", ", ".join(unknown), ", ".join(ids) or "this job has no part yet")
    return [part for part in parts if not only or part.id in only]


def _there(held: dict[str, Any], wanted: str, folder: Path, stem: str) -> bool:
    """Whether a part was made from the same numbers and its files are still there."""
    if held.get("wanted") != wanted:
        return False
    return all(name.startswith(f"{stem}/") and (folder / name).is_file() for name in held["entry"]["files"].values())


def _drawings(result: Assessment) -> dict[str, str]:
    """Section and face of each place, by the name of the file."""
    found = {}
    with within(Budget("the drawings", DRAWINGS_S)):
        for place in result.places:
            checkpoint()
            name = file_stem(place.subject.replace(".", "-"))
            found[f"section-{name}.svg"] = section_svg(place, "light", system=result.show)
            found[f"face-{name}.svg"] = face_svg(place, "light", system=result.show)
    return found
