"""What is to be said of a job as a whole: what it lacks, its cautions, and what waits for one answer.

Cautions where the work can hurt are common trade practice and defer to the vehicle maker's service information, to local
codes and to licensed practice.  They stand beside the findings and never change a verdict: an alarm that is always on is
not heard.

One number that nobody read is one question: what waits for its answer is named by it, and folded under it.  A check that
is no more than a caution because of it keeps its value, chance and verdict; it stands in no list of open issues beside
the question.  On a second side the same question about the same speaker, or about an opening that is assumed to mirror
the first, is folded under the first side's."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from math import dist

from backwave.assess.place_result import PlaceResult
from backwave.finding import PRACTICE, WAITING, CalculationLine, Check, Finding, Message, Quantities, Verdict, check_of
from backwave.fit.plausible import ENTRIES
from backwave.job import Job, Place
from backwave.shape.positions import Positions
from backwave.units import clock


def names_of(job: Job, here: Mapping[str, Place]) -> dict[str, str]:
    """What a person calls each subject of a finding: "front-door.left" is "Front door, left"."""
    names = {speaker.id: speaker.name or speaker.id for speaker in job.file.speaker}
    ids = [source.id for source in job.file.source] + [box.id for box in job.file.box]
    names |= {one: one.replace("-", " ").capitalize() for one in ids}
    names |= {stage.id: stage.title or stage.id for stage in job.file.stage}
    names |= {place.opening.id: (place.opening.name or place.opening.id).replace("-", " ") for place in here.values()}
    names |= {subject: place.name for subject, place in here.items()}
    return {
        **names, "job": job.file.title, "vehicle": "The vehicle", "harness": "The harness",
        "factory": "The factory system",
    }  # fmt: skip


def job_findings(job: Job, here: Sequence[Place]) -> Iterator[Finding]:
    """Findings of the job as a whole."""
    if not here:
        yield _missing("No opening", "Add an [[opening]]: the hole, what is behind it, what is before it", "opening")
    if not job.file.speaker:
        yield _missing(
            "No speaker", "Add a [[speaker]]: its cutout, magnet and mounting depth are enough to begin", "speaker"
        )
    if job.file.speaker and not job.file.adapter:
        yield _missing("No speaker's place", "Add an [[adapter]] that names an opening and a speaker", "adapter")
    taken = {adapter.opening for adapter in job.file.adapter}
    taken |= {path.opening for stage in job.file.stage for path in stage.path if path.opening}
    for opening in job.file.opening:
        if job.file.adapter and opening.id not in taken:
            text = Message("No speaker entered yet for this opening: nothing was judged")
            check = Check(
                "job.missing", "caution", text, remedy=Message("Add an [[adapter]] for it"), key="adapter",
                part="adapter",
            )  # fmt: skip
            yield Finding(check, opening.id)
    for place in here:
        if place.positions is not None and not (place.mirrored and "distances" not in place.own):
            yield from _distances(place, place.positions)
    for key, written in job.trade_sizes:
        said = Message("{text} looks like a trade size, not a dimension", (("text", written, ""),))
        remedy = Message("Measure it: a frame sold by that name may be several millimeters larger or smaller")
        yield Finding(Check("job.trade-size", "caution", said, remedy=remedy, key=key, part=key), "job")
    if job.not_used:
        shown = ", ".join(job.not_used[:6]) + (f" and {len(job.not_used) - 6} more" if len(job.not_used) > 6 else "")
        said = Message("Read and kept, but nothing computes with it yet: {keys}", (("keys", shown, ""),))
        yield Finding(Check("job.not-used", "ok", said), "job")


def _distances(place: Place, found: Positions) -> Iterator[Finding]:
    """Whether distances place the fixings, and agree."""
    rows, said = place.opening.distances or (), place.opening.fixings or ()
    span = [f"{row.from_} to {row.to}" for row in rows]
    names = "; ".join(found.loose or [span[n] for n in found.wrong or found.unchecked])
    angles = {f"fixing {n}": f.angle for n, f in enumerate(said, 1) if f.angle is not None}
    turned = "; ".join(f"{n} is at about {clock(deg)}, not {angles[n].text}" for n, deg in found.turned)
    sure = 2.0 * max((u for *_, u in found.places), default=0.0)
    told: Quantities = (("misfit", found.misfit_mm, "mm"), ("many", len(rows), ""), ("names", names, ""))
    told += (("off", found.wrong_mm, "mm"), ("sure", sure, "mm"), ("turned", turned, ""))
    title, remedy = "{many:0} distances place the fixings to \u00b1 {sure}, and agree within {misfit}", ""
    if found.sideless:
        title = "No place yet for {names}: too few directions to tell which way round they are"
        remedy = 'Say about where two of the fixings are, not opposite each other, such as angle = "12 o\'clock"'
    elif found.loose:
        title = "No place yet for {names}: too few distances, or one that cannot be right"
        remedy = "Measure each fixing to two others or to the hole's edge"
    elif found.turned:
        title = "The distances do not fit the directions: by these {turned}"
        remedy = "Look at it from the cabin and correct the direction; if that is right, measure its distances again"
    elif found.wrong[1:]:
        title, remedy = "One of these distances is wrong: {names}", "Measure them again, or one more to tell which"
    elif found.wrong:
        title = "The distance {names} does not fit the others: it is about {off} too long"
        remedy = "Measure it again, then the others (they differ by {misfit} on average)"
    elif found.unchecked:
        title = "{many:0} distances place the fixings to \u00b1 {sure}; nothing checks {names}"
        title = title if len(found.unchecked) < len(rows) else title.replace("{names}", "them")
        remedy = "Measure one more distance between fixings, or to the hole's edge: it would show a slip"
    lines = tuple(
        CalculationLine(f"{name} {axis}", f"{way} the driver's axis, as seen from the cabin", value, "mm")
        for name, x, y, _ in found.places
        for axis, way, value in (("x", "to the right of", x), ("y", "above", y))
    )
    verdict: Verdict = "caution" if remedy else "ok"
    check = check_of("job.distances", verdict, title, remedy, told, working=lines, key="distances")
    yield Finding(check, place.subject)


def shared_places(job: Job, results: Sequence[PlaceResult], here: Mapping[str, Place]) -> Iterator[Finding]:
    """Two speakers in one opening that play together or of which nobody said that they take turns; two parts whose
    flanges lie on each other where `at` puts them."""
    for a, b in combinations(results, 2):
        play = [
            {one.id for one in job.file.stage for path in one.path if path.opening == a.opening_id
             and path.speaker == speaker and path.side in (None, a.side or None)}
            for speaker in (a.speaker_id, b.speaker_id)
        ]  # fmt: skip
        if a.subject == b.subject and not all(play):
            title = "{first} and {second} both have a part here, and no stage says that they take turns"
            remedy = "Take one [[adapter]] out, or give each speaker a [[stage]] of its own that it plays in"
            both = (("first", a.speaker_name, ""), ("second", b.speaker_name, ""))
            part = f"{a.speaker_id}-{b.speaker_id}"
            check = check_of("mount.place", "caution", title, remedy, both, sources=(), key="adapter", part=part)
            yield Finding(check, a.subject)
    for stage in job.file.stage:
        for subject, place in here.items():
            names = dict.fromkeys(
                path.speaker for path in stage.path
                if path.opening == place.opening.id and path.side in (None, place.side or None)
            )  # fmt: skip
            if len(names) > 1:
                about: Quantities = (("speakers", " and ".join(names), ""), ("stage", stage.title or stage.id, ""))
                title, remedy = (
                    "{speakers} both play here in stage {stage}, and an opening takes one speaker",
                    "Give one of them an [[opening]] of its own, or a stage of its own if they take turns",
                )
                check = check_of(
                    "mount.place", "stop", title, remedy, about, sources=(), key=f"stage.{stage.id}.path", part=stage.id
                )
                yield Finding(check, subject)
    seen: set[tuple[str, str]] = set()
    for a, b in combinations(results, 2):
        at, other = (here[one.subject].position_m for one in (a, b))
        if a.opening_id == b.opening_id or at is None or other is None or (a.subject, b.subject) in seen:
            continue
        apart = 1000.0 * dist(at, other)
        need = a.spec.outline.inside_mm(0.0, 0.0) + b.spec.outline.inside_mm(0.0, 0.0)
        if apart < need:
            seen.add((a.subject, b.subject))
            sizes = (("other", b.name, ""), ("apart", apart, "mm"), ("need", need, "mm"))
            title, remedy = (
                "Its middle is {apart} from that of {other}: side by side their flanges need {need}",
                "Measure from one middle to the other, and correct `at` of both; if it is right, make one flange smaller",
            )
            yield Finding(
                check_of("mount.place", "caution", title, remedy, sizes, (apart, need, "mm"), key="at", part=b.subject),
                a.subject,
            )


def _missing(what: str, remedy: str, key: str) -> Finding:
    title = Message("{what} entered yet", (("what", what, ""),))
    return Finding(Check("job.missing", "caution", title, remedy=Message(remedy), key=key, part=key), "job")


_SOURCE = f"{PRACTICE}; the vehicle maker's service information decides"

_DOOR = Message(
    "Doors fire side airbags, some of them from the pressure in the door: battery off, and the wait that the vehicle "
    "maker's service information gives, before any plug is parted"
)
_DOOR_DO = Message(
    "Add no hole and leave none open that was closed; keep the pressure sensor's port and the inflator's path free; never "
    "put a meter on a yellow lead or an airbag connector; leave orange cable alone"
)
_DRILL = Message("Drilling and trial fitting go on beside glass, looms and inflators")
_DRILL_DO = Message(
    "Glass up and covered while drilling, down while trial fitting; depth stop on the drill; eye protection; swarf out; "
    "bare edges painted; nothing drilled where nobody has looked behind"
)
_WATER = Message("The inner skin of a door is wet")
_WATER_DO = Message(
    "Vapor barrier back on with butyl, drain holes free, a drip loop in the wires, a hood over the magnet where water runs"
)


def cautions(zones: Iterable[str], materials: Iterable[tuple[str, str]]) -> tuple[Finding, ...]:
    """The cautions of a job."""
    found: dict[str, Finding] = {}
    for zone in zones:
        if zone == "door":
            found.setdefault("door", Finding(_caution("safe.door", _DOOR, _DOOR_DO), "vehicle"))
            found.setdefault("water", Finding(_caution("safe.water", _WATER, _WATER_DO), "vehicle"))
        found.setdefault("drilling", Finding(_caution("safe.drilling", _DRILL, _DRILL_DO), "vehicle"))
    for name, words in materials:
        if words:
            text = Message("Working {material}: {words}", (("material", name, ""), ("words", words, "")))
            part = name.lower().replace(" ", "-")
            found.setdefault(f"fumes {name}", Finding(_caution("safe.fumes", text, None, part), "vehicle"))
    return tuple(found.values())


def _caution(code: str, title: Message, remedy: Message | None, part: str = "") -> Check:
    return Check(code, "caution", title, remedy=remedy, sources=(_SOURCE,), part=part)


_SPEAKER = ("fit.assumed", "fit.fixing", "job.missing.holes", "mount.held")  # the same on both sides
_READ = {  # the same on a side where that table was not read by itself
    "fit.coverage": "behind",
    "fit.reach": "behind",
    "job.missing.behind": "behind",
    "job.missing.trim.clear": "trim",
    "fit.flat.inner": "trim",
    "job.missing.hole": "hole",
}


def twins_of(places: Sequence[tuple[Place, str]]) -> dict[str, tuple[str, frozenset[str]]]:
    """For each mirrored place the first side with the same speaker, and the tables that were read on its own side."""
    firsts: dict[tuple[str, str], str] = {}
    found = {}
    for place, speaker in places:
        first = firsts.setdefault((place.opening.id, speaker), place.subject)
        if first != place.subject and place.mirrored:
            found[place.subject] = (first, frozenset(place.own))
    return found


def with_waits(findings: Sequence[Finding], twins: Mapping[str, tuple[str, frozenset[str]]]) -> list[Finding]:
    """The same findings; each that waits names by id the question it waits for, which says what it settles."""
    open_ones = {f.id: f for f in findings if f.check.verdict != "ok"}
    asked: dict[str, tuple[str, ...]] = {}
    for f in findings:
        if f.check.verdict == "caution":
            wanted = tuple(f"{name}@{f.subject}" for name in f.check.waits)
            first, own = twins.get(f.subject, ("", frozenset()))
            twin = f"{f.check.name}@{first}"
            if twin in open_ones and _same(f, own) and open_ones[twin].check.verdict == "caution":
                wanted = (twin,)
            asked[f.id] = tuple(one for one in wanted if one in open_ones and one != f.id)
    roots = {one: _roots(one, asked) for one in asked}
    said: dict[str, dict[str, None]] = {}
    later: dict[str, dict[str, None]] = {}
    for f in findings:
        for root in roots.get(f.id, ()):
            if open_ones[root].check.name == f.check.name:
                continue  # one line with it
            if f.check.code == "fit.assumed":
                later.setdefault(root, {})[ENTRIES[f.check.part]] = None
            elif f.check.code in WAITING:
                said.setdefault(root, {})[WAITING[f.check.code]] = None
    return [
        _told(f, said.get(f.id, {}), later.get(f.id, {}), roots.get(f.id, ())) if f.id in open_ones else f
        for f in findings
    ]


def _same(finding: Finding, own: frozenset[str]) -> bool:
    if finding.check.name.startswith(_SPEAKER):
        return True
    table = next((table for name, table in _READ.items() if finding.check.name.startswith(name)), None)
    return table is not None and table not in own


def _roots(one: str, asked: Mapping[str, tuple[str, ...]], seen: frozenset[str] = frozenset()) -> tuple[str, ...]:
    """The questions at the end of what it waits for; () for one that waits for nothing."""
    ends: dict[str, None] = {}
    for target in asked[one]:
        if target not in seen:
            ends |= dict.fromkeys(_roots(target, asked, seen | {one}) if asked.get(target) else (target,))
    return tuple(ends)


def _told(finding: Finding, settles: Iterable[str], later: Iterable[str], waits: tuple[str, ...]) -> Finding:
    check = finding.check
    text, quantities = check.title.template, check.title.quantities
    for name, said, words in (("settles", "It settles", settles), ("later", "After it, if still open", later)):
        if words and not waits:
            text += f". {said}: {{{name}}}"
            quantities += ((name, ", ".join(words), ""),)
    return replace(finding, check=replace(check, title=Message(text, quantities), waits=waits))
