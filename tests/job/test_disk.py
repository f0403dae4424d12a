"""Changing a job: comments stay, the old file is whole until the new one is, older editions are brought along."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.atomic_write import LOCK
from backwave.errors import InputError, JobError
from backwave.job import disk, load, loads, starter, toml_edit

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = (ROOT / "docs/example-job.toml").read_text(encoding="utf-8")


def comments(text: str) -> list[str]:
    return [line[line.index("#") :] for line in text.splitlines() if "#" in line]


KEYS = {
    "opening.front-door.hole.diameter": lambda job: job.file.opening[0].hole.diameter.text,
    "opening.front-door.behind[1].clear": lambda job: job.file.opening[0].behind[1].clear.text,
    "speaker.demo-165.terminals.depth": lambda job: job.file.speaker[0].terminals.depth.text,
    "adapter[0].thickness": lambda job: job.file.adapter[0].thickness.text,
    "adapter[0].recess": lambda job: job.file.adapter[0].recess.text,
    "margins.glass": lambda job: job.file.margins.glass.text,
    "margins.metal": lambda job: job.file.margins.metal.text,
    "instruments.caliper": lambda job: job.file.instruments["caliper"].text,
    "opening.front-door.right.skin": lambda job: job.file.opening[0].right.skin.text,
    "printer.layer": lambda job: job.file.printer.layer.text,
}


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(sorted(KEYS)), st.integers(50, 999)), min_size=1, max_size=6))
def test_edits_are_read_back_and_no_comment_is_lost(edits: list[tuple[str, int]]) -> None:
    text, wanted = EXAMPLE, {}
    for key, tenths in edits:
        wanted[key] = f"{tenths / (1000 if key == 'printer.layer' else 10):g} mm"
        text = toml_edit.with_key(text, key, wanted[key])
    job = loads(text)
    assert {key: KEYS[key](job) for key in wanted} == wanted
    assert comments(text) == comments(EXAMPLE)


def test_a_key_is_taken_out_and_the_rest_stays_to_the_letter() -> None:
    text = toml_edit.with_key(EXAMPLE, "opening.front-door.skin", None)
    assert [line for line in EXAMPLE.splitlines() if line not in text.splitlines()] == ['skin    = "0.8 mm"']
    with pytest.raises(InputError, match="no such key to take out"):
        toml_edit.with_key(text, "opening.front-door.skin", None)


def test_a_place_that_is_not_there_is_named() -> None:
    with pytest.raises(InputError, match=r"no such place in the job.*back-door.*front-door"):
        toml_edit.with_key(EXAMPLE, "opening.back-door.skin", "1 mm")


def test_an_edit_that_would_spoil_the_job_is_not_written(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(EXAMPLE, encoding="utf-8")
    with pytest.raises(JobError, match="a mass where a length is meant"):
        disk.update(tmp_path, [("opening.front-door.skin", "1 kg")])
    assert (tmp_path / "job.toml").read_text(encoding="utf-8") == EXAMPLE
    assert disk.update(tmp_path, [("opening.front-door.skin", "1 mm")]).file.opening[0].skin.text == "1 mm"  # type: ignore[union-attr]


def test_a_save_that_fails_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "job.toml").write_text(EXAMPLE, encoding="utf-8")

    def fail(*_: object) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(OSError, match="disk is full"):
        disk.save(tmp_path, "format = 1\n")
    assert [p.name for p in tmp_path.iterdir() if p.name != LOCK] == ["job.toml"]
    assert (tmp_path / "job.toml").read_text(encoding="utf-8") == EXAMPLE


def test_a_process_killed_during_a_save_leaves_a_whole_file(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(EXAMPLE, encoding="utf-8")
    code = (
        "import os, pathlib, signal, sys\nfrom backwave.job import disk\n"
        "os.fsync = lambda fd: os.kill(os.getpid(), signal.SIGKILL)\n"
        "disk.save(pathlib.Path(sys.argv[1]), 'format = 1\\n' + '#\\n' * 1000)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=False)
    assert done.returncode < 0
    assert (tmp_path / "job.toml").read_text(encoding="utf-8") == EXAMPLE


def test_an_older_edition_is_brought_along_with_its_comments(tmp_path: Path) -> None:
    old = EXAMPLE.replace("format = 1", "format = 0  # the first").replace("title  =", "name  =", 1)
    (tmp_path / "job.toml").write_text(old, encoding="utf-8")
    assert load(tmp_path).file.title == "Night-round delivery van"
    disk.update(tmp_path, ())
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert text.startswith("format = 1  # the first")
    assert set(comments(EXAMPLE)) <= set(comments(text))
    assert (tmp_path / "job.toml.format0").read_text(encoding="utf-8") == old


def test_an_edit_of_an_older_edition_keeps_the_old_file_and_writes_this_one(tmp_path: Path) -> None:
    old = EXAMPLE.replace("format = 1", "format = 0", 1).replace("title  =", "name  =", 1)
    (tmp_path / "job.toml").write_text(old, encoding="utf-8")
    disk.update(tmp_path, [("opening.front-door.skin", "1 mm")])
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert text == EXAMPLE.replace('skin    = "0.8 mm"', 'skin    = "1 mm"')
    assert (tmp_path / "job.toml.format0").read_text(encoding="utf-8") == old


def test_a_newer_edition_and_an_unreadable_file_are_not_touched(tmp_path: Path) -> None:
    for text in (EXAMPLE.replace("format = 1", "format = 2", 1), 'format = 1\ntitle = "x'):
        (tmp_path / "job.toml").write_text(text, encoding="utf-8")
        with pytest.raises(JobError):
            disk.update(tmp_path, [("title", "New")])
        assert [p.name for p in tmp_path.iterdir() if p.name != LOCK] == ["job.toml"]
        assert (tmp_path / "job.toml").read_text(encoding="utf-8") == text


def test_a_byte_order_mark_and_line_ends_of_another_system_are_read(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_bytes(b"\xef\xbb\xbf" + EXAMPLE.replace("\n", "\r\n").encode())
    assert disk.update(tmp_path, [("opening.front-door.skin", "1 mm")]).file.opening[0].skin.text == "1 mm"  # type: ignore[union-attr]
    assert b"\r\n" in (tmp_path / "job.toml").read_bytes()
    with pytest.raises(JobError) as caught:
        disk.update(tmp_path, [("opening.front-door.skin", "1 kg")])
    line = caught.value.problems[0].line
    assert line is not None
    assert EXAMPLE.splitlines()[line - 1].startswith("skin")


def test_a_new_job_never_writes_over_one(tmp_path: Path) -> None:
    path = starter.write(tmp_path / "van", hole="143.5 mm")
    with pytest.raises(InputError, match="there is a job already"):
        starter.write(tmp_path / "van")
    assert loads(path.read_text(encoding="utf-8")).file.title == "Van"


def test_six_readings_or_fewer_make_a_file_that_loads() -> None:
    given_ = {
        "hole": "143.5 mm",
        "behind": "58 ± 2 mm",
        "trim": "1.5 in",
        "cutout": "141 mm",
        "magnet": "92 mm",
        "depth": "64 mm",
    }
    for count in range(len(given_) + 1):
        job = loads(starter.starter('A "quoted" title', **dict(list(given_.items())[:count])))
        assert job.file.title == 'A "quoted" title'
        assert len(job.file.adapter) == (count == 6)
    with pytest.raises(JobError) as caught:
        starter.starter("x", hole="143 kg", depth="0 mm")
    assert [p.key for p in caught.value.problems] == ["--hole", "--depth"]


@pytest.mark.parametrize(
    ("readings", "keys"),
    [
        ({"hole": "9 m"}, ["--hole"]),
        ({"hole": "0.2 mm", "behind": "5000 mm"}, ["--hole", "--behind"]),
        (
            {"hole": "143 mm", "behind": "58 mm", "trim": "37 mm", "cutout": "2000 mm", "magnet": "90 mm", "depth": "4000 mm"},
            ["--cutout", "--depth"],
        ),
        ({"title": "x" * 121}, ["--title"]),
    ],
)  # fmt: skip
def test_a_new_job_that_no_other_command_would_read_is_not_written(
    readings: dict[str, str], keys: list[str], tmp_path: Path
) -> None:
    with pytest.raises(JobError) as caught:
        starter.write(tmp_path / "van", **readings)
    assert [p.key for p in caught.value.problems] == keys
    assert all(p.file == "command line" and p.found and p.accepted for p in caught.value.problems)
    assert not (tmp_path / "van").exists()


def test_a_new_job_does_not_write_through_a_link_that_leads_nowhere(tmp_path: Path) -> None:
    (tmp_path / "van").mkdir()
    (tmp_path / "van/job.toml").symlink_to(tmp_path / "elsewhere.toml")
    (tmp_path / "bus").symlink_to(tmp_path / "elsewhere")
    for name, words in (("van", "a link that leads nowhere"), ("bus", "not a folder")):
        with pytest.raises(InputError, match=words):
            starter.write(tmp_path / name)
    assert not list(tmp_path.glob("elsewhere*"))
    assert loads(starter.write(tmp_path / ("n" * 200)).read_text(encoding="utf-8")).file.title == "N" + "n" * 119


def test_every_example_in_a_new_file_is_right_once_its_mark_is_taken_away() -> None:
    for given_ in ({}, {"hole": "143.5 mm", "behind": "58 mm", "trim": "37 mm"}):
        text = starter.starter("x", **given_).replace('"... mm"', '"40 mm"')
        for old, filled in (
            ('cutout    = "40', 'cutout    = "141'),
            ('magnet    = "40', 'magnet    = "92'),
            ('depth     = "40', 'depth     = "64'),
        ):
            text = text.replace(old, filled)
        bare = re.sub(r"(?m)^# (?=\w+ *= |\[+[a-z]|\]|  \{)", "", text)
        job = loads(bare)
        opening, speaker = job.file.opening[0], job.file.speaker[0]
        assert opening.fixings is not None
        assert opening.right is not None
        assert speaker.profile is not None
        assert speaker.motor is not None
        assert len(job.file.adapter) == 1
