"""What once crashed or hung the reader: each is a problem with its line, within a second."""

from __future__ import annotations

import itertools
import os
import time
from pathlib import Path

import pytest

from backwave.errors import JobError, Problem
from backwave.job import load, loads, schema
from backwave.job.fields import KINDS, Bounds
from backwave.job.refusals import letters_refused
from backwave.units import DIMENSIONS, parse

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = (ROOT / "docs/example-job.toml").read_text(encoding="utf-8")
NINES = "9" * 400


def refused(text: str, folder: Path | None = None) -> tuple[Problem, ...]:
    if folder is not None:
        (folder / "job.toml").write_text(text, encoding="utf-8")
    started = time.process_time()
    with pytest.raises(JobError) as caught:
        loads(text) if folder is None else load(folder)
    assert time.process_time() - started < 2.0
    for problem in caught.value.problems:
        assert problem.file
        assert problem.message
        words = f"{problem.message} {problem.found} {problem.accepted}"
        assert not any(w in words for w in ("sys.", "datetime", "Exceeds the limit", "None", "True")), words
    return caught.value.problems


def changed(old: str, new: str) -> str:
    assert old in EXAMPLE, old
    return EXAMPLE.replace(old, new, 1)


LENGTH = '"0.8 mm"'


@pytest.mark.parametrize(
    ("text", "key", "message"),
    [
        ("format = 1\n[[opening]]\nid = { a = 1 }", "opening[0].id", "not text"),
        ("format = 1\n[[boot]]\nopening = []", "boot[0].opening", "not text"),
        ('format = 1\n[[plug]]\nid = "p"\nside = { a = 1 }\npin = [{ number = "2", carries = "+" }]', "plug.p.side", "not one of"),
        ('format = 1\n[[plug]]\nid = "p"\nside = [{}]\npin = [{ number = "2" }]', "plug.p.side", "not one of"),
        ('format = 1\n[[plug]]\nid = "p"\nopening = {}\npin = [{ number = "2", carries = "+" }]', "plug.p.opening", "not text"),
        ('format = 1\n[[stage]]\nid = 2026-01-01\n[[reading]]\nfile = "readings/a.wav"\nstage = [1]', "stage[0].id", "not text"),
        ("format = 1\n[tune]\nkept = [[], {}]", "tune.kept[0]", "not text"),
        (changed(LENGTH, f'"{NINES}/1 in"'), "opening.front-door.skin", "letters"),
        (changed(LENGTH, f'"{NINES} mm"'), "opening.front-door.skin", "letters"),
        (changed(LENGTH, '"9e400 mm"'), "opening.front-door.skin", "too large a number"),
        (changed(LENGTH, '"1e300 mm"'), "opening.front-door.skin", "too large a number"),
        (changed(LENGTH, '"1/0 in"'), "opening.front-door.skin", "zero below"),
        (changed(LENGTH, '"0.8 ± 1e300 mm"'), "opening.front-door.skin", "too large a number"),
        (changed(LENGTH, '"0.8 mm u 900 mm"'), "opening.front-door.skin", "too large an uncertainty"),
        (changed(LENGTH, '"1' + " " * 3000 + 'mm"'), "opening.front-door.skin", "letters"),
        (changed(LENGTH, '"1' + " " * 20_000 + 'mm"'), "", "a text too long"),
        (changed('"182 mm"', '"182 m"'), "opening.front-door.flange.diameter", "did you mean 182 mm?"),
        (changed('"182 mm"', '"18.2 m"'), "opening.front-door.flange.diameter", "too large a length"),
        (changed('cutout    = "141 mm"', 'cutout = "1.14e+11 mm"'), "speaker.demo-165.cutout", "too large a length"),
        (changed('diameter = "182 mm"', "outline = [[0, 0], [90, 0], [-790000, 90]]"), "opening.front-door.flange.outline", "too small a number"),
        (changed('diameter = "182 mm"', "outline = [[-900, 0], [900, 0], [0, 90]]"), "opening.front-door.flange.outline", "too wide"),
        (changed('["46 mm", "64 mm"]]', '["46 mm", "1e9 mm"]]'), "speaker.demo-165.profile", "too large a length"),
        (changed('title = "Amplifier in"', 'title = "Amplifier in"\nlevel = "9500 dB"'), "stage.amplified.level", "too large a level"),
        (changed('gain = "-1.5 dB"', 'gain = "-1.5e+06 dB"'), "stage.amplified.path[0].gain", "too small a level"),
        (changed('length = "4.6 m"', 'length = "1e12 m"'), "load.amp.feed.length", "too large a length"),
        (changed('length = "4.6 m"', 'length = "4.6 km"'), "load.amp.feed.length", "did you mean 4.6 m?"),
        (changed("count = 4", "count = 65"), "speaker.demo-165.holes.count", "too large a number"),
        (changed("count = 4", f"count = {'9' * 90}"), "speaker.demo-165.holes.count", "too large a number"),
        (changed("count = 4", f"count = {'9' * 5000}"), "", "a key or a number too long"),
        (changed("count = 4", f"count = 0x{'f' * 5000}"), "", "a key or a number too long"),
        (changed("Qms = 6.1", "Qms = 1e300"), "speaker.demo-165.motor.Qms", "too large a number"),
        ("format = 1\n" + ".".join("a" * 900) + " = 1", "", "too many parts"),
        ("format = 1\n" + "a." * 30_000 + "a = 1", "", "too many parts"),
        ("format = 1\n[" + "a." * 30_000 + "a]", "", "too many parts"),
        ("format = 1\n" + '"a" . ' * 30_000 + "a = 1", "", "too many parts"),
        ("format = 1\n" + "".join(f"k{i} = 1\n" for i in range(7000)), "", "too many keys"),
        ("format = 1\n" + "".join(f"k{i} = 1\n" for i in range(990)), "", "too many keys"),
        ("format = 1\n" + "".join(f"k{i} = 1\n" for i in range(190)), "", "more than 100 problems"),
        ("format = 1\nx = [" + "1," * 1_000_000 + "]", "", "too large a file"),
        ("format = 1\nx = [" + "1," * 300_000 + "]", "", "too long a list"),
        ("format = 1\nx = [" + "1," * 2_000 + "]", "x", "too long a list"),
        ("format = 1\n" + '[[opening]]\nid = "a"\n' * 30_000, "", "too many tables"),
        ("format = 1\n" + '[[opening]]\nid = "a"\n' * 900, "opening", "too long a list"),
        ("format = 1\nx = " + "{ a = " * 500 + "1" + "}" * 500, "", "brackets too deep"),
        ("format = 1\n" + "x = '''" + "'" * 500_000, "", "not readable"),
        ('format = 1\nx = """' + '""\\' * 200_000, "", "a text too long"),
        ("format = 1\nd = 2026-13-45", "", "not readable"),
        ("format = 1\n# half \ud800", "", "half a character"),
    ],
    ids=itertools.count(),
)  # fmt: skip
def test_what_is_too_large_or_of_another_kind_is_a_problem(text: str, key: str, message: str) -> None:
    found = refused(text)
    right = [p for p in found if message in p.message and p.key.startswith(key)]
    assert right, "\n".join(map(str, found))
    assert right[0].line is not None or not right[0].key


