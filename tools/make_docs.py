"""Writes what is generated in `docs/`: the job file's reference, the tables with their sources, the pictures.

`--check` writes nothing and fails where a page is not what it would be.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from dataclasses import fields
from functools import cache
from pathlib import Path

from backwave.assess import Assessment, assess, charts, with_comparisons
from backwave.drawing.chart import chart_svg
from backwave.drawing.face import face_svg
from backwave.drawing.harness import harness_svg
from backwave.drawing.section import section_svg
from backwave.drawing.wiring import faces_svg
from backwave.job import load, schema
from backwave.job.place import DEFAULTS
from backwave.stock import KINDS, shipped

ROOT = Path(__file__).resolve().parents[1]


def job_file() -> str:
    """The reference page of the job file."""
    head = (ROOT / "tools/job-file.head.md").read_text(encoding="utf-8")
    example = (ROOT / "docs/example-job.toml").read_text(encoding="utf-8").rstrip("\n")
    kinds = (f"| {kind} | {half:g} mm | {why}; common trade practice |" for kind, (half, why) in DEFAULTS.items())
    lines = [head.replace("<kinds>", "\n".join(kinds)).replace("<example>", example) + "## Every key"]
    for heading, meaning, rows in schema.reference():
        lines += ["", f"### {'The top of the file' if heading == 'top' else '`' + heading + '`'}", "", meaning, ""]
        lines += ["| key | what may stand there | default | meaning |", "| --- | --- | --- | --- |"]
        lines += [
            "| " + " | ".join((f"`{key}`", *(cell.replace("|", "\\|") for cell in cells))) + " |"
            for key, *cells in rows
        ]
    return "\n".join(lines) + "\n"


def sources() -> str:
    """The page of every table row with its source and how well it is known."""
    lines = [(ROOT / "tools/sources.head.md").read_text(encoding="utf-8").rstrip("\n")]
    for kind in KINDS:
        rows = shipped().rows(kind)
        if not rows:
            continue
        names = [f.name for f in fields(rows[0]) if f.name not in ("name", "source", "standing", "note")]
        lines += ["", f"## {kind.replace('_', ' ').capitalize()}", ""]
        lines.append("| " + " | ".join(("name", *names, "source", "standing")) + " |")
        lines.append("| --- " * (len(names) + 3) + "|")
        for row in rows:
            cells = (row.name, *(_cell(getattr(row, name)) for name in names), row.source, row.standing)
            lines.append("| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |")
    return "\n".join(lines) + "\n"


def _cell(value: object) -> str:
    if isinstance(value, tuple):
        return ", ".join(_cell(v) for v in value)
    return f"{value:g}" if isinstance(value, float) else "" if value is None else str(value)


@cache
def _demo() -> Assessment:
    job = load(ROOT / "src/backwave/cli/demo_job")
    return with_comparisons(job, assess(job))


def _picture(subject: str, kind: str) -> str:
    place = next(p for p in _demo().places if p.subject == subject)
    return section_svg(place) if kind == "section" else face_svg(place)


def _chart(name: str) -> str:
    made = _demo().prediction
    assert made is not None
    return chart_svg(charts(made)[name])


def _wires(name: str) -> str:
    made = _demo().harness
    assert made is not None
    if name == "plugs":
        return faces_svg(made.plugs, "Factory plugs that are kept")
    return harness_svg(made, _demo().title)


PAGES: dict[str, Callable[[], str]] = {
    "docs/job-file.md": job_file,
    "docs/sources.md": sources,
    "docs/pictures/section-front-door-left.svg": lambda: _picture("front-door.left", "section"),
    "docs/pictures/face-front-door-left.svg": lambda: _picture("front-door.left", "face"),
    "docs/pictures/face-cargo-wall.svg": lambda: _picture("cargo-wall", "face"),
    "docs/pictures/response-driver.svg": lambda: _chart("response-driver"),
    "docs/pictures/worth-ring-speakers.svg": lambda: _chart("worth-ring-speakers"),
    "docs/pictures/harness.svg": lambda: _wires("harness"),
    "docs/pictures/plugs.svg": lambda: _wires("plugs"),
}


_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def _same(kept: str, made: str) -> bool:
    """Alike but for last digits, which depend on the machine."""
    if _NUMBER.sub("#", kept) != _NUMBER.sub("#", made):
        return False
    pairs = zip(_NUMBER.findall(kept), _NUMBER.findall(made))
    return all(abs(float(a) - float(b)) <= 0.02 for a, b in pairs)


def main(check: bool) -> int:
    """Write the pages, or say which are stale.

    Parameters
    ----------
    check : bool, no unit
        Write nothing.
    """
    stale = []
    for name, page in PAGES.items():
        path, text = ROOT / name, page()
        if not path.exists() or not _same(path.read_text(encoding="utf-8"), text):
            stale.append(name)
            if not check:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(text, encoding="utf-8")
    print("\n".join(f"{'stale' if check else 'wrote'} {name}" for name in stale) or "all pages are as generated")
    return 1 if check and stale else 0


if __name__ == "__main__":
    sys.exit(main("--check" in sys.argv[1:]))
