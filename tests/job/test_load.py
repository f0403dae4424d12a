"""Reading a job: what people write is understood, and what is wrong is said all at once, with line and key."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backwave.errors import JobError, MissingError
from backwave.job import load, loads, starter

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = (ROOT / "docs/example-job.toml").read_text(encoding="utf-8")
DEMO = ROOT / "src/backwave/cli/demo_job"
DISC = 'flange  = { diameter = "182 mm" }'


def problems(text: str) -> list[tuple[int | None, str, str]]:
    with pytest.raises(JobError) as caught:
        loads(text)
    return [(p.line, p.key, p.message) for p in caught.value.problems]


def test_the_example_of_the_docs_loads_and_its_unused_keys_are_said() -> None:
    page = (ROOT / "docs/job-file.md").read_text(encoding="utf-8")
    block = re.search(r"```toml\n(.*?)```", page, re.DOTALL)
    assert block is not None
    job = loads(block[1])
    assert job.file.opening[0].fixings is not None
    assert {"crew"} <= set(job.not_used)
    assert not any(key.startswith(("adapter", "margins", "instruments")) for key in job.not_used)


def test_everything_wrong_is_said_at_once_with_line_key_and_nearest() -> None:
    text = """format = 1
[[opening]]
id = "a"
hole = { diametr = "143 mm" }
skin = "-1 mm"
zone = "roof"
behind = [{ radius = "0 mm", clear = ["5 mm"] }]
[[opening]]
id = "a"
flange = { diameter = "100 mm" }
fixings = [{ x = "80 mm", y = "0 mm", hole = "5 mm" }]
trim = { clear = "37 kg" }
[[speaker]]
id = "s"
cutout = "141 mm"
profile = [["70 mm", "0 mm"], ["46 mm", "64 mm"], ["40 mm", "60 mm"]]
[[adapter]]
opening = "b"
speaker = "s"
material = "ASA"
thickness = "thick"
"""
    found = problems(text)
    expected = [
        (4, "opening.a.hole.diametr", "an unknown key"),
        (5, "opening.a.skin", "a negative length"),
        (6, "opening.a.zone", "not one of the accepted words"),
        (7, "opening.a.behind[0].clear", "a list of one reading"),
        (9, "opening.a.id", "an id used twice"),
        (12, "opening.a.trim.clear", "a mass where a length is meant"),
        (16, "speaker.s.profile[2]", "a profile whose depth goes back"),
        (18, "adapter[0].opening", "no opening of that id"),
        (21, "adapter[0].thickness", "not a length"),
    ]
    assert set(expected) <= set(found)
    with pytest.raises(JobError) as caught:
        loads(text)
    unknown = next(p for p in caught.value.problems if p.message == "an unknown key")
    assert (unknown.found, unknown.nearest) == ("diametr", "diameter")
    assert [p.line for p in caught.value.problems] == sorted(p.line or 0 for p in caught.value.problems)


@pytest.mark.parametrize(
    ("change", "line_has", "message"),
    [
        (('thickness = "auto"', 'thickness = "13"'), "thickness", "a length without a unit"),
        (('y = "80.5 mm"', 'y = "95 mm"'), "95 mm", "a fixing outside the flange"),
        (('by = "caliper" }', 'by = "calliper" }'), "calliper", "an instrument that [instruments] does not list"),
        ((DISC, 'flange  = { traced = "../ring.toml" }'), "ring.toml", "leads out of the job"),
        ((DISC, 'flange  = { traced = "photos/ring.toml" }'), "", "a traced file that is not there"),
        (("Qms = 6.1", "Qms = nan"), "Qms", "not a finite number"),
        (('cutout    = "141 mm"', 'cutout    = "141,5 mm"'), "141,5", "a decimal comma"),
        (('sides   = ["left", "right"]', 'sides   = ["left"]'), "", "an override for the right"),
        (('file = "readings/before-driver.wav"', 'file = "/etc/passwd"'), "/etc/passwd", "leads out of the job"),
        (("format = 1", "format = 2"), "format", "written by a newer backwave"),
        (("format = 1", ""), "", "no format is given"),
        (('count = 4', 'count = "four"'), "four", "not a whole number"),
        (('cutout    = "141 mm"\n', ''), "", "this key has to be given"),
    ],
)  # fmt: skip
def test_each_fault_has_its_own_message(change: tuple[str, str], line_has: str, message: str) -> None:
    assert change[0] in EXAMPLE
    text = EXAMPLE.replace(*change, 1)
    hits = [(line, key, said) for line, key, said in problems(text) if message in said]
    assert hits, problems(text)
    if line_has:
        assert line_has in text.splitlines()[(hits[0][0] or 0) - 1]


@pytest.mark.parametrize("text", ["a = ", "[[opening", 'a = "x', "= 1", "a = 1\na = 2", "\x00", "[a]\n[a]"])
def test_text_that_is_no_toml_names_its_line(text: str) -> None:
    ((line, _, message),) = problems(text)
    assert line is not None
    assert message.startswith("not readable")


def test_a_folder_without_a_job_says_how_to_make_one(tmp_path: Path) -> None:
    with pytest.raises(MissingError, match="backwave new"):
        load(tmp_path)
    with pytest.raises(MissingError, match="no job folder"):
        load(tmp_path / "nowhere")
    (tmp_path / "job.toml").write_bytes(b"format = 1\ntitle = '\xff\xfe'\n")
    with pytest.raises(JobError, match="UTF-8"):
        load(tmp_path)


def test_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "secret.toml").write_text("outline = [[0,0],[1,0],[0,1]]")
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "ring.toml").symlink_to(tmp_path / "secret.toml")
    text = EXAMPLE.replace('flange  = { diameter = "182 mm" }', 'flange  = { traced = "ring.toml" }')
    (folder / "job.toml").write_text(text, encoding="utf-8")
    with pytest.raises(JobError, match="leads out of the job folder"):
        load(folder)


def test_a_traced_outline_seen_from_the_back_is_mirrored(tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    trace = (
        "outline = [[-90, -80], [95, -80], [90, 85], [-90, 80]]\n"
        'holes = [{ x = 10, y = 5, diameter = 5.5 }]\nseen_from = "back"\n'
    )
    (tmp_path / "photos/ring.toml").write_text(trace)
    text = EXAMPLE.replace('flange  = { diameter = "182 mm" }', 'flange  = { traced = "photos/ring.toml" }')
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    held = load(tmp_path).traces["photos/ring.toml"]
    assert held.outline_mm[1] == (-95.0, -80.0)
    assert held.holes_mm == ((-10.0, 5.0, 5.5),)


def test_a_trade_size_is_noticed() -> None:
    job = loads(EXAMPLE.replace('frame     = "166 mm"', 'frame     = "6 1/2 in"'))
    assert job.trade_sizes == (("speaker.demo-165.frame", "6 1/2 in"),)


def test_every_default_used_is_listed_with_its_ground() -> None:
    job = loads(
        starter.starter(
            "T", hole="143.5 mm", behind="58 mm", trim="37 mm", cutout="141 mm", magnet="92 mm", depth="64 mm"
        )
    )
    keys = {one.key for one in job.assumed if one.why}
    assert {"margins.glass", "printer.bed", "adapter[0].foam.back"} <= keys


JUNK = st.sampled_from(
    [
        '"71 kg"',
        '"-5 mm"',
        '"x"',
        "1",
        "true",
        "[]",
        "{}",
        "nan",
        '["1 mm"]',
        '""',
        "[[1]]",
        '"1e999 mm"',
        "{ a = 1 }",
        "-1",
        "1979-05-27",
    ]
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_any_value_anywhere_is_read_or_refused_but_never_a_traceback(data: st.DataObject) -> None:
    whole = data.draw(st.sampled_from((EXAMPLE, (DEMO / "job.toml").read_text(encoding="utf-8"))))
    places = [m.span(1) for m in re.finditer(r'=\s*("[^"]*"|-?\d+(?:\.\d+)?)', whole)]
    start, end = data.draw(st.sampled_from(places))
    text = whole[:start] + data.draw(JUNK) + whole[end:]
    try:
        loads(text)
    except JobError as error:
        said = error.problems
    else:
        said = None
    assert said is None or (said and all(p.message for p in said))


@settings(max_examples=50, deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    with pytest.raises(JobError):
        loads(text + '\n[[opening]]\nid = "x"\nzone = "roof"\n')
