"""Text, tables and drawings as a typeset PDF: a template that ships, and everything else as data.

Texts go in as data, never as markup.  No machine's fonts and no clock go in: the same input gives the same bytes.
Data and pictures lie beside the template as files, because the typesetter keeps what it laid out by the files it read:
in one process an edit lays out only the chapters it touched.  What stands on every page and changes with every edit (the
stamp) is a file of its own, read where it stands.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import lru_cache
from importlib import import_module
from importlib.resources import as_file, files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from backwave.errors import MissingError
from backwave.files.pdf import FONTS
from backwave.plain_text import plain_text


def typeset(
    template: str,
    data: Mapping[str, Any],
    pictures: Mapping[str, str | bytes] | None = None,
    stamp: Mapping[str, str] | None = None,
) -> bytes:
    """A template of the package, filled in.

    `template`: its path inside the package, such as "dossier/templates/dossier.typ"; reads `data.json` and
    `stamp.json`; `pictures`: SVG texts and JPEG bytes by file name ("section.svg", "photo.jpg"), which the
    template reads beside itself; MissingError: the typesetter is not installed.
    """
    try:
        typst: Any = import_module("typst")  # its types do not admit a list of folders
    except ImportError as error:
        raise MissingError("Writing PDF needs the package typst", "Install it: pip install typst") from error
    with TemporaryDirectory(prefix="backwave-") as name:
        folder = Path(name)
        (folder / "main.typ").write_bytes(files("backwave").joinpath(template).read_bytes())
        (folder / "data.json").write_text(
            json.dumps(_plain(data), ensure_ascii=False, allow_nan=False), encoding="utf-8"
        )
        (folder / "stamp.json").write_text(json.dumps(_plain(dict(stamp or {})), ensure_ascii=False), encoding="utf-8")
        for file, picture in (pictures or {}).items():
            (folder / file).write_bytes(picture.encode() if isinstance(picture, str) else picture)
        pdf: bytes = typst.compile(
            folder / "main.typ", root=folder, format="pdf", font_paths=_fonts(), ignore_system_fonts=True
        )
    return pdf


def _plain(value: Any) -> Any:
    """The same with every text in it cleaned; line breaks stay."""
    if isinstance(value, str):
        return plain_text(value, lines=True)
    if isinstance(value, Mapping):
        return {key: _plain(one) for key, one in value.items()}
    return [_plain(one) for one in value] if isinstance(value, (list, tuple)) else value


@lru_cache(maxsize=1)
def _fonts() -> Any:
    """The package's own letters and those that the typesetter brings, read once."""
    with as_file(files("backwave") / FONTS) as fonts:
        return import_module("typst").Fonts(include_system_fonts=False, font_paths=[Path(fonts)])
