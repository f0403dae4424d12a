"""What is odd about the work as it goes: counts, order, contradictions, pictures."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from backwave.finding import PRACTICE, VERDICTS, Check, Finding, Message
from backwave.plan import Standing, counts
from backwave.plan.work_state import Dispute, Done

_KIND = {"fasteners": "screws, bolts and nuts", "clips": "clips"}


def work_findings(
    rows: tuple[Standing, ...],
    done: Done,
    names: Mapping[str, str],
    gone: Iterable[str] = (),
    photos: Collection[str] | None = None,
    torn: Iterable[str] = (),
) -> tuple[Finding, ...]:
    """What is odd, worst first."""
    found = [
        *_uneven(rows, done, names),
        *(_early(row, rows) for row in rows if row.early),
        *(_disagree(one, rows) for one in done.disputes),
        *_photos(done, photos),
        *_gone(gone),
        *_torn(torn),
    ]
    return tuple(sorted(found, key=lambda finding: -VERDICTS.index(finding.check.verdict)))


def _uneven(rows: tuple[Standing, ...], done: Done, names: Mapping[str, str]) -> Iterable[Finding]:
    trimmed = {row.task.id for row in rows if row.done}
    for count in counts(done.steps):
        over = count.whole or f"trim-{count.place}" in trimmed
        if not over:
            continue
        where = names.get(count.place, count.place) or "The vehicle"
        said = (("where", where, ""), ("out", str(count.out), ""), ("back", str(count.back), ""),
                ("kind", _KIND[count.kind], ""))  # fmt: skip
        check = Check(
            "work.uneven",
            "ok" if count.even else "caution",
            Message("{where}: {out} {kind} came out and {back} went back", said),
            float(count.back),
            float(count.out),
            remedy=None if count.even else Message(
                "Look for the rest under the trim and on the seats before the vehicle moves; or mend the count"
            ),
            sources=(PRACTICE,),
            part=count.kind,
        )  # fmt: skip
        yield Finding(check, count.place or "vehicle")


def _early(row: Standing, rows: tuple[Standing, ...]) -> Finding:
    titles = {one.task.id: one.task.title for one in rows}
    open_ = [titles.get(name, name) for name in row.waits]
    open_ += ["consent to drilling"] if row.consent else []
    open_ += [f"the line “{words}”" for words in row.unconfirmed]
    said = (("title", row.task.title, ""), ("open", "; ".join(open_), ""))
    return Finding(
        Check(
            "work.early", "caution", Message("Ticked although something before it is open: {title}", said),
            remedy=Message("See to this first, or take the tick back: {open}", said), sources=(PRACTICE,),
        ),
        row.task.id,
    )  # fmt: skip


def _disagree(one: Dispute, rows: tuple[Standing, ...]) -> Finding:
    titles = {row.task.id: row.task.title for row in rows}
    said = (
        ("what", titles.get(one.id, one.id), ""),
        ("counts", _told(one.counts.by, one.counts.when, dict(one.counts.fields)[one.field]), ""),
        ("others", "; ".join(_told(w.by, w.when, dict(w.fields)[one.field]) for w in one.others), ""),
    )
    return Finding(
        Check(
            "work.disagree", "caution", Message("Two say different things of: {what}. {counts} counts, being later; {others} does not", said),
            remedy=Message("Say once more what is so: that settles it"), part=f"{one.kind}-{one.field}",
        ),
        one.id,
    )  # fmt: skip


def _told(by: str, when: str, value: object) -> str:
    """What somebody said and when: "done (helper, 2026-03-14 18:05)"."""
    said = ("yes" if value else "no") if isinstance(value, bool) else str(value)
    return f"“{said}” ({by or 'somebody'}, {when.replace('T', ' ')[:16]})"


def _photos(done: Done, photos: Collection[str] | None) -> Iterable[Finding]:
    if photos is None:
        return
    named = [(step.id, path) for step in done.steps for path in step.photos]
    named += [(one.id, path) for one in done.condition for path in one.photos]
    for id_, path in named:
        if path not in photos:
            yield Finding(
                Check(
                    "work.photo", "caution", Message("{path} is not there", (("path", path, ""),)),
                    remedy=Message("It may still wait on the phone that took it: open the place Work there. Or put the file back"),
                    part=path,
                ),
                id_,
            )  # fmt: skip


def _gone(gone: Iterable[str]) -> Iterable[Finding]:
    for name in gone:
        yield Finding(
            Check(
                "work.gone", "caution",
                Message("A change names the task “{name}”, which is not on the list any more", (("name", name, ""),)),
                remedy=Message("Nothing is lost: it counts again when the job has that task again"),
            ),
            name,
        )  # fmt: skip


def _torn(files: Iterable[str]) -> Iterable[Finding]:
    for name in files:
        aside = "Look at what the file says, enter it again if it is missing in the list, then delete the file"
        yield Finding(
            Check(
                "work.torn", "caution", Message("A row of the log was cut off by a crash; what is left of it is in {file}", (("file", name, ""),)),
                remedy=Message("Allow writing in the job folder: the row is then set aside" if name == "log.toml" else aside),
                part=name,
            ),
            "vehicle",
        )  # fmt: skip
