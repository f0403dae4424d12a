"""Each thing that can be wrong with a job has its own message, at its own key and line."""

from __future__ import annotations

from pathlib import Path

import pytest

from backwave.errors import JobError, Problem
from backwave.job import load, loads

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = (ROOT / "docs/example-job.toml").read_text(encoding="utf-8")
DISC = 'flange  = { diameter = "182 mm" }'


def problems(text: str) -> tuple[Problem, ...]:
    with pytest.raises(JobError) as caught:
        loads(text)
    return caught.value.problems


def changed(old: str, new: str) -> str:
    assert old in EXAMPLE, old
    return EXAMPLE.replace(old, new, 1)


@pytest.mark.parametrize(
    ("old", "new", "key", "message"),
    [
        # numbers and words
        ("count = 4", 'count = "4"', "speaker.demo-165.holes.count", "not a whole number"),
        ("count = 4", "count = true", "speaker.demo-165.holes.count", "not a whole number"),
        ("Qms = 6.1", 'Qms = "6.1"', "speaker.demo-165.motor.Qms", "not a number"),
        ("efficiency = 0.80", "efficiency = inf", "load.amp.efficiency", "not a finite number"),
        ('skin    = "0.8 mm"', "skin = 0.8", "opening.front-door.skin", "a length needs a unit"),
        ('skin    = "0.8 mm"', 'skin = "0.8 furlong"', "opening.front-door.skin", "an unknown unit"),
        ('skin    = "0.8 mm"', 'skin = "0.8 ± -1 mm"', "opening.front-door.skin", "cannot be negative"),
        ('thickness = "auto"', 'thickness = "0 mm"', "adapter[0].thickness", "too small a length"),
        ('thickness = "auto"', 'thickness = "-3 mm"', "adapter[0].thickness", "a negative length"),
        # words of a closed form
        ('threads   = "insert M4"', 'threads = "glue"', "adapter[0].threads", "not a thread"),
        ('power = "4 x 75 W into 4 ohm"', 'power = "loud"', "source.amp.power", "not a rating"),
        ('"series L 0.40 mH 0.15 ohm"', '"in line L 0.4 mH"', "stage.speakers.path[0].network[0]", "not a branch"),
        ('"series L 0.40 mH 0.15 ohm"', '"series C 4 uF 1 ohm"', "stage.speakers.path[0].network[0]", "not a part"),
        ('"series L 0.40 mH 0.15 ohm"', '"series L 4 uF"', "stage.speakers.path[0].network[0]", "a capacitance"),
        ('"peak 160 Hz -3 dB Q 2"', '"warmth"', "stage.amplified.path[0].filters[1]", "not a filter"),
        ('"Fri 18:00-23:00"', '"tonight"', "crew.hours", "not a span of hours"),
        # one way of saying it
        (DISC, 'flange = { diameter = "182 mm", traced = "a.toml" }', "opening.front-door.flange", "a flange"),
        (DISC, "flange = { outline = [[0, 0], [1, 1]] }", "opening.front-door.flange", "2 points"),
        ('hole    = { diameter = "143.5 mm", by', "hole = { by", "opening.front-door.hole", "a hole"),
        # one dimension said twice, and differently
        ('mass      = "1.15 kg"', 'mass = "1.15 kg"\ndepth = "110 mm"', "speaker.demo-165.depth", "contradict"),
        ('mass      = "1.15 kg"', 'mass = "1.15 kg"\ndepth = "30 mm"', "speaker.demo-165.depth", "contradict"),
        ('mass      = "1.15 kg"', 'mass = "1.15 kg"\nmagnet = "160 mm"', "speaker.demo-165.magnet", "contradict"),
        # references
        ('stage = "factory"', 'stage = "last year"', "reading[0].stage", "no stage of that id"),
        ('seat = "driver"', 'seat = "roof"', "reading[0].seat", "no seat of that id"),
        ('"amp", channel = "1"', '"amb", channel = "1"', "stage.amplified.path[0].source", "'amp'"),
        ('sides   = ["left", "right"]', 'sides = ["right"]', "stage.amplified.path[0].side", "not on"),
        ('sides   = ["left", "right"]', 'sides = ["left", "left"]', "opening.front-door", "each once"),
        ('mass      = "1.15 kg"', 'mass = "1.15 kg"\nby = "laser"', "speaker.demo-165.by", "does not list"),
        ('id = "amp"\nkind', 'id = "head-unit"\nkind', "source.head-unit.id", "an id used twice"),
        ('id = "under-seat"', 'id = "under/seat"', "box.under/seat.id", "an id with other than"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named_where_it_stands(old: str, new: str, key: str, message: str) -> None:
    text = changed(old, new)
    found = [p for p in problems(text) if p.key == key and message in f"{p.message} {p.accepted}"]
    assert found, "\n".join(map(str, problems(text)))
    assert found[0].line is not None
    assert found[0].accepted


ROOM = "1.45 m × 1.70 m × 1.25 m"


@pytest.mark.parametrize(
    ("old", "new", "key", "message"),
    [
        ('ear = ["0.95 m"', 'ear = ["9.5 m"', "seat.driver.ear", "seat driver lies outside the cabin"),
    ],
)  # fmt: skip
def test_who_sits_outside_the_cabin_is_named_with_the_cabins_size(old: str, new: str, key: str, message: str) -> None:
    (problem,) = problems(changed(old, new))
    assert (problem.key, message in problem.message, ROOM in problem.accepted) == (key, True, True), problem
    assert problem.line is not None
    cabin = next(line for line in EXAMPLE.splitlines() if line.startswith("cabin"))
    loads(changed(old, new).replace(cabin, ""))  # nobody knows how large it is


def test_what_plays_may_stand_outside_the_cabin() -> None:
    """In a trunk, say: it is left out of the predictions, with a caution, and the job is read."""
    loads(changed('at = ["1.2 m", "1.2 m"', 'at = ["1.2 m", "12 m"'))
    loads(changed('at      = ["0.50 m", "0.06 m"', 'at = ["0.50 m", "-0.06 m"'))


def test_a_value_beyond_its_bounds_is_not_called_missing_too() -> None:
    text = EXAMPLE.replace('cutout    = "141 mm"', 'cutout = "2000 mm"\ndepth = "4000 mm"\nmagnet = "90 mm"')
    text = "\n".join(line for line in text.splitlines() if not line.startswith("profile"))
    assert [p.key for p in problems(text)] == ["speaker.demo-165.cutout", "speaker.demo-165.depth"]


@pytest.mark.parametrize(
    ("old", "new", "key", "found"),
    [
        (DISC, "flange = { outline = [[1]] }", "opening.front-door.flange.outline[0][1]", "nothing"),
        ('"peak 160 Hz -3 dB Q 2"', '""', "stage.amplified.path[0].filters[1]", '""'),
        ('"peak 160 Hz -3 dB Q 2"', '"warmth"', "stage.amplified.path[0].filters[1]", "warmth"),
        ('"series L 0.40 mH 0.15 ohm"', '""', "stage.speakers.path[0].network[0]", '""'),
        ('power = "4 x 75 W into 4 ohm"', 'power = ""', "source.amp.power", '""'),
        ('skin    = "0.8 mm"', 'skin = ""', "opening.front-door.skin", '""'),
        ('skin    = "0.8 mm"', 'skin = "0.8 MM"', "opening.front-door.skin", "0.8 MM"),
        ('title  = "Night-round delivery van"', 'title = ""', "title", '""'),
        ('color = "GY/RD"', f'color = "{"x" * 190}"', "wire.w1.color", "x" * 117 + "..."),
    ],
)  # fmt: skip
def test_what_was_found_and_what_is_accepted_are_said_and_short(old: str, new: str, key: str, found: str) -> None:
    (problem,) = problems(changed(old, new))
    assert (problem.key, problem.found) == (key, found)
    assert problem.accepted
    assert max(len(problem.message), len(problem.found)) <= 130


def test_plausible_values_at_the_edge_are_read() -> None:
    for old, new in (
        ('idle = "45 A"', 'idle = "0 A"'),
        ('vehicle    = "32 A"', 'vehicle = "0 A"\noff = "0 A"'),
        ('height = "1.25 m" }', 'height = "1.25 m", leak = "0 cm2" }'),
        ('length = "1.45 m"', 'length = "24 m"'),
        ('length = "4.6 m"', 'length = "35 m"'),
        ('front     = "9 mm"', 'front = { moving = "-5 mm" }'),
        ('front     = "9 mm"', 'front = "-5 mm"'),
        ('fs = "58 Hz"', 'fs = "58 Hz", Rms = "0.004 kg/s"'),
        ("[crew]", '[printer]\nshrinkage = "0 %"\n[crew]'),
        ('zone    = "door"', 'zone = "door"\nseat = { offset = "-4 mm" }'),
        ('frame     = "166 mm"', 'frame = "6½ in"'),
        ("format = 1", "\ufeffformat = 1"),
    ):
        loads(changed(old, new))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('capacity = "60 Ah"', 'capacity = "1200 Ah"'),
        ('length = "1.45 m"', 'length = "40 m"'),
        ('cutout    = "141 mm"', 'cutout = "3 mm"'),
    ],
)
def test_a_number_near_its_bound_is_not_taken_for_another_unit(old: str, new: str) -> None:
    assert not any("did you mean" in p.message for p in problems(changed(old, new)))


def test_an_empty_file_says_so() -> None:
    for text in ("", "  \n\n"):
        (problem,) = problems(text)
        assert problem.message == "an empty file"


@pytest.mark.parametrize("edition", ['"1"', "1.0", "true", "-1"])
def test_an_edition_is_a_whole_number(edition: str) -> None:
    (problem,) = problems(changed("format = 1", f"format = {edition}"))
    assert (problem.key, problem.message) == ("format", "not an edition of the format")


# A flange that reaches farther to the left than to the right, as seen on the first side.
LOP = "flange = { outline = [[-95, -95], [60, -95], [60, 95], [-95, 95]] }"
LEFT_EAR = '{ x = "-80 mm", y = "0 mm", hole = "5 mm" }'
RIGHT_EAR = '{ x = "80 mm", y = "0 mm", hole = "5 mm" }'


def _with(first: str, right: str) -> str:
    text = changed(DISC, LOP)
    start, end = text.index("fixings = ["), text.index("behind  = [")
    text = text[:start] + f"fixings = [{first}]\n" + text[end:]
    return text.replace("[opening.right]\n", f"[opening.right]\n{right}\n", 1)


def test_a_fixing_is_judged_against_the_flange_as_its_side_has_it() -> None:
    outside = "a fixing outside the flange"
    loads(_with(LEFT_EAR, ""))
    assert [p.message for p in problems(_with(RIGHT_EAR, ""))] == [outside]
    # read on the right: the flange lies mirrored there
    loads(_with(LEFT_EAR, f"fixings = [{RIGHT_EAR}]"))
    (problem,) = problems(_with(LEFT_EAR, f"fixings = [{LEFT_EAR}]"))
    assert problem.key == "opening.front-door.right.fixings[0]"
    # a flange read on the right, with the fixings mirrored from the left
    loads(_with(LEFT_EAR, "flange = { outline = [[95, -95], [-60, -95], [-60, 95], [95, 95]] }"))
    (problem,) = problems(_with(LEFT_EAR, LOP))
    assert (problem.key, problem.message) == ("opening.front-door.right.flange", outside)


def _traced(folder: Path, trace: str) -> Path:
    (folder / "photos").mkdir()
    (folder / "photos/ring.toml").write_text(trace, encoding="utf-8")
    (folder / "job.toml").write_text(changed(DISC, 'flange = { traced = "photos/ring.toml" }'), encoding="utf-8")
    return folder


def test_a_fixing_outside_a_traced_flange_is_seen_once_the_file_is_read(tmp_path: Path) -> None:
    _traced(tmp_path, "outline = [[-90, -80], [90, -80], [90, 70], [-90, 70]]\nu = 0.5\n")
    with pytest.raises(JobError) as caught:
        load(tmp_path)
    (problem,) = caught.value.problems
    assert (problem.key, problem.found) == ("opening.front-door.fixings[0]", "0 mm, 80.5 mm")


def test_what_is_wrong_in_a_traced_file_names_that_file_and_its_line(tmp_path: Path) -> None:
    _traced(tmp_path, 'outline = [[0, 0], [1, 0]]\nseen_from = "above"\nu = -1\nscale = "1:1"\n')
    with pytest.raises(JobError) as caught:
        load(tmp_path)
    assert {(p.file, p.line) for p in caught.value.problems} == {("photos/ring.toml", n) for n in (1, 2, 3)}


def test_a_trace_that_does_not_say_how_sure_it_is_gets_a_stated_default(tmp_path: Path) -> None:
    _traced(tmp_path, "outline = [[-95, -95], [95, -95], [95, 95], [-95, 95]]\n")
    assert ("photos/ring.toml: u", 1.0, "mm") in [(a.key, a.value, a.unit) for a in load(tmp_path).assumed]


def test_defaults_of_a_machine_that_makes_nothing_are_not_listed() -> None:
    def keys(text: str) -> set[str]:
        return {one.key.partition(".")[0] for one in loads(text).assumed}

    assert "printer" in keys(EXAMPLE)
    assert "printer" not in keys(changed('process   = "print"', 'process = "sheet"'))


def test_deep_nesting_is_refused_and_not_a_crash() -> None:
    for depth in (50, 150, 300, 2000):
        assert problems("format = 1\nx = " + "[" * depth + "]" * depth)
