"""What `check` prints: one screen and a half of 80 columns, nothing broken in the middle, the same counts as on paper."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from cli.command_line import DEMO, SIX, run

from backwave.assess.next_steps import tally
from backwave.assess.result import above
from backwave.assess.work.work_plan import working
from backwave.cli.check import MAX_LINES, _judged
from backwave.cli.demo import _confirm_all
from backwave.dossier.context import PageContext
from backwave.dossier.pack import verdict_words
from backwave.drawing.plan_view import plan_svg
from backwave.job import load

EMPTY = 'format = 1\ntitle = "Empty"\n'
NUMBERS = re.compile(r"\d (?:mm|Ω|W|V|A|dB|Hz|uF)\b")


@pytest.fixture(scope="module", params=["demo", "confirmed", "six", "empty"])
def folder(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    base = tmp_path_factory.mktemp("check")
    if request.param == "six":
        run("new", base / "van", *SIX, code=0)
        return base / "van"
    text = EMPTY if request.param == "empty" else (DEMO / "job.toml").read_text(encoding="utf-8")
    (base / "job.toml").write_text(text, encoding="utf-8")
    if request.param == "confirmed":  # as the command `demo` leaves it
        _confirm_all(base)
    return base


def test_it_stands_on_sixty_lines_and_breaks_nothing(folder: Path) -> None:
    document = json.loads(run("check", folder, "--json").stdout)
    told = run("check", folder, columns=80).stdout
    lines = told.split("\n")[:-1]
    assert len(lines) <= MAX_LINES == 60
    ids = [f["id"] for f in document["findings"]]
    longest = max(map(len, ids)) + 3
    assert all(len(line) <= max(80, longest) for line in lines), max(lines, key=len)
    waits = {f["id"] for f in document["findings"] if f["waits_for"]}
    for finding in document["findings"]:
        if finding["verdict"] != "ok" and finding["id"] not in waits:
            assert any(finding["id"] in line for line in lines), finding["id"]
    every = run("check", folder, "--all", columns=80).stdout.split("\n")
    assert all(any(id_ in line for line in every) for id_ in ids)
    wide = run("check", folder, "--all", "--wide", columns=80).stdout
    whole = re.sub(r"\s+", " ", wide)
    assert re.sub(r"\s+", " ", "\n".join(every)) == whole, "folded and not, it says the same"
    for number in set(NUMBERS.findall(whole)):  # each number with its unit stands on one line as often as it is there
        assert sum(line.count(number) for line in every) == whole.count(number), number
    for name in re.findall(r"[\w.-]+\[\d\]\.[\w-]+", whole):
        assert any(name in line for line in every), name


def test_terminal_paper_and_drawing_count_the_same_findings(folder: Path) -> None:
    job = load(folder)
    result = _judged(job, folder)
    counts = tally(result.groups)
    document = json.loads(run("check", folder, "--json").stdout)
    assert counts in run("check", folder, columns=120).stdout
    assert len(document["findings"]) == len(result.findings)
    assert counts in verdict_words(PageContext(job, result, working(job, result)))
    svg = re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", plan_svg(above(job, result), "auto")))
    assert counts in svg
    good = sum(f.check.verdict == "ok" for f in result.findings)
    assert f"{good} check{'s' * (good != 1)} ok" in counts
    assert counts.startswith(f"{len(result.open_groups)} open" if result.open_groups else "nothing open")


def test_next_is_in_the_document_and_its_first_row_on_the_terminal(folder: Path) -> None:
    rows = json.loads(run("check", folder, "--json").stdout)["next"]
    told = re.sub(r"\s+", " ", run("check", folder, columns=80).stdout)
    for number, row in enumerate(rows[:5], 1):
        assert f" {number}. " in told
        assert row["do"] in told, row
        assert f"{row['minutes']:.0f} min" in told
        assert row["command"] in told
