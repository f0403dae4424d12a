"""Sound: charts by stage that are read off, what is tried leaves the job alone until it is kept."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bench.conftest import demo
from bench.waiting import until

from backwave.assess import assess, compared, engine_of
from backwave.bench.pages.sound import KINDS, Look, keep, look, tries
from backwave.job import load
from backwave.job.model import JobFile
from backwave.job.starter import starter

FLIP = "flip dash/demo-25"


@pytest.fixture(scope="module")
def predicted(tmp_path_factory: pytest.TempPathFactory) -> Any:
    folder: Path = demo(tmp_path_factory.mktemp("sound") / "job")
    job = load(folder)
    made = assess(job, draws=2_000).prediction
    assert made is not None
    engine = engine_of(job)
    return (engine, compared(engine, made)), tomllib.loads((folder / "job.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("kind", KINDS)
def test_every_chart_of_every_stage(predicted: Any, kind: str) -> None:
    made, _ = predicted
    whole = look(*made, Look(kind))
    lines = sum(len(chart.series) for chart, _ in whole.charts)
    assert lines >= len(made[1].stages)
    for one in made[1].stages:
        seen = look(*made, Look(kind, one.id))
        assert len(seen.charts) == 1
        assert seen.against is None


def test_what_is_tried_is_beside_what_the_job_has(predicted: Any) -> None:
    made, _ = predicted
    seen = look(*made, Look("response", "speakers", 0, frozenset({"ring"})))
    before, tried_line = seen.charts[0][0].series
    assert before.name == "as the job has it"
    assert tried_line.name == "tried"
    played = next(one for one in made[1].stages if one.id == "speakers")
    np.testing.assert_allclose(np.asarray(before.high, float), played.levels.high[0])
    # without the ring some of the mid-bass is lost: the comparison of the job says by how much, the other way round
    worth = next(c for c in made[1].worth if c.id == "ring@speakers")
    assert seen.against is not None
    for (name, tried), (same, ring) in zip(seen.against.bands, worth.bands, strict=True):
        assert name == same
        assert tried.delta == pytest.approx(-ring.delta, abs=1e-9)


def test_what_can_be_tried_depends_on_the_stage(predicted: Any) -> None:
    made, _ = predicted
    assert "high-pass" in tries(made[1], Look(stage="amplified"))
    assert "high-pass" not in tries(made[1], Look(stage="speakers"))
    assert "ring" not in tries(made[1], Look(stage="factory")), "the factory's driver has no ring of ours"
    gone = Look(stage="speakers", tried=frozenset({"high-pass", "ring"})).within(made[1])
    assert gone.tried == {"ring"}
    assert Look(stage="no such", tried=frozenset({"ring"})).within(made[1]) == Look()


def test_keeping_writes_the_keys_there_are_and_says_what_has_none(predicted: Any) -> None:
    _, data = predicted
    tried = frozenset({FLIP, "high-pass", "holes", "ring"})
    changes, left = keep(Look(stage="amplified", tried=tried), JobFile.model_validate(data))
    written = dict(changes)
    for n, row in enumerate(data["stage"][2]["path"]):
        where = ("stage", 2, "path", n)
        assert written[(*where, "filters")] == ["peak 160 Hz -3 dB Q 2"]
        # -1 in the job, turned round: 1, which is what a key left out means
        assert ((*where, "polarity") in written) == (row["opening"] == "dash")
        assert written.get((*where, "polarity")) is None
    assert written[("adapter", 0, "foam", "ring")] == "none"
    assert ("adapter", 1, "foam", "ring") not in written, "the cargo wall is not of this stage"
    assert set(left) == {"holes"}


def test_by_hand(lent: Any, tab: Callable[..., Any]) -> None:
    from axe_playwright_python.sync_playwright import Axe

    running = lent
    before = running.text
    page = tab(running.url + "/sound")
    page.wait_for_selector(".plot .cursor", state="attached")
    assert page.locator("svg[aria-label*='stage by stage']").count() == 1

    # read off by keyboard: one step to the right is a higher frequency
    slider = page.locator("#plot-0")
    slider.focus()
    read = page.locator(".plot output")
    first = float(read.inner_text().split()[0])
    page.keyboard.press("ArrowRight")
    page.wait_for_function(f"parseFloat(document.querySelector('.plot output').textContent) > {first}")
    # and by the pointer: at the right end of the chart, 20 kHz
    box = page.locator(".plot path.bw-plate").bounding_box()
    page.mouse.move(box["x"] + box["width"] - 2, box["y"] + 20)
    page.wait_for_function("/(19.\\d|20.0)k Hz/.test(document.querySelector('.plot output').textContent)")
    said = slider.get_attribute("aria-valuetext")
    assert "As it was: " in said
    assert " … " in said, "above what the models tell there is a band and no line"

    page.get_by_role("button", name="New speakers on head-unit power", exact=True).click()
    ring = page.get_by_role("button", name="Without the foam ring")
    ring.click()
    page.wait_for_selector("text=Against the job as it is")
    assert ring.get_attribute("aria-pressed") == "true"
    page.get_by_role("button", name="dash: Demo 25 mm tweeter turned round").click()
    page.get_by_role("button", name="Service holes covered").click()
    page.get_by_role("button", name="Excursion", exact=True).click()
    page.wait_for_selector("svg[aria-label*='as tried']")
    page.wait_for_timeout(700)
    assert running.text == before, "nothing on disk before it is kept"
    bad = [v["id"] for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")]
    assert not bad, bad

    page.get_by_role("button", name="Keep it in the job").click()
    until(lambda: 'ring = "none"' in running.text)
    page.wait_for_selector("text=no key stands for it")
    stage = tomllib.loads(running.text)["stage"][1]["path"]
    assert stage[1].get("polarity", 1) == 1
    assert page.get_by_role("button", name="Service holes covered").get_attribute("aria-pressed") == "true"
    page.get_by_role("button", name="Put all back").click()
    page.get_by_role("button", name=re.compile("Undo")).click()
    until(lambda: running.text == before)


def test_a_job_without_stages_says_so(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    page = tab(running.url + "/sound")
    text = running.text
    (running.folder / "job.toml").write_text(text[: text.index("[[stage]]")], encoding="utf-8")
    page.wait_for_selector("text=Nothing predicted yet")
    assert not page.locator(".plot").first.is_visible()


@pytest.mark.parametrize("width", [1440, 390])
def test_it_opens_with_what_is_missing_and_the_way_to_enter_it(lent: Any, tab: Callable[..., Any], width: int) -> None:
    six = {
        "hole": "143.5 mm",
        "behind": "62 mm",
        "trim": "40 mm",
        "cutout": "141 mm",
        "magnet": "92 mm",
        "depth": "60 mm",
    }
    (lent.folder / "job.toml").write_text(starter("Six", **six), encoding="utf-8")
    page = tab(lent.url + "/sound", width)
    page.wait_for_selector("text=Nothing predicted yet. It needs:")
    assert page.locator(".plot").count() == 0
    ways = {a.inner_text(): a.get_attribute("href") for a in page.locator("main li a").all()}
    assert [told.partition(":")[0] for told in ways] == [
        "What plays", "Where somebody listens", "A stage", "The cabin", "Woofer", "Front door",
    ]  # fmt: skip
    page.get_by_role("link", name=re.compile("Woofer: its motor")).click()
    page.wait_for_url("**/survey/speaker/0*")
    page.wait_for_selector("main")
    for there in ways.values():
        assert there.startswith("/survey/")