@pytest.mark.parametrize("odd", ["{}", "{ a = 1 }", "[]", '["left"]', "[[1]]", "[{}]", "1", "true", "1979-05-27"])
def test_a_name_of_another_kind_anywhere_between_wires_is_a_problem(odd: str) -> None:
    pin = '{ number = "1", carries = "+" }'
    for table in ("plug", "pair", "boot", "speaker_cable", "factory_output", "distribution", "load", "wire"):
        for key in ("id", "opening", "side", "before", "from", "into", "box", "also", "pin"):
            rows = f"[[{table}]]\n{key} = {odd}\n" * 2
            refused(f'format = 1\n[[opening]]\nid = "o"\n{rows}')
    for key in ("opening", "side", "number", "carries", "color"):
        own = {"number": '"1"', "carries": '"+"', key: odd}
        pins = ", ".join(f"{name} = {value}" for name, value in own.items())
        refused(f'format = 1\n[[plug]]\nid = "p"\nopening = "o"\npin = [{{ {pins} }}, {pin}]')
    refused(f'format = 1\n[[opening]]\nid="o"\n[[plug]]\nid="p"\nopening="o"\nside={odd}\npin=[{pin}]')


@pytest.mark.parametrize(
    ("letter", "kind"),
    [
        ("\\u001b]0;title\\u0007", "control"), ("\\b", "control"), ("\\u007f", "control"), ("\\u009b", "control"),
        ("\\n", "line break"), ("\\r", "line break"), ("\\f", "line break"), ("\\u0085", "line break"),
        ("\\u2028", "line break"), ("\\t", "tab"), ("\\u202e", "direction"), ("\\u2066", "direction"), ("\\uffff", "control"),
        ("\ud83d", "half"),
    ],
)  # fmt: skip
@pytest.mark.parametrize(
    ("old", "key"),
    [
        ('"Night-round delivery van"', "title"), ('"Demo panel van"', "vehicle.name"), ('"front-door"', "opening[0].id"),
        ('"Demo 165 mm woofer"', "speaker.demo-165.name"), ('"lead"', "crew.people[0]"), ('"0.8 mm"', "opening.front-door.skin"),
    ],
)  # fmt: skip
def test_letters_that_no_name_may_hold_are_refused(letter: str, kind: str, old: str, key: str) -> None:
    found = refused(changed(old, f'"a{letter}b"'))
    assert any(p.key.rpartition(".")[2] == key.rpartition(".")[2] and kind in p.message for p in found)
    assert all(not letters_refused(f"{p.key}{p.found}{p.message}{p.accepted}") for p in found)


