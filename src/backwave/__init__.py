"""Fit better loudspeakers into vehicles: measured numbers in, one pure computation, many views of it.

Floors, lowest first (see `docs/design-notes.md`): the ground (`units`, `notation`, `uncertainty`, `shape`, `acoustics`,
`stock`, `finding`, `errors`, ...), the rooms (`fit`, `part`, `network`, `sound`, `power`, `measure`, `plan`, `drawing`), the
meeting floor (`job`, `files`, `assess`, `workers`, `make`), the faces (`cli`, `bench`, `dossier`).  A view never computes;
a calculation never reads a file.
"""

__version__ = "0.1.0"

__all__ = ["__version__"]
