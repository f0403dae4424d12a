"""What can be shown at once after an edit: the new fit, with all that follows from it still as it was before."""

from __future__ import annotations

from dataclasses import replace

from backwave.assess.memo import Memo
from backwave.assess.pipeline import assess, follows
from backwave.assess.result import Assessment
from backwave.finding import VERDICTS, worst
from backwave.job import Job
from backwave.job.model import TABLES

_LATER = frozenset(subject for table in TABLES.values() for subject in table.topic.starts)


def provisional(job: Job, before: Assessment | None, memo: Memo, draws: int) -> Assessment:
    """What fits and what is made; sound, supply and wires stand as they were before, until they follow."""
    result, stays = assess(job, memo, draws, whole=False), follows(job)
    if before is None or not stays:
        return result
    here, said = {f.id for f in result.findings}, {one.key for one in result.assumed}
    old = [f for f in before.findings if f.topic in _LATER and f.id not in here]
    found = sorted((*result.findings, *old), key=lambda f: -VERDICTS.index(f.check.verdict))
    return replace(
        result,
        findings=tuple(found),
        verdict=worst([f.check.verdict for f in found]),
        cautions=tuple({f.id: f for f in (*result.cautions, *before.cautions)}.values()),
        assumed=(*result.assumed, *(one for one in before.assumed if one.key not in said)),
        prediction=before.prediction if "sound" in stays else None,
        wires=before.wires if "power" in stays else None,
        harness=before.harness if "wire" in stays else None,
        factory=before.factory if "wire" in stays else None,
    )
