"""The shelf: what was measured comes back with the uncertainty it had, and nothing else comes with it.

Uncertainty is held against the same readings in the job they were measured in: JCGM 100:2008, 5.2.4 (readings that
share an instrument share its error) for the terms, JCGM 101:2008 for the draws.
"""

from __future__ import annotations

import shutil
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from backwave.errors import InputError, JobError, MissingError
from backwave.job import Bench, Job, load, loads, places, shelf
from backwave.job.session import Session
from backwave.uncertainty import Reading, drawn, first_order

EXAMPLE = Path(__file__).resolve().parents[2] / "docs/example-job.toml"
BARE = 'format = 1\ntitle = "Next van"\n[vehicle]\nname = "Next van"\n'
SAID = {"who": "The lead", "when": "2026-01-31"}


@pytest.fixture
def job(tmp_path: Path) -> Job:
    (tmp_path / "first").mkdir()
    shutil.copy(EXAMPLE, tmp_path / "first/job.toml")
    return load(tmp_path / "first")


def next_job(tmp_path: Path, extra: str = "") -> Session:
    (tmp_path / "next").mkdir(exist_ok=True)
    (tmp_path / "next/job.toml").write_text(BARE + extra, encoding="utf-8")
    return Session(tmp_path / "next", delay_s=0)


def taken(session: Session, path: Path) -> shelf.Taken:
    what = shelf.take(shelf.read(path), session.job)
    assert session.set_many(what.changes, label=what.label) == ()
    return what


def readings(job: Job, id_: str) -> list[Reading]:
    """The readings of an opening's first side as the bench takes them, by an owner of one name."""
    half = {name: q.to("mm") for name, q in job.file.instruments.items()}
    found = []
    for place in places(job):
        opening = place.opening
        if opening.id != id_:
            continue
        bench = Bench("owner", half)
        assert opening.hole is not None
        assert opening.trim is not None
        own = place.key
        if opening.hole.diameter is not None:
            found.append(bench.read(own("hole"), opening.hole.diameter, "metal", opening.hole.by))
        found.append(bench.read(own("trim"), opening.trim.clear, "trim", opening.trim.by))  # type: ignore[arg-type]
        if opening.skin is not None:
            found.append(bench.read(own("skin"), opening.skin, "metal"))
        for i, row in enumerate(opening.behind or ()):
            found.append(bench.read(f"{own('behind')}[{i}]", row.clear, "depth", row.by))
    return found


def spread(readings: list[Reading]) -> tuple[list[float], np.ndarray[Any, Any]]:
    """First-order u of each, and of every difference of two: what is shared cancels there."""
    n = len(readings)
    slopes = np.vstack([np.eye(n), *(np.eye(n)[i] - np.eye(n)[j] for i in range(n) for j in range(i))])
    return [r.value for r in readings], np.array([first_order(readings, s) for s in slopes])


def same(a: list[Reading], b: list[Reading]) -> None:
    assert len(a) == len(b)
    (values, u), (values_b, u_b) = spread(a), spread(b)
    assert values == values_b
    np.testing.assert_allclose(u, u_b, rtol=1e-12)
    assert [r.bound for r in a] == pytest.approx([r.bound for r in b])
    assert [r.taken for r in a] == [r.taken for r in b]


DOORS = {
    "as in the example": "",
    "instruments by name, readings several times": """
[[opening]]
id = "dash"
hole = { diameter = ["76.2 mm", "76.4 mm"], by = "caliper" }
skin = "1 mm"
behind = [{ radius = "0 mm", clear = ["40 mm", "41 mm", "40.5 mm"], by = "gauge" }, { radius = "20 mm", clear = "38 mm", by = "gauge" }]
trim = { clear = "20 mm", by = "gauge", land = "18 mm" }
""",
    "nothing named": """
[[opening]]
id = "dash"
hole = { diameter = "76.2 mm" }
skin = "1 ± 0.1 mm"
behind = [{ radius = "0 mm", clear = "40 mm" }, { radius = "20 mm", clear = ["38 mm", "38.4 mm"] }, { radius = "30 mm", clear = "37 mm u 0.4 mm" }]
trim = { clear = "20 mm" }
""",
}
BENCHES = {
    "none": "",
    "the same": '[instruments]\ncaliper = "0.05 mm"\ngauge = "1 mm"\n',
    "others of those names": '[instruments]\ncaliper = "0.2 mm"\ngauge = "3 mm"\ngauge-2 = "2 mm"\n',
    "a default": '[instruments]\ndefault = "2 mm"\n',
}


