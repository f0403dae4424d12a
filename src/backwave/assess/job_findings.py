"""What is to be said of a job as a whole: what it lacks, trade sizes, keys that nothing computes with yet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from backwave.finding import Check, Finding, Message
from backwave.job import Job, Place


def job_findings(job: Job, here: Sequence[Place]) -> Iterator[Finding]:
    """Findings of the job as a whole."""
    if not here:
        yield _missing("an opening", "Add an [[opening]]: the hole, what is behind it, what is before it", "opening")
    if not job.file.speaker:
        yield _missing(
            "a driver", "Add a [[speaker]]: its cutout, magnet and mounting depth are enough to begin", "speaker"
        )
    if job.file.speaker and not job.file.adapter:
        yield _missing("which driver goes where", "Add an [[adapter]] that names an opening and a speaker", "adapter")
    taken = {adapter.opening for adapter in job.file.adapter}
    taken |= {path.opening for stage in job.file.stage for path in stage.path if path.opening}
    for opening in job.file.opening:
        if job.file.adapter and opening.id not in taken:
            text = Message("No driver is named for this opening, so nothing was judged")
            check = Check(
                "job.missing",
                "caution",
                text,
                remedy=Message("Add an [[adapter]] for it"),
                key="adapter",
                part="adapter",
            )
            yield Finding(check, opening.id)
    for key, written in job.trade_sizes:
        said = Message("{text} looks like a trade size, not a dimension", (("text", written, ""),))
        remedy = Message("Measure it: a frame sold by that name may be several millimeters larger or smaller")
        yield Finding(Check("job.trade-size", "caution", said, remedy=remedy, key=key, part=key), "job")
    if job.not_used:
        shown = ", ".join(job.not_used[:6]) + (f" and {len(job.not_used) - 6} more" if len(job.not_used) > 6 else "")
        said = Message("Read and kept, but nothing computes with it yet: {keys}", (("keys", shown, ""),))
        yield Finding(Check("job.not-used", "ok", said), "job")


def _missing(what: str, remedy: str, key: str) -> Finding:
    title = Message("Nobody has said {what}", (("what", what, ""),))
    return Finding(Check("job.missing", "caution", title, remedy=Message(remedy), key=key, part=key), "job")
