"""`backwave new`: a job folder with a commented file, from six readings."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from backwave.cli import output


def run(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The folder to make.")],
    title: Annotated[str, typer.Option(help="What the job is called.")] = "",
    hole: Annotated[str, typer.Option(help='Diameter of the hole in the metal, such as "143.5 mm".')] = "",
    behind: Annotated[str, typer.Option(help="Free depth behind the metal, to the glass with the window down.")] = "",
    trim: Annotated[str, typer.Option(help="Metal to the back of the grille.")] = "",
    cutout: Annotated[str, typer.Option(help="The driver: diameter of the cutout it asks for.")] = "",
    magnet: Annotated[str, typer.Option(help="The driver: diameter of its magnet.")] = "",
    depth: Annotated[str, typer.Option(help="The driver: mounting depth, rim to the back of the magnet.")] = "",
) -> None:
    """Start a job: six readings give a first verdict; everything else has a stated default."""
    from backwave.job import starter

    path = starter.write(
        folder, title=title, hole=hole, behind=behind, trim=trim, cutout=cutout, magnet=magnet, depth=depth
    )
    here = output.relative(path.parent)
    out = output.messages()
    out.print(f"Wrote {output.relative(path)}. Open it in any text editor: each line says what it is.")
    out.print(f"Then: backwave check {here}")