@pytest.mark.parametrize("bench", BENCHES)
@pytest.mark.parametrize("door", DOORS)
@pytest.mark.parametrize("default", [None, "0.7 mm"])
def test_an_opening_comes_back_with_the_uncertainty_it_had(
    tmp_path: Path, job: Job, door: str, bench: str, default: str | None
) -> None:
    text = EXAMPLE.read_text(encoding="utf-8") + DOORS[door]
    if default:
        text = text.replace("[instruments] ", f'[instruments]\ndefault = "{default}" ')
    (tmp_path / "first/job.toml").write_text(text, encoding="utf-8")
    job, id_ = load(tmp_path / "first"), "dash" if DOORS[door] else "front-door"
    path = shelf.save(job, "opening", id_, **SAID, shelf=tmp_path / "shelf")
    session = next_job(tmp_path, BENCHES[bench])
    before = session.text
    what = taken(session, path)
    assert what.id == id_
    here, there = readings(session.job, id_), readings(job, id_)
    same(here, there)
    if default is None and bench in ("none", "the same"):  # under the same names, so even the same draws
        for a, b in zip(here, there):
            np.testing.assert_array_equal(drawn(500)(a), drawn(500)(b))
    session.flush()
    assert load(session.folder).file == session.job.file
    assert session.undo()
    assert session.text == before


@pytest.mark.parametrize("bench", BENCHES)
def test_a_driver_comes_back_with_the_uncertainty_it_had(tmp_path: Path, job: Job, bench: str) -> None:
    path = shelf.save(job, "speaker", "demo-165", **SAID, shelf=tmp_path / "shelf")
    session = next_job(tmp_path, BENCHES[bench])
    taken(session, path)
    for old, new in ((job, session.job),):
        a, b = old.file.speaker[0], new.file.speaker[0]

        def all_of(which: Job) -> list[Reading]:
            s = which.file.speaker[0]
            half = {n: q.to("mm") for n, q in which.file.instruments.items()}
            bench_ = Bench("owner", half)
            lengths = {"frame": s.frame, "cutout": s.cutout, "rim": s.rim, "front": s.front.moving}  # type: ignore[union-attr]
            lengths |= {f"profile[{i}][{k}]": q for i, pair in enumerate(s.profile or ()) for k, q in enumerate(pair)}
            lengths |= {"Xmech": s.motor.Xmech, "depth": s.terminals.depth}  # type: ignore[union-attr]
            return [bench_.read(name, q, "sheet", s.by) for name, q in lengths.items()]  # type: ignore[arg-type]

        same(all_of(old), all_of(new))
        for x, y in zip(all_of(old), all_of(new)):
            np.testing.assert_array_equal(drawn(500)(x), drawn(500)(y))
        assert (a.holes, a.mass, a.name) == (b.holes, b.mass, b.name)


def test_a_skin_that_named_nothing_keeps_its_half_width_as_its_own(tmp_path: Path, job: Job) -> None:
    """There is no place beside `skin` to name an instrument: it no longer shares the error of the hole."""
    text = EXAMPLE.read_text(encoding="utf-8") + DOORS["nothing named"].replace("1 ± 0.1 mm", "1 mm")
    (tmp_path / "first/job.toml").write_text(text, encoding="utf-8")
    path = shelf.save(load(tmp_path / "first"), "opening", "dash", **SAID, shelf=tmp_path / "shelf")
    session = next_job(tmp_path, BENCHES["a default"])
    taken(session, path)
    opening = session.job.file.opening[0]
    assert opening.skin.text == "1 mm ± 0.3 mm"  # type: ignore[union-attr]
    assert opening.hole.by == "metal"  # type: ignore[union-attr]
    assert session.job.file.instruments["metal"].text == "0.3 mm"


def test_a_file_says_who_when_with_what_and_keeps_comments(tmp_path: Path, job: Job) -> None:
    path = shelf.save(job, "opening", "front-door", **SAID, note="rain in it", shelf=tmp_path / "shelf")
    assert path == tmp_path / "shelf/openings/demo-panel-van/front-door.toml"
    text = path.read_text(encoding="utf-8")
    data = tomllib.loads(text)
    assert data["measured"] == {
        "who": "The lead", "when": "2026-01-31", "vehicle": "Demo panel van", "note": "rain in it",
        "with": {"caliper": "0.05 mm", "gauge": "1 mm"},
    }  # fmt: skip
    assert data["opening"] == [tomllib.loads(EXAMPLE.read_text(encoding="utf-8"))["opening"][0]]
    assert "# free depth behind the face at a radius from the axis" in text
    assert shelf.save(job, "opening", "front-door", **SAID, note="rain in it", shelf=tmp_path / "shelf") == path
    other = shelf.save(job, "opening", "front-door", **SAID, shelf=tmp_path / "shelf")
    assert other.name == "front-door-2.toml"
    assert path.read_text(encoding="utf-8") == text
    entry = shelf.read(path)
    assert (entry.kind, entry.id, entry.who, entry.with_mm["gauge"]) == ("opening", "front-door", "The lead", 1.0)


