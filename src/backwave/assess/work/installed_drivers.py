"""Which driver ends up where, and with which stage it comes: what tasks and shopping follow from."""

from __future__ import annotations

from dataclasses import dataclass

from backwave.job import Job, Place, places
from backwave.job.signal_chain import PathTable
from backwave.job.speaker import SpeakerTable


@dataclass(frozen=True)
class InstalledDriver:
    """One driver that this job puts in, in one place on one side."""

    subject: str  # the place ("front-door.left") or the box
    speaker: SpeakerTable
    place: Place | None  # the opening on its side; None in a box
    path: PathTable | None  # its path in the last stage that uses it; None where no stage does
    stage: int | None  # position of the first stage that uses it


def fitted(job: Job) -> tuple[InstalledDriver, ...]:
    """What is fitted: what each place plays in its last stage, and what has an adapter.

    What an earlier stage plays at a place and its last one does not was there before, and is not bought.
    """
    speakers = {speaker.id: speaker for speaker in job.file.speaker}
    here = places(job)
    by_subject = {place.subject: place for place in here}
    first: dict[tuple[str, str], int] = {}
    last: dict[str, dict[str, PathTable]] = {}
    for number, stage in enumerate(job.file.stage):
        now: dict[str, dict[str, PathTable]] = {}
        for path in stage.path:
            for subject in _subjects(path, here):
                now.setdefault(subject, {})[path.speaker] = path
                first.setdefault((subject, path.speaker), number)
        last |= now
    found: dict[tuple[str, str], InstalledDriver] = {}
    for place in here:  # in the order of the job, openings first
        wanted = list(last.get(place.subject, {}))
        wanted += [a.speaker for a in job.file.adapter if a.opening == place.opening.id]
        for name in wanted:
            key = (place.subject, name)
            found[key] = InstalledDriver(
                place.subject, speakers[name], place, last.get(place.subject, {}).get(name), first.get(key)
            )
    for box in job.file.box:
        for name, path in last.get(box.id, {}).items():
            found[box.id, name] = InstalledDriver(box.id, speakers[name], None, path, first[box.id, name])
    came = {key for key, number in first.items() if number == 0 and _as_it_was(job, by_subject)}
    return tuple(one for key, one in found.items() if key not in came or _has_part(job, one))


def _subjects(path: PathTable, here: tuple[Place, ...]) -> list[str]:
    if path.box is not None:
        return [path.box]
    of = [place for place in here if place.opening.id == path.opening]
    return [place.subject for place in of if path.side is None or place.side in ("", path.side)]


def _as_it_was(job: Job, here: dict[str, Place]) -> bool:
    """Whether the first stage is the vehicle as it came: some place of it plays another driver later."""
    if len(job.file.stage) < 2:
        return False
    everywhere = tuple(here.values())
    at_first = {(s, p.speaker) for p in job.file.stage[0].path for s in _subjects(p, everywhere)}
    later: dict[str, set[str]] = {}
    for stage in job.file.stage[1:]:
        for path in stage.path:
            for subject in _subjects(path, everywhere):
                later.setdefault(subject, set()).add(path.speaker)
    return any(later.get(subject, {name}) - {name} and name not in later[subject] for subject, name in at_first)


def _has_part(job: Job, one: InstalledDriver) -> bool:
    return one.place is not None and any(
        a.opening == one.place.opening.id and a.speaker == one.speaker.id for a in job.file.adapter
    )
