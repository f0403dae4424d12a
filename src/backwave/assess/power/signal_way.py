"""The signal's way of a job, polarity of its sides, and what was tested before hand-over."""

from __future__ import annotations

from backwave.finding import Check, Finding
from backwave.job import Job, Place
from backwave.job.signal_chain import PathTable
from backwave.power.hand_over import Sleep, sleep_checks, whine_check
from backwave.power.signal_way import SidePair, SignalWay, no_input_check, phase_check, way_checks


def signal_findings(job: Job, here: dict[str, Place]) -> list[Finding]:
    """Everything about the way from an output to a driver that is no wire of the harness."""
    found = [Finding(check, way.into) for way in _ways(job) for check in way_checks(way)]
    found += [Finding(check, name) for name, check in _no_input(job)]
    begun = bool(job.file.factory_output or job.file.hand_over)  # nobody who has not begun is told what is well
    phases = [phase_check(pair) for pair in _pairs(job, here)]
    found += [Finding(check, "harness") for check in phases if begun or check.verdict != "ok"]
    return found + [Finding(check, "vehicle") for check in _hand_over(job)]


def _ways(job: Job) -> list[SignalWay]:
    sources = {one.id: one for one in job.file.source}
    made = []
    for row in job.file.signal:
        takes, gives = sources[row.into], sources[row.from_]
        span = None if takes.input is None else (takes.input[0].to("V"), takes.input[1].to("V"))
        isolated = takes.differential if row.isolated is None else row.isolated
        made.append(
            SignalWay(
                row.from_, row.output, gives.kind == "bridge", None if row.loudest is None else row.loudest.to("V"), row.through,
                isolated, row.into, row.input, span,
            )
        )  # fmt: skip
    return made


def _no_input(job: Job) -> list[tuple[str, Check]]:
    """Amplifiers of the last stage that nothing leads into."""
    if not job.file.stage or not (job.file.load or job.file.factory_output or job.file.signal):
        return []
    amplifiers = {one.id for one in job.file.source if one.kind == "amplifier"}
    used = dict.fromkeys(path.source for path in job.file.stage[-1].path if path.source in amplifiers)
    fed = {row.into for row in job.file.factory_output} | {row.into for row in job.file.signal}
    known = bool(job.file.signal) or any(row.into for row in job.file.factory_output)
    return [(name, no_input_check(name, known)) for name in used if name not in fed]


def _pairs(job: Job, here: dict[str, Place]) -> list[SidePair]:
    """Openings of the last stage that have both sides, each followed from its output to its driver."""
    if not job.file.stage:
        return []
    heard = () if job.file.hand_over is None else job.file.hand_over.in_phase
    both = {p.opening.id for p in here.values() if p.side == "left"} & {p.opening.id for p in here.values() if p.side == "right"}  # fmt: skip
    found = []
    paths = [path for path in job.file.stage[-1].path if path.opening in both]
    for opening, speaker in dict.fromkeys((path.opening or "", path.speaker) for path in paths):
        ways = {}
        for side in ("left", "right"):
            mine = [p for p in paths if (p.opening, p.speaker) == (opening, speaker) and p.side in (None, side)]
            if mine:
                ways[side] = _way(job, mine[0], side)
        if len(ways) == 2:
            (left, left_words), (right, right_words) = ways["left"], ways["right"]
            found.append(SidePair(opening, speaker, left, right, left_words, right_words, opening in heard))
    return _once(found)


def _once(pairs: list[SidePair]) -> list[SidePair]:
    """One finding an opening: the driver whose sides differ, else the first."""
    found: dict[str, SidePair] = {}
    for pair in pairs:
        if pair.opening not in found or pair.left != pair.right:
            found[pair.opening] = pair
    return list(found.values())


def _way(job: Job, path: PathTable, side: str) -> tuple[int | None, str]:
    """The sign of one side from its factory output to the driver, and what turns it; None where an output was not read."""
    kinds = {one.id: one.kind for one in job.file.source}
    amplified = kinds.get(path.source) == "amplifier"
    outputs = [
        row
        for row in map(job.gates.counted, job.file.factory_output)
        if row.side == side
        and (row.into == path.source if amplified else row.into is None and row.opening == path.opening)
    ]
    signs = {row.polarity for row in outputs}
    if None in signs or len(signs) > 1:
        return None, ""
    sign = path.polarity
    words = [f"polarity = {path.polarity} of its path"] if path.polarity < 0 else []
    if signs == {-1}:
        sign = -sign
        words.append("factory output " + ", ".join(row.id for row in outputs))
    return sign, " and ".join(words)


def _hand_over(job: Job) -> tuple[Check, ...]:
    table = job.file.hand_over
    if table is None:
        return ()
    read = Sleep(
        None if table.asleep_before is None else table.asleep_before.to("A"),
        None if table.asleep_after is None else table.asleep_after.to("A"),
        None if table.waited is None else table.waited.to("s") / 60,
        table.latched,
        table.turn_on_off,
    )
    return (*sleep_checks(read), whine_check(table.whine))