def test_an_open_session_is_saved_as_it_stands_before_it_is_written(tmp_path: Path, job: Job) -> None:
    assert job.folder is not None
    session = Session(job.folder, delay_s=60)
    assert session.set(("opening", 0, "skin"), "1.2 mm") == ()
    path = shelf.save(session, "opening", "front-door", "The helper", shelf=tmp_path / "shelf")
    assert shelf.read(path).row["skin"] == "1.2 mm"


def test_an_id_that_is_there_is_made_another_and_it_says_what_to_measure_again(tmp_path: Path, job: Job) -> None:
    door = shelf.save(job, "opening", "front-door", **SAID, shelf=tmp_path / "shelf")
    driver = shelf.save(job, "speaker", "demo-165", **SAID, shelf=tmp_path / "shelf")
    session = next_job(tmp_path)
    first, second = taken(session, door), taken(session, door)
    assert (first.id, second.id) == ("front-door", "front-door-2")
    assert [o.id for o in session.job.file.opening] == ["front-door", "front-door-2"]
    assert list(session.job.file.instruments) == ["caliper", "gauge"]
    words = " ".join(first.again)
    for thing in ("glass", "grille", "second side", "service information"):
        assert thing in words
    assert "caliper" in " ".join(taken(session, driver).again)


def test_what_a_stand_in_did_stays_and_a_trace_is_written_out(tmp_path: Path, job: Job) -> None:
    folder = tmp_path / "first"
    (folder / "photos").mkdir()
    outline = "[[122, 1], [0, 120], [-120, 0], [0, -120]]"
    (folder / "photos/ring.toml").write_text(f'outline = {outline}\nseen_from = "back"\nu = 0.2\n', encoding="utf-8")
    text = EXAMPLE.read_text(encoding="utf-8")
    text = text.replace('flange  = { diameter = "182 mm" }', 'flange = { traced = "photos/ring.toml" }')
    text = text.replace("[opening.right]", '[opening.right]\nstand_in = { outcome = "clear" }')
    text = text.replace('skin    = "0.8 mm"', 'skin = "0.8 mm"\nstand_in = { outcome = "clear" }')
    (folder / "job.toml").write_text(text, encoding="utf-8")
    path = shelf.save(load(folder), "opening", "front-door", **SAID, shelf=tmp_path / "shelf")
    assert "stand_in" not in path.read_text(encoding="utf-8")
    assert "u 0.2 mm" in shelf.read(path).note
    session = next_job(tmp_path)
    taken(session, path)
    opening = session.job.file.opening[0]
    assert opening.flange is not None
    assert opening.flange.outline == job_outline(folder)
    assert opening.right is not None


def job_outline(folder: Path) -> Any:
    return load(folder).traces["photos/ring.toml"].outline_mm


ROW = '[[opening]]\nid = "a"\nhole = { diameter = "90 mm" }\n'
MEASURED = '[measured]\nwho = "x"\nwhen = "2026-01-31"\nvehicle = "v"\n'


@pytest.mark.parametrize(
    ("text", "message", "line"),
    [
        ("format = 2\n", "newer", 1),
        (MEASURED + ROW, "not an edition", 1),
        ("format = 1\n" + ROW, r"no \[measured\]", None),
        ("format = 1\n" + MEASURED, "not one thing", None),
        ("format = 1\n" + MEASURED + ROW + ROW.replace('"a"', '"b"'), "not one thing", None),
        ("format = 1\nsource = 3\n" + MEASURED + ROW, "an unknown key", 2),
        ("format = 1\n" + MEASURED + 'whom = "y"\n' + ROW, "nearest known key: who", 6),
        ("format = 1\n" + MEASURED + "note = 3\n" + ROW, "not what goes here", 6),
        ("format = 1\n" + MEASURED + 'with = { a = "1 kg" }\n' + ROW, "found: .*1 kg", 6),
        ("format = 1\n" + MEASURED + 'with = { a = "-1 mm" }\n' + ROW, "a negative length", 6),
        ("format = 1\n" + MEASURED + ROW + 'skin = "1 kg"\n', "opening.a.skin", 9),
        ("format = 1\n" + MEASURED + ROW + 'skni = "1 mm"\n', "nearest known key: skin", 9),
        ("format = 1\n" + MEASURED + ROW + 'trim = { clear = "9 mm", by = "gauge" }\n', "does not list", 9),
        ("format = 1\n" + MEASURED + ROW + 'flange = { traced = "../../x.toml" }\n', "another file named", 9),
        ("format = 1\n" + MEASURED + ROW + 'flange = { traced = "photos/x.toml" }\n', "another file named", 9),
        ("format = 1\n[meas", "not readable", 2),
    ],
)
def test_a_file_that_is_not_right_is_refused_with_its_line(
    tmp_path: Path, text: str, message: str, line: int | None
) -> None:
    (tmp_path / "openings/van").mkdir(parents=True)
    path = tmp_path / "openings/van/a.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(JobError, match=message) as caught:
        shelf.read(path)
    assert {p.file for p in caught.value.problems} == {"a.toml"}
    assert line in {p.line for p in caught.value.problems}
    good = tmp_path / "openings/van/good.toml"
    good.write_text("format = 1\n" + MEASURED + ROW, encoding="utf-8")
    held = shelf.listing(tmp_path)
    assert [e.path for e in held.entries] == [good]
    assert held.problems == caught.value.problems