def test_letters_of_a_key_are_looked_at_too() -> None:
    found = refused(changed("[instruments] ", '[instruments]\n"a\\u001b[2J" = "1 mm"\n'))
    assert any("in a key" in p.message and "\x1b" not in str(p) for p in found)


def test_names_of_any_language_and_signs_are_taken() -> None:
    for name in (
        'Tür links, 5 5/8"',
        "מיניבוס",
        "кузов №7",
        "軽バン",
        "a\u200fb",
        "Ω ± % {x} <b> 'q' \\",
        "\U0001f690",
    ):
        quoted = name.replace("\\", "\\\\").replace('"', '\\"')
        assert loads(changed('"Demo panel van"', f'"{quoted}"')).file.vehicle.name == name


def test_a_note_of_a_row_of_ones_own_may_have_lines() -> None:
    row = '\n[[stock.material]]\nname = "M"\nlike = "ASA"\nnote = "one\\ntwo"\n'
    loads(EXAMPLE + row)
    assert any("line break" in p.message for p in refused(EXAMPLE + row.replace('"M"', '"M\\nN"')))


@pytest.mark.parametrize(
    "name", ["a" * 190 + ".toml", "ü" * 190 + ".toml", "photos", "pipe.toml", "circle.toml", "no.toml"]
)
def test_a_traced_file_that_is_none_is_a_problem(name: str, tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "circle.toml").symlink_to("circle.toml")
    found = refused(changed('diameter = "182 mm"', f'traced = "{name}"'), tmp_path)
    assert any(p.file == name[:120] for p in found)
    (problem, *_) = refused(changed('diameter = "182 mm"', f'traced = "{"a" * 300}.toml"'), tmp_path)
    assert problem.message == "too long a text"


def test_a_measured_curve_or_reading_that_is_no_file_is_a_problem(tmp_path: Path) -> None:
    (tmp_path / "readings").mkdir()
    os.mkfifo(tmp_path / "readings/pipe.txt")
    long = "readings/" + "ü" * 150 + ".txt"
    for name in ("readings/pipe.txt", long):
        found = refused(changed('"readings/before-driver.wav"', f'"{name}"'), tmp_path)
        assert any(p.file == name[:120] for p in found)


