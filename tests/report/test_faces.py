"""One report, three faces: the same cells on terminal, page and paper, each read back from what is shown."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pypdfium2
import pytest

from backwave.assess import Assessment, assess, with_comparisons
from backwave.assess.work.work_plan import Working, working
from backwave.bench.widgets import table_html
from backwave.bench.work_sync import work_view
from backwave.cli import output
from backwave.dossier.context import TEMPLATE, PageContext
from backwave.dossier.drawings import harness, predicted, supply
from backwave.files.pdf import typeset
from backwave.job import Job, load
from backwave.report import sound, wires, work
from backwave.report.blocks import Audience, Block, Cell, cell, table
from tests.cli.command_line import run

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job"
Rows = list[list[list[str]]]  # of a table: of each row, of each cell its lines


@pytest.fixture(scope="module")
def made() -> tuple[Job, Assessment, Working]:
    job = load(DEMO)
    result = with_comparisons(job, assess(job, draws=2_000))
    return job, result, working(job, result)


@pytest.fixture(scope="module")
def told(made: tuple[Job, Assessment, Working]) -> Audience:
    return Audience(made[1].show, made[1].names)


@pytest.fixture(scope="module")
def lists(made: tuple[Job, Assessment, Working], told: Audience) -> dict[str, list[Block]]:
    """What is compared."""
    job, result, plan = made
    assert result.wires is not None
    assert result.harness is not None
    assert result.prediction is not None
    return {
        "supply": wires.supply(told, job, result.wires), "gains": wires.gains(told, result.wires, job.gates),
        "wires": [*wires.schedule(told, result.harness), *wires.runs(told, result.harness), *wires.cuts(told, result.harness)],
        "shopping": work.shopping(told, plan), "tasks": work.checklist(plan), "sound": sound.predicted(told, result.prediction),
    }  # fmt: skip


def tables(blocks: list[Block]) -> list[Block]:
    found = []
    for one in blocks:
        found += [one] if one["kind"] == "table" else tables(one["blocks"]) if one["kind"] == "together" else []
    return found


def lines(said: Cell, *, ids: bool = False) -> list[str]:
    """By this test's own reading of a cell: its lines, without marks and boxes."""
    if isinstance(said, str):
        return [said] if said else []
    every = [said.get("text", ""), *said.get("rows", ()), *said.get("lines", ()), said.get("ref", "") if ids else ""]
    return [line for line in every if line]


def expected(one: Block, *, ids: bool = False) -> Rows:
    return [[lines(said, ids=ids) for said in row] for row in one["rows"]]


def on_terminal(one: Block, capsys: pytest.CaptureFixture[str]) -> Rows:
    """A printed table cut at its columns again, its cells without the boxes."""
    output.blocks([one])
    head, *body = capsys.readouterr().out.split("\n")
    wide = [
        max(
            len(name),
            *(len(s) for row in one["rows"] if len(row) > 1 for s in [*lines(row[n], ids=True), "☐" * (n == 0)]),
        )
        for n, name in enumerate(one["head"])
    ]
    starts = [sum(wide[:n]) + 2 * n for n in range(len(wide))]
    assert [head[s : s + w].strip() for s, w in zip(starts, wide, strict=True)] == one["head"]
    found: Rows = []
    left = iter(body)
    for row in one["rows"]:
        tall = 1 if len(row) == 1 else max(1, *(len(lines(said, ids=True)) for said in row))
        cut = [next(left) for _ in range(tall)]
        if len(row) == 1:
            found.append([[cut[0].strip()]])
            continue
        cells = [[text[s : s + w].strip() for text in cut] for s, w in zip(starts, wide, strict=True)]
        found.append([[line for line in said if line and line not in "☐☑"] for said in cells])
    assert not "".join(left).strip()
    return found