def test_a_file_of_measured_curves_stays_with_its_job(tmp_path: Path, job: Job) -> None:
    path = tmp_path / "d.toml"
    row = '[[speaker]]\nid = "a"\nmeasured = { impedance = "/etc/passwd" }\n'
    path.write_text("format = 1\n" + MEASURED + row, encoding="utf-8")
    with pytest.raises(JobError, match="another file named"):
        shelf.read(path)


def test_nothing_is_kept_without_a_name_or_of_what_is_not_there(tmp_path: Path, job: Job) -> None:
    for id_, who, message in (("front-door", " ", "who measured it"), ("boot", "x", "front-door")):
        with pytest.raises(InputError, match=message):
            shelf.save(job, "opening", id_, who, shelf=tmp_path / "shelf")
    nameless = loads("format = 1\n" + ROW)
    with pytest.raises(MissingError):  # a job that is nowhere has no text
        shelf.save(replace(nameless, folder=tmp_path), "opening", "a", "x", shelf=tmp_path / "shelf")
    (tmp_path / "job.toml").write_text("format = 1\n" + ROW, encoding="utf-8")
    with pytest.raises(InputError, match="the vehicle's name"):
        shelf.save(load(tmp_path), "opening", "a", "x", shelf=tmp_path / "shelf")
    assert not (tmp_path / "shelf").exists()


def test_a_name_is_found_and_never_leads_out(tmp_path: Path, job: Job) -> None:
    held = tmp_path / "shelf"
    door = shelf.save(job, "opening", "front-door", **SAID, shelf=held)
    (held / "openings/other").mkdir()
    shutil.copy(door, held / "openings/other/front-door.toml")
    (tmp_path / "secret.toml").write_text("x", encoding="utf-8")
    assert shelf.find("demo-panel-van/front-door", held) == door
    assert shelf.find("Demo panel van/front-door.toml", held) == door
    assert shelf.find(str(door), tmp_path) == door
    with pytest.raises(InputError, match=r"several of that name.*other/front-door"):
        shelf.find("front-door", held)
    for name in ("../secret", "..\\secret", "", "/", "demo-panel-van/../../secret"):
        with pytest.raises(InputError, match="not a name on the shelf"):
            shelf.find(name, held)
    with pytest.raises(MissingError, match="demo-panel-van/front-door"):
        shelf.find("back-door", held)


def test_a_vehicle_named_like_a_path_stays_on_the_shelf(tmp_path: Path, job: Job) -> None:
    text = EXAMPLE.read_text(encoding="utf-8").replace("Demo panel van", "../../van")
    (tmp_path / "first/job.toml").write_text(text, encoding="utf-8")
    path = shelf.save(load(tmp_path / "first"), "opening", "front-door", **SAID, shelf=tmp_path / "shelf")
    assert path == tmp_path / "shelf/openings/van/front-door.toml"


def test_where_the_shelf_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """XDG Base Directory Specification 0.8 for $XDG_DATA_HOME and what stands in for it."""
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("HOME", str(tmp_path))
    for xdg, where in (("", ".local/share"), ("relative", ".local/share"), (str(tmp_path / "data"), "data")):
        monkeypatch.setenv("XDG_DATA_HOME", xdg)
        monkeypatch.delenv("BACKWAVE_SHELF", raising=False)
        assert shelf.folder() == tmp_path / where / "backwave/shelf"
        monkeypatch.setenv("BACKWAVE_SHELF", str(tmp_path / "own"))
        assert shelf.folder() == tmp_path / "own"
    assert shelf.listing() == shelf.Listing((), ())