@pytest.mark.parametrize(
    ("trace", "message"),
    [
        ("outline = [" + "[0, 0]," * 12_000 + "]", "too long a list"),
        ("outline = [" + "[0, 0]," * 150_000 + "]", "too large a file"),
        ("# remark\n" * 150_000, "too large a file"),
        ("outline = [[0, 0], [1, 0], [1, 90000]]", "less than or equal"),
        ("outline = [[0, 0], [1, 0], [1, inf]]", "not a finite number"),
        ("outline = [[0, 0], [1, 0], [1, 1]]\nu = 1e300", "too large a number"),
        ('outline = [[0, 0], [1, 0], [1, 1]]\npicture = "a\\u001b"', "control character"),
    ],
)
def test_a_trace_is_bounded(trace: str, message: str, tmp_path: Path) -> None:
    (tmp_path / "ring.toml").write_text(trace, encoding="utf-8")
    found = refused(changed('diameter = "182 mm"', 'traced = "ring.toml"'), tmp_path)
    assert any(message in p.message and p.file == "ring.toml" for p in found), "\n".join(map(str, found))


@pytest.mark.parametrize("kind", ["folder", "pipe", "device", "large"])
def test_a_job_file_that_is_no_file_is_not_waited_for(kind: str, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    if kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "device":
        path.symlink_to("/dev/zero")
    else:
        with path.open("wb") as file:
            file.truncate(5_000_000_000)  # sparse
    started = time.process_time()
    with pytest.raises(JobError) as caught:
        load(tmp_path)
    assert time.process_time() - started < 1.0
    assert caught.value.problems[0].message in ("no ordinary file", "too large a file")


VEHICLES = [
    ('cabin = { length = "1.45 m", width = "1.70 m", height = "1.25 m" }', 'cabin = { length = "14 m", width = "2.5 m", height = "2.1 m" }'),
    ('ear = ["0.95 m", "0.42 m", "0.95 m"]', 'ear = ["12 m", "0.42 m", "1.5 m"]'),
    ('battery    = { voltage = "12.6 V", capacity = "60 Ah", resistance = "8 mohm" }', 'system = "24 V"\nbattery = { voltage = "25.4 V", capacity = "225 Ah", resistance = "1 mohm" }'),
    ('alternator = { current = "90 A", idle = "45 A" }', 'alternator = { current = "320 A", idle = "150 A" }'),
    ('length = "4.6 m"', 'length = "19 m"'),
    ('fs = "58 Hz"', 'fs = "19 Hz"'), ('Vas = "13.5 L"', 'Vas = "420 L"'), ('Sd = "133 cm2"', 'Sd = "1180 cm2"'),
    ('Xmax = "5.5 mm"', 'Xmax = "38 mm"'), ('Xmech = "9 mm"', 'Xmech = "65 mm"'), ('power = "75 W" }', 'power = "3000 W" }'),
    ('Qms = 6.1', 'Qms = 14.5'), ('Re = "3.3 ohm"', 'Re = "0.7 ohm"'), ('mass      = "1.15 kg"', 'mass = "28 kg"'),
    ('volume = "14 L"', 'volume = "350 L"'), ('power = "4 x 75 W into 4 ohm"', 'power = "2 x 2500 W into 1 ohm"'),
    ('frame     = "166 mm"', 'frame = "475 mm"'), ('cavity  = { volume = "38 L"', 'cavity  = { volume = "900 L"'),
    ('at      = ["0.50 m", "0.06 m", "0.30 m"]', 'at      = ["13 m", "2.4 m", "-0.10 m"]'),
]  # fmt: skip


def test_a_bus_with_a_24_v_supply_and_an_18_inch_woofer_is_read() -> None:
    text = EXAMPLE
    for old, new in VEHICLES:
        assert old in text, old
        text = text.replace(old, new, 1)
    loads(text)


def test_every_kind_of_quantity_has_bounds_with_units_of_its_own() -> None:
    for kind, (low, high) in KINDS.items():
        assert kind in DIMENSIONS
        bounds = Bounds(kind, low, high)
        for end in (low, high):
            bounds.check(parse(end, kind))
    document = schema.json_schema()
    quantities = [
        rule
        for table in (document, *document["$defs"].values())
        for rule in table.get("properties", {}).values()
        if "x-dimension" in str(rule)
    ]
    assert len(quantities) > 100
    assert all("x-minimum" in str(rule) and "x-maximum" in str(rule) for rule in quantities)
