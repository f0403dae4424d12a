"""A folder that is written anew: what is not ours, or was changed, is never overwritten and never deleted."""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from backwave.errors import InputError
from backwave.files.handover import CONTENTS, UNFINISHED, Owner, replace_folder


def names(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def test_a_list_of_another_tool_is_not_believed(tmp_path: Path) -> None:
    precious = tmp_path / "precious.txt"
    precious.write_text("precious\n", encoding="utf-8")
    listed = subprocess.run(["sha256sum", "precious.txt"], cwd=tmp_path, capture_output=True, check=True).stdout
    (tmp_path / CONTENTS).write_bytes(listed)
    done = replace_folder(tmp_path, {"a.txt": b"a"})
    assert precious.read_text(encoding="utf-8") == "precious\n"
    assert set(done.kept) == {CONTENTS}
    assert (tmp_path / done.kept[CONTENTS]).read_bytes() == listed
    checked = subprocess.run(
        ["sha256sum", "--check", "--strict", CONTENTS], cwd=tmp_path, capture_output=True, check=False
    )
    assert checked.returncode == 0, checked.stderr  # ours is read by the tool whose form it has


def test_only_what_was_written_and_not_changed_is_taken_away_or_overwritten(tmp_path: Path) -> None:
    files = {"a.txt": b"a", "sub/b.txt": b"b", "sub/c.txt": b"c", "d.txt": b"d"}
    first = replace_folder(tmp_path, files)
    assert (dict(first.kept), first.left) == ({}, ())
    (tmp_path / "sub/b.txt").write_bytes(b"b, and a remark")
    (tmp_path / "d.txt").write_bytes(b"d, and a remark")
    (tmp_path / "own.txt").write_bytes(b"own")
    done = replace_folder(tmp_path, {"a.txt": b"a2", "d.txt": b"d2", "own.txt": b"ours"})
    assert not (tmp_path / "sub/c.txt").exists()
    assert done.left == ("sub/b.txt",)
    assert (tmp_path / "sub/b.txt").read_bytes() == b"b, and a remark"
    assert set(done.kept) == {"d.txt", "own.txt"}
    assert (tmp_path / done.kept["d.txt"]).read_bytes() == b"d, and a remark"
    assert (tmp_path / done.kept["own.txt"]).read_bytes() == b"own"
    assert [(tmp_path / name).read_bytes() for name in ("a.txt", "d.txt", "own.txt")] == [b"a2", b"d2", b"ours"]


def test_a_list_that_names_what_is_elsewhere_deletes_nothing_there(tmp_path: Path) -> None:
    away, folder = tmp_path / "away.txt", tmp_path / "out"
    away.write_bytes(b"away")
    replace_folder(folder, {"a.txt": b"a"})
    with (folder / CONTENTS).open("a", encoding="utf-8") as file:
        for name in ("../away.txt", str(away), ".", ""):
            file.write(f"{hashlib.sha256(b'away').hexdigest()}  {name}\n")
    replace_folder(folder, {"b.txt": b"b"})
    assert away.read_bytes() == b"away"
    assert names(folder) == {"b.txt", CONTENTS}


def test_a_job_and_a_link_that_leads_out_are_refused(tmp_path: Path) -> None:
    (tmp_path / "job").mkdir()
    (tmp_path / "job/job.toml").write_bytes(b"format = 1")
    with pytest.raises(InputError, match="a job of its own"):
        replace_folder(tmp_path / "job", {"job.toml": b"x"})
    assert names(tmp_path / "job") == {"job.toml"}
    (tmp_path / "out").mkdir()
    (tmp_path / "out/photos").symlink_to(tmp_path / "job")
    with pytest.raises(InputError, match="leads out"):
        replace_folder(tmp_path / "out", {"photos/job.toml": b"x"})
    assert (tmp_path / "job/job.toml").read_bytes() == b"format = 1"


@pytest.mark.parametrize("when", range(1, 12))
def test_killed_half_way_it_does_not_look_whole_and_the_next_run_makes_it_so(tmp_path: Path, when: int) -> None:
    """Killed as it moves its nth file into place."""
    replace_folder(tmp_path, {f"{n}.txt": b"old" for n in range(8)})
    code = (
        "import os, pathlib, signal, sys; from backwave.files.handover import replace_folder\n"
        "calls, real = [], pathlib.Path.replace\n"
        "def replace(self, to):\n    calls.append(to)\n"
        f"    os.kill(os.getpid(), signal.SIGKILL) if len(calls) == {when} else real(self, to)\n"
        "pathlib.Path.replace = replace\n"
        "replace_folder(pathlib.Path(sys.argv[1]), {f'{n}.txt': b'new' for n in range(1, 9)})"
    )
    done = subprocess.run([sys.executable, "-c", code, tmp_path], check=False)
    if when == 11:  # the list, eight files, the list
        assert done.returncode == 0
    else:
        assert done.returncode == -signal.SIGKILL
        written = {(tmp_path / f"{n}.txt").read_bytes() for n in range(9) if (tmp_path / f"{n}.txt").exists()}
        whole = (tmp_path / CONTENTS).exists() and not (tmp_path / UNFINISHED).exists()
        assert not whole or written == {b"old"}
    again = replace_folder(tmp_path, {f"{n}.txt": b"newer" for n in range(2, 9)})
    assert (dict(again.kept), again.left) == ({}, ())
    assert names(tmp_path) == {CONTENTS, *(f"{n}.txt" for n in range(2, 9))}
    assert {(tmp_path / f"{n}.txt").read_bytes() for n in range(2, 9)} == {b"newer"}
    assert os.access(tmp_path / CONTENTS, os.R_OK)


def test_an_unfinished_list_of_another_tool_is_kept(tmp_path: Path) -> None:
    (tmp_path / UNFINISHED).write_bytes(b"a list of somebody's\n")
    done = replace_folder(tmp_path, {"a.txt": b"a"})
    assert set(done.kept) == {UNFINISHED}
    assert (tmp_path / done.kept[UNFINISHED]).read_bytes() == b"a list of somebody's\n"
    assert names(tmp_path) == {"a.txt", CONTENTS, done.kept[UNFINISHED]}


@pytest.mark.parametrize("unfinished", [False, True])
def test_a_folder_is_one_jobs_through_all_its_revisions(tmp_path: Path, unfinished: bool) -> None:
    replace_folder(tmp_path, {"a.txt": b"a"}, Owner("A van", "aa01"))
    replace_folder(tmp_path, {"a.txt": b"a2"}, Owner("A van, renamed", "aa02", frozenset({"aa01"})))
    if unfinished:
        (tmp_path / CONTENTS).rename(tmp_path / UNFINISHED)
    before = {name: (tmp_path / name).read_bytes() for name in names(tmp_path)}
    with pytest.raises(InputError, match=r"another job: found 'A van, renamed'.*'B van'"):
        replace_folder(tmp_path, {"a.txt": b"b"}, Owner("B van", "bb01"))
    assert {name: (tmp_path / name).read_bytes() for name in names(tmp_path)} == before
    replace_folder(tmp_path, {"a.txt": b"a3"}, Owner("A van, renamed", "aa02"))
    assert (tmp_path / "a.txt").read_bytes() == b"a3"
    if not unfinished:
        ours = subprocess.run(["sha256sum", "--check", "--strict", CONTENTS], cwd=tmp_path, check=False)
        assert ours.returncode == 0


def test_a_job_beside_a_list_of_another_tool_is_refused(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_bytes(b"format = 1")
    (tmp_path / CONTENTS).write_bytes(b"a list of somebody's\n")
    with pytest.raises(InputError, match="a job of its own"):
        replace_folder(tmp_path, {"job.toml": b"x"})
