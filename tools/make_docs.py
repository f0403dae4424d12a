"""Writes the generated pages of `docs/`: the job file's reference, and the tables with their sources.

`--check` writes nothing and fails where a page is not what it would be.
"""

from __future__ import annotations

import sys
from pathlib import Path

from backwave.job import schema
from backwave.job.readings import DEFAULTS

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


PAGES = {"docs/job-file.md": job_file}


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
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            stale.append(name)
            if not check:
                path.write_text(text, encoding="utf-8")
    print("\n".join(f"{'stale' if check else 'wrote'} {name}" for name in stale) or "all pages are as generated")
    return 1 if check and stale else 0


if __name__ == "__main__":
    sys.exit(main("--check" in sys.argv[1:]))
