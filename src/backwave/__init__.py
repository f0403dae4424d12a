"""Fit better loudspeakers into vehicles: measured numbers in, one pure computation, many views of it.

Floors, lowest first (see `docs/design-notes.md`): the ground (`units`, `uncertain`, `shape`, `finding`,
`errors`, `stock`, `whole`), the rooms (`fit`, `part`, `network`, `drawing`, ...), the meeting floor (`job`, `files`,
`assess`, `work`), the faces (`cli`).  A view never computes; a calculation never reads a file.
"""

__version__ = "0.1.0"

__all__ = ["__version__"]
