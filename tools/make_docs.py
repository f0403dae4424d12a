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
    example = (ROOT / "docs/example-job.toml").read_text(encoding="utf-8")
    lines = [
        "# The job file",
        "",
        "*Generated from the model by `make docs`; edit `src/backwave/job/` instead.*",
        "",
        "A job is a folder:",
        "",
        "```",
        "my-van/",
        "  job.toml        what was measured and chosen: the only file you write",
        "  photos/         pictures of parts, and traced outlines beside them",
        "  readings/       recordings and responses taken at the seat",
        "  made/           all that backwave writes; safe to delete",
        "```",
        "",
        "## Quantities, and how sure",
        "",
        'A quantity is text with a unit: `"71 mm"`, `"2.8 in"`, `"6 1/2 in"`, `"1.15 kg"`, `"45 deg"`. A',
        "bare number is accepted only",
        "where there is no unit. How sure belongs to the number:",
        "",
        "| written | means |",
        "| --- | --- |",
        '| `"71 ± 1 mm"`, `"71 +- 1 mm"` | out by up to 1 mm either way (rectangular), independent of '
        "every other reading |",
        '| `"71 mm u 0.4 mm"` | a standard uncertainty of 0.4 mm (normal) |',
        '| `"71 mm"` with `by = "gauge"` beside it | the instrument\'s half-width; readings of one '
        "opening that name it share its error |",
        '| `"71 mm"` alone | the default for its kind, below, or `[instruments] default`; shared by '
        "readings of one opening |",
        '| `["70.8 mm", "71.4 mm", "71.1 mm"]` | their mean; scatter widened to Student\'s 95 %, and '
        "the instrument once; counts as read twice |",
        "",
        "| kind of reading that names no instrument | out by, either way | ground |",
        "| --- | --- | --- |",
        *(f"| {kind} | {half:g} mm | {why}; common trade practice |" for kind, (half, why) in DEFAULTS.items()),
        "",
        "## Axes and sides",
        "",
        "An opening's origin is on the driver's axis where it crosses the metal; x to the right and y up as",
        "seen from the cabin, z out of",
        "the metal toward the listener. Angles run from +x toward +y; a driver's own angles as seen from its",
        "front. The cabin's axes: x",
        "back from the front end of the air space, y to the right from its left side, z up from the floor.",
        "",
        "A pair is measured on the first of its `sides`; the second is its mirror image, with what stands",
        "under `[opening.right]` (or",
        "`left`) as measured there. The opening is mirrored, the driver never, and lettering is cut after",
        "mirroring.",
        "",
        "## Definitions that settle millimeters",
        "",
        "- **Seat height**: metal to the mounting side of the driver's rim = back gasket as closed +",
        "`thickness` - `recess` + the driver's",
        "  own gasket as closed. A back gasket in a groove lets the plate bottom on the metal: closed 0.",
        "- **Glass clearance**: least over the radius of seat height + clear - driver depth. `behind` is",
        "piecewise linear in radius and",
        "  constant beyond its ends; beyond the last point of `profile` the back is flat to the axis.",
        "- **Grille clearance**: trim clear - (seat height + front + Xmech); the crest of the surround moves",
        "by half, fixed parts not at all.",
        "- **Hole clearance**: hole edge - largest radius of anything of the driver at or behind the metal.",
        "- **Verdicts**: `ok` where the 2.5 % point keeps the margin, `caution` where it is above 0, `stop`",
        "below. The tightest clearance is",
        "  `ok` only on two independent readings or a stand-in test.",
        "",
        "## Example",
        "",
        "```toml",
        example.rstrip("\n"),
        "```",
        "",
        "## Every key",
    ]
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
