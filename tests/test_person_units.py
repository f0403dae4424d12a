"""A reader in inches meets no millimeter, on terminal and paper, and a reader in millimeters no inch."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from measures_shown import strange, typed_in

from backwave.assess import assess, with_comparisons
from backwave.assess.work.work_plan import working
from backwave.cli import main
from backwave.dossier.context import PageContext
from backwave.dossier.pack import dossier_pdf
from backwave.dossier.pages import customer_pdf
from backwave.drawing.template import template_svg
from backwave.files.flat_files import template_view
from backwave.job import load, loads
from backwave.part.flat_patterns import flat_ring

DEMO = Path(__file__).resolve().parents[1] / "src/backwave/cli/demo_job/job.toml"
TEXT = DEMO.read_text(encoding="utf-8")
COMMANDS = (["check", "--all"], ["predict"], ["wire", "--lists"], ["plan"], ["why", "fit.glass@front-door.left"])


def job_of(folder: Path, system: str) -> Path:
    folder.mkdir(exist_ok=True)
    assert 'show   = "metric"' in TEXT
    (folder / "job.toml").write_text(TEXT.replace('show   = "metric"', f'show   = "{system}"'), encoding="utf-8")
    return folder


def test_the_watch_sees_both() -> None:
    assert strange("12.6 mm ASA adapter, 0.5 in", "us") == ["12.6 mm ASA adapter, 0.5 in"]
    assert strange("12.6 mm ASA adapter, 0.5 in", "metric") == ["12.6 mm ASA adapter, 0.5 in"]
    assert strange("60 °C, 4.2 m of it, 1 to 2 mm", "us")
    assert strange("60 °F", "metric")
    assert not strange("Demo 165 mm woofer, M4 × 8.0 mm", "us", ["Demo 165 mm woofer"])


@pytest.mark.parametrize("system", ["us", "metric"])
def test_the_terminal(
    system: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "400")
    folder = job_of(tmp_path / "job", system)
    found = {}
    for command, *options in COMMANDS:
        with pytest.raises(SystemExit) as ended:
            main([command, str(folder), *options])
        assert ended.value.code in (0, 1)
        text = capsys.readouterr().out
        assert len(text) > 400, command
        found[command] = strange(text, system, typed_in(TEXT))
    assert not any(found.values()), found


@pytest.mark.parametrize("system", ["us", "metric"])
def test_the_paper(system: str, tmp_path: Path) -> None:
    job = load(job_of(tmp_path / "job", system))
    result = with_comparisons(job, assess(job, draws=2_000))
    told = PageContext(job, result, working(job, result), "1", "2026-03-14", "A4")
    found = {}
    for pdf in (dossier_pdf(told), customer_pdf(told)):
        for n, page in enumerate(pypdfium2.PdfDocument(pdf)):
            text = page.get_textpage().get_text_range().replace("\r\n", " ")
            found[len(pdf), n + 1] = strange(text, system, typed_in(TEXT))
    assert not any(found.values()), {where: hits for where, hits in found.items() if hits}


@pytest.mark.parametrize(("system", "length"), [("us", "3.937 in"), ("metric", "100 mm")])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_template_says_how_long_its_bar_is(system: str, length: str, paper: str) -> None:
    job = loads(TEXT)
    for part in assess(job, draws=2_000).parts:
        view = template_view(flat_ring(part.check_ring), job.file.title, part.label, part.side, "0" * 12, system)
        for sheet in template_svg(view, paper, system=system):
            assert length in sheet


def test_what_is_ticked_stays_ticked_in_other_units() -> None:
    ids = []
    for system in ("metric", "us"):
        job = loads(TEXT.replace('show   = "metric"', f'show   = "{system}"'))
        items = working(job, with_comparisons(job, assess(job, draws=2_000))).items
        ids.append({item.id for item in items if item.group not in ("Supply", "Harness")})  # cable is another there
    assert ids[0] == ids[1]
