"""Drawings, text and tables as PDF, through typst: SVG pages each of their own size, and a template that ships, filled in.

The letters are the package's own font; no date and no machine's fonts go in, so the same input gives the same bytes.  Texts
go in as data, never as markup.  Data and pictures lie beside the template as files, because the typesetter keeps what it
laid out by the files it read: in one process an edit lays out only the chapters it touched.  What stands on every page and
changes with every edit (the stamp) is a file of its own, read where it stands."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from importlib import import_module
from importlib.resources import as_file, files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from backwave.errors import InputError, MissingError
from backwave.plain_text import plain_text

_SIZE = re.compile(r'<svg [^>]*?width="([0-9.]+)mm" height="([0-9.]+)mm"')
_BOX = re.compile(r'<svg [^>]*?viewBox="0 0 ([0-9.]+) ([0-9.]+)"')
FONTS = "drawing/fonts"


def svg_size_mm(svg: str, width_mm: float | None = None) -> tuple[float, float]:
    """Size of the page an SVG asks for. Returns (width, height) mm; InputError: the SVG states no size in millimeters
    and none was asked for."""
    own = _SIZE.search(svg[:2000])
    if width_mm is None:
        if own is None:
            raise InputError("size of an SVG", svg[:60], 'width="..mm" height="..mm", or a width to bring it to')
        return float(own[1]), float(own[2])
    size = own or _BOX.search(svg[:2000])
    if size is None:
        raise InputError("size of an SVG", svg[:60], "a viewBox")
    return width_mm, width_mm * float(size[2]) / float(size[1])


def svg_pages_to_pdf(pages: Sequence[str], *, title: str = "", width_mm: float | None = None) -> bytes:
    """One PDF with a page for each SVG; a drawing in millimeters comes out at 1:1. `pages`: SVG texts; colors must be
    plain ones, not variables; `width_mm`: width of every page; None takes each drawing's own size; InputError: no page,
    or a page without a size; MissingError: the typesetter is not installed."""
    return _compiled(pages, title, width_mm, format="pdf")


def svg_to_png(svg: str, *, width_mm: float | None = None, ppi: float = 144.0) -> bytes:
    """One SVG as a PNG picture."""
    return _compiled([svg], "", width_mm, format="png", ppi=ppi)


def _typst() -> Any:
    """The typesetter; its types do not admit a list of folders."""
    try:
        return import_module("typst")
    except ImportError as error:
        raise MissingError("Writing PDF needs the package typst", "Install it: pip install typst") from error


def _compiled(pages: Sequence[str], title: str, width_mm: float | None, **wanted: Any) -> bytes:
    """Drawings, each a page; they and the title go in as data, never as markup."""
    typst = _typst()
    if not pages:
        raise InputError("pages of a PDF", 0, "one or more")
    source = ["#set document(title: sys.inputs.title, date: none)", "#set page(margin: 0mm)"]
    inputs = {"title": plain_text(title)}
    for n, svg in enumerate(pages):
        width, height = svg_size_mm(svg, width_mm)
        inputs[f"page{n}"] = svg
        size = f"width: {width:.4f}mm, height: {height:.4f}mm"
        source.append(f'#page({size}, image(bytes(sys.inputs.page{n}), format: "svg", {size}))')
    text = "\n".join(source).encode()
    with as_file(files("backwave") / FONTS) as fonts:
        made: bytes = typst.compile(
            text, font_paths=[Path(fonts)], ignore_system_fonts=True, sys_inputs=inputs, **wanted
        )
    return made


def typeset(
    template: str, data: Mapping[str, Any], pictures: Mapping[str, str | bytes] | None = None,
    stamp: Mapping[str, str] | None = None,
) -> bytes:  # fmt: skip
    """A template of the package, filled in. `template`: its path inside the package, such as
    "dossier/templates/dossier.typ"; reads `data.json` and `stamp.json`; `pictures`: SVG texts and JPEG bytes by file
    name ("section.svg", "photo.jpg"), which the template reads beside itself; MissingError: the typesetter is not
    installed."""
    typst = _typst()
    with TemporaryDirectory(prefix="backwave-") as name:
        folder = Path(name)
        (folder / "main.typ").write_bytes(files("backwave").joinpath(template).read_bytes())
        for file, values in (("data.json", data), ("stamp.json", stamp or {})):
            text = json.dumps(_cleaned(values), ensure_ascii=False, allow_nan=False)
            (folder / file).write_text(text, encoding="utf-8")
        for file, picture in (pictures or {}).items():
            (folder / file).write_bytes(picture.encode() if isinstance(picture, str) else picture)
        pdf: bytes = typst.compile(
            folder / "main.typ", root=folder, format="pdf", font_paths=_fonts(), ignore_system_fonts=True
        )
    return pdf


def _cleaned(value: Any) -> Any:
    """The same with every text in it cleaned; line breaks stay."""
    if isinstance(value, str):
        return plain_text(value, lines=True)
    if isinstance(value, Mapping):
        return {key: _cleaned(one) for key, one in value.items()}
    return [_cleaned(one) for one in value] if isinstance(value, (list, tuple)) else value


@lru_cache(maxsize=1)
def _fonts() -> Any:
    """The package's own letters and those that the typesetter brings, read once."""
    with as_file(files("backwave") / FONTS) as fonts:
        return import_module("typst").Fonts(include_system_fonts=False, font_paths=[Path(fonts)])
