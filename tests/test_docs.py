"""What the pages say is so: generated pages are fresh, and the commands they show run."""

from __future__ import annotations

import contextlib
import json
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.command_line import run

ROOT = Path(__file__).resolve().parents[1]


def commands(page: str) -> list[list[str]]:
    text = (ROOT / page).read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", text, re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines() if line.startswith("backwave ")]
    return [shlex.split(line, comments=True)[1:] for line in lines]


def test_generated_pages_and_pictures_are_fresh() -> None:
    done = subprocess.run(
        [sys.executable, ROOT / "tools/make_docs.py", "--check"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_example_copied_into_an_empty_folder_gets_a_verdict_and_is_asked_for_what_it_lacks(tmp_path: Path) -> None:
    shutil.copy(ROOT / "docs/example-job.toml", tmp_path / "job.toml")
    done = run("check", tmp_path, "--json")
    assert done.returncode in (0, 1), done.stderr
    told = json.loads(done.stdout)
    assert told["verdict"] == "caution"
    asked = {finding["id"]: finding["remedy"] for finding in told["findings"] if finding["verdict"] != "ok"}
    assert asked["measure.reading@before-driver"]  # the recording itself is not in the docs
    assert asked["wire.length@harness"]


@pytest.mark.slow
@pytest.mark.kernel
@pytest.mark.parametrize("page", ["README.md", "docs/first-job.md"])
def test_the_commands_of_a_page_run_one_after_another(page: str, tmp_path: Path) -> None:
    """And its Python, where it has some, on the job that the first of them starts."""
    found = commands(page)
    assert [c[0] for c in found][:1] == ["new"]
    shutil.copytree(ROOT / "src/backwave/cli/demo_job", tmp_path / "demo")  # as `make demo` leaves it
    blocks = re.findall(r"```python\n(.*?)```", (ROOT / page).read_text(encoding="utf-8"), re.DOTALL)
    assert len(blocks) == (page == "README.md")
    for n, command in enumerate(found):
        done = run(*command, cwd=tmp_path)
        # 1 is a stop, which the page's own numbers may earn; anything else is the page's fault.
        assert done.returncode in (0, 1), f"{command}: {done.stderr}"
        if n == 0 and blocks:
            with contextlib.chdir(tmp_path):
                exec(blocks[0], told := {"__name__": "shown"})  # noqa: S102 - what the page shows
            result, made = told["result"], told["made"]
            assert result.verdict in ("ok", "caution", "stop")
            assert result.places[0].fit.clearances
            assert told["stages"] is None
            assert len(made.entries) == len(result.parts) > 0
            assert list(tmp_path.glob("my-van/made/*/*.step"))


@pytest.mark.parametrize(
    "page", ["README.md", *(p.relative_to(ROOT).as_posix() for p in sorted((ROOT / "docs").glob("*.md")))]
)
def test_links_lead_somewhere(page: str) -> None:
    text = (ROOT / page).read_text(encoding="utf-8")
    targets = [t.partition("#")[0] for t in re.findall(r"\]\(([^)]+)\)", text)]
    missing = [t for t in targets if t and "://" not in t and not ((ROOT / page).parent / t).exists()]
    assert not missing


def table_of_files() -> list[tuple[str, tuple[str, ...]]]:
    """Files of the design notes' table, each with the names that stand behind it."""
    text = (ROOT / "docs/design-notes.md").read_text(encoding="utf-8")
    rows = text.partition("| to change | open |")[2].partition("\n\n")[0]
    words = re.findall(r"`([^`]+)`", rows)
    found: list[tuple[str, tuple[str, ...]]] = []
    for word in words:
        if "." in word or "/" in word:
            found.append((word, ()))
        else:
            found[-1] = (found[-1][0], (*found[-1][1], word))
    return found


def test_the_table_of_what_to_open_names_what_is_there() -> None:
    found = table_of_files()
    assert len(found) > 40
    for name, words in found:
        path = ROOT / "src/backwave" / name
        assert path.is_file(), f"docs/design-notes.md: there is no {name}"
        text = path.read_text(encoding="utf-8")
        gone = [w for w in words if not re.search(rf"^(class|def|async def) {w}\b|^{w}\b.* =", text, re.MULTILINE)]
        assert not gone, f"docs/design-notes.md: {gone} not in {name}"
