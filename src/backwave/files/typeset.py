"""Text, tables and drawings as a typeset PDF: a template that ships, and everything else as data.

Texts go in as data, never as markup.  No machine's fonts and no clock go in: the same input gives the same bytes.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from importlib import import_module
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from backwave.errors import MissingError
from backwave.files.pdf import FONTS

__all__ = ["typeset"]


def typeset(template: str, data: Mapping[str, Any], pictures: Mapping[str, str] | None = None) -> bytes:
    """A template of the package, filled in.

    Parameters
    ----------
    template : str, no unit
        Its path inside the package, such as "dossier/templates/dossier.typ"; reads `sys.inputs.data` as JSON.
    data : mapping of str to object, no unit
        What JSON can hold.
    pictures : mapping of str to str, no unit
        SVG texts by name; the template finds each at `sys.inputs`.

    Returns
    -------
    bytes, no unit
        The PDF.

    Raises
    ------
    MissingError
        The typesetter is not installed.
    """
    try:
        typst: Any = import_module("typst")  # its types do not admit a list of folders
    except ImportError as error:
        raise MissingError("Writing PDF needs the package typst", "Install it: pip install typst") from error
    source = files("backwave").joinpath(template).read_bytes()
    inputs = {"data": json.dumps(data, ensure_ascii=False, allow_nan=False), **(pictures or {})}
    with as_file(files("backwave") / FONTS) as fonts:
        pdf: bytes = typst.compile(
            source, format="pdf", font_paths=[Path(fonts)], ignore_system_fonts=True, sys_inputs=inputs
        )
    return pdf
