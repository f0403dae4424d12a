"""Why: the working behind one number: the formula, what went in, where each came from."""

from __future__ import annotations

from nicegui import ui

from backwave.bench import links
from backwave.bench.page_frame import Tab, link, text, verdict
from backwave.finding import Finding, in_a_word, percent, words
from backwave.notation.measures import in_words
from backwave.units import show


def why(here: Tab, id_: str) -> None:
    """The page of one finding."""
    body = ui.element("article").classes("why")
    shown: list[object] = [None]

    def tell() -> None:
        result = here.board.result
        if result is None or shown[0] is result:
            return
        shown[0] = result
        found = next((f for f in (*result.findings, *result.cautions) if f.id == id_), None)
        body.clear()
        with body:
            if found is None:
                text("h1", "That number is no longer there")
                link("All findings", "/", "go")
            else:
                _working(here, found)

    here.live(tell)


def _working(here: Tab, found: Finding) -> None:
    result, check = here.board.result, found.check
    assert result is not None
    system = result.show
    text("p", f"{verdict(check.verdict)} · {result.names.get(found.subject, found.subject)}", f"mark {check.verdict}")
    text("h1", words(check.title, system) or "")
    if check.remedy is not None:
        text("p", f"→ {words(check.remedy, system)}")
    figures = [(n, v) for n, v in (("value", check.value), ("2.5 % point", check.low), ("97.5 % point", check.high),
                                   ("limit", check.limit)) if v is not None]  # fmt: skip
    with ui.element("dl").classes("facts"):
        for name, value in figures:
            text("dt", name)
            text("dd", show(value, check.unit, system), "figure")
        if check.chance is not None:
            text("dt", "chance that the limit is kept")
            text("dd", f"{in_a_word(check.chance)}, {percent(check.chance)}", "figure")
    if check.working:
        region = ui.element("div").classes("scroll").props('tabindex="0" role="region" aria-label="The working"')
        with region, ui.element("table"):
            with ui.element("thead"), ui.element("tr"):
                for head in ("", "what it is", "value", "from"):
                    text("th", head).props('scope="col"')
            with ui.element("tbody"):
                for step in check.working:
                    with ui.element("tr"):
                        text("td", step.symbol, "figure")
                        text("td", step.meaning)
                        said = "" if step.value is None else show(step.value, step.unit, system)
                        text("td", said, "figure right")
                        text("td", in_words(step.source, system), "note")
    if check.sources:
        text("h2", "Sources")
        with ui.element("ul"):
            for source in check.sources:
                text("li", in_words(source, system))
    with ui.element("div").classes("row"):
        link("Go to what answers it", links.of_finding(here.board, found), "go")
        link("All findings", "/", "go")
    text("p", found.id, "note")