class Page(HTMLParser):
    """Cells of a table as a browser has them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.rows: Rows = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag == "tr":
            self.rows.append([])
        elif tag in ("th", "td"):
            self.rows[-1].append([""])
        elif tag == "br":
            self.rows[-1][-1].append("")

    def handle_data(self, data: str) -> None:
        self.rows[-1][-1][-1] += data

    @property
    def body(self) -> Rows:
        return [[[line for line in said if line and line not in "☐☑"] for said in row] for row in self.rows[1:]]


def squeezed(text: str) -> str:
    return re.sub(r"[\s￾\u00ad\u200b-]+", "", text)


@pytest.mark.parametrize("name", ["supply", "gains", "wires", "shopping", "tasks", "sound"])
def test_the_same_cells_on_terminal_page_and_paper(
    name: str, lists: dict[str, list[Block]], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "2000")
    monkeypatch.setenv("NO_COLOR", "1")
    data = {
        "title": "T",
        "kind": "K",
        "paper": "A4",
        "private": False,
        "chapters": [{"title": "", "blocks": lists[name]}],
    }
    pages = pypdfium2.PdfDocument(typeset(TEMPLATE, data))
    paper = squeezed(" ".join(pages[n].get_textpage().get_text_range() for n in range(len(pages))))
    found = tables(lists[name])
    assert sum(len(one["rows"]) for one in found) >= 3
    for one in found:
        assert on_terminal(one, capsys) == expected(one, ids=True)
        page = Page(table_html(one))
        assert page.body == expected(one)
        assert [said[0] for said in page.rows[0]] == one["head"]
        for row in expected(one):
            assert squeezed("".join(line for said in row for line in said)) in paper, row


def test_what_is_lost_or_changed_is_seen(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    one = table("wire *1 | size >", [["a", cell("1 mm²", "there already", ref="id-1")], ["A group"], ["<b> & [c]", ""]])
    assert on_terminal(one, capsys) == [[["a"], ["1 mm²", "there already", "id-1"]], [["A group"]], [["<b> & [c]"], []]]
    assert Page(table_html(one)).body == expected(one)
    other = table("wire *1 | size >", [["a", "2 mm²"]])
    assert Page(table_html(other)).body != expected(one)[:1]


def test_the_faces_show_these_tables(
    made: tuple[Job, Assessment, Working], lists: dict[str, list[Block]], capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
) -> None:  # fmt: skip
    """Commands print them, chapters of the dossier hold them, and what the page of the work is sent is of the same cells."""
    job, result, plan = made
    monkeypatch.setenv("COLUMNS", "300")
    monkeypatch.setenv("NO_COLOR", "1")
    (tmp_path / "job.toml").write_text((DEMO / "job.toml").read_text(encoding="utf-8"), encoding="utf-8")
    for command, names in {
        ("wire",): ("supply", "gains"),
        ("wire", "--lists"): ("wires",),
        ("plan",): ("shopping", "tasks"),
    }.items():
        printed = run(command[0], tmp_path, *command[1:], columns=300).stdout
        for one in (one for name in names for one in tables(lists[name])):
            output.blocks([one])
            assert capsys.readouterr().out in printed or one["head"][0] == "run to", (command, one["head"])
    page = PageContext(job, result, plan)
    for chapter, name in ((supply(page), "supply"), (harness(page), "wires"), (predicted(page), "sound")):
        assert chapter is not None
        assert all(one in chapter.blocks for one in lists[name])
    sent = work_view(plan, job, result, "", ())
    cells = [row for one in tables(lists["shopping"]) for row in expected(one) if len(row) > 1]
    assert [[one["what"], one["why"], one["size"], one["amount"], one["source"]] for one in sent["items"]] == [
        [row[1][0], "".join(row[1][1:]), *("".join(said) for said in row[2:5])] for row in cells
    ]
    titles = [row[1][0] for one in tables(lists["tasks"]) for row in expected(one)]
    assert [one["title"] for one in sent["tasks"]] == titles
