"""Reading and writing of everything but the job file: STEP, STL, 3MF, DXF, PDF, the manifest.

Writers take plain arrays, outlines and words, give bytes or write one path, and never leave half a file: each
writes beside its goal and then moves it there.  Millimeters throughout.  One module a format; a heavy library is
imported inside the module that owns it.  Same input, same bytes.  Meeting floor.
"""

from __future__ import annotations

__all__: list[str] = []
