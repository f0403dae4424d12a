"""What the pages are told: a job with everything that follows from it, its photographs, what stands on every page.

Photographs are as the record names them, made small, without any tag; what cannot be shown is said.  Drawings are kept
while the process lives: what did not change is not drawn again."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

from backwave.assess import Memo
from backwave.drawing.styles import LEAST_SCALE
from backwave.errors import InputError
from backwave.files.pdf import svg_size_mm
from backwave.files.photos import MAX_BYTES, clean_picture
from backwave.finding import figures, verdict_line
from backwave.report.blocks import Audience, Block, figure

if TYPE_CHECKING:
    from backwave.assess import Assessment
    from backwave.assess.work.work_plan import Working
    from backwave.finding import Check
    from backwave.job import Job


@dataclass
class Chapter:
    """A chapter: its title, its blocks, and the pictures that they name; one that flows needs no page of its own."""

    title: str
    blocks: list[Block] = field(default_factory=list)
    pictures: dict[str, str | bytes] = field(default_factory=dict)
    flow: bool = False

    def draw(self, key: str, svg: str, caption: str = "", share: float = 1.0) -> None:
        """Put a drawing in, so wide a share of the page's text."""
        self.pictures[f"{key}.svg"] = svg
        self.blocks.append(figure(f"{key}.svg", caption, share))

    @property
    def data(self) -> dict[str, Any]:
        """What the template lays out."""
        return {"title": self.title, "blocks": self.blocks, "flow": self.flow}


@dataclass(frozen=True)
class Photos:
    """The photographs that the record names."""

    there: Mapping[str, bytes] = field(default_factory=dict)  # JPEG of bounded size, without any tag
    lost: Mapping[str, str] = field(default_factory=dict)  # why another cannot be shown


def photographs(working: Working, folder: Path) -> Photos:
    """Every photograph that the record names, made small; one that cannot be shown is said, and stops nothing."""
    there: dict[str, bytes] = {}
    lost: dict[str, str] = {}
    home = folder.resolve()
    for name in _named(working):
        path = (folder / name).resolve()
        if not path.is_relative_to(home):
            lost[name] = "it leads out of the job folder"
        elif not path.is_file():
            lost[name] = "it is not in the job folder"
        elif path.stat().st_size > MAX_BYTES:
            lost[name] = f"{path.stat().st_size / 1e6:.0f} MB, at most {MAX_BYTES // 1_000_000} MB are read"
        else:
            try:
                there[name] = kept(clean_picture, path.read_bytes())
            except InputError as error:
                lost[name] = str(error)
            except OSError as error:
                lost[name] = error.strerror or "it cannot be read"
    return Photos(there, lost)


def _named(working: Working) -> Iterable[str]:
    named = [one.photos for one in working.condition] + [one.photos for one in working.teardown]
    return dict.fromkeys(name for photos in named for name in photos)


P = ParamSpec("P")
T = TypeVar("T")
_DRAWN = Memo(1024)


def kept(function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """What a function drew of these very values, drawn once."""
    return _DRAWN.call(function, *args, **kwargs)


TEMPLATE = "dossier/templates/dossier.typ"


@dataclass(frozen=True)
class PageContext(Audience):
    """Everything the pages are told."""

    system: str = field(init=False)
    names: Mapping[str, str] = field(init=False)
    job: Job
    result: Assessment
    working: Working
    revision: str = "1"  # what stands on every page; the date may be ""
    date: str = ""
    paper: str = "A4"
    # parts that were made from these very numbers
    entries: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    photos: Photos = field(default_factory=Photos)  # photographs that the record names

    def __post_init__(self) -> None:
        object.__setattr__(self, "system", self.result.show)
        object.__setattr__(self, "names", self.result.names)

    @property
    def digest(self) -> str:
        """The job file's digest, as long as a page needs it."""
        return self.result.digest[:12]

    def line(self, check: Check) -> str:
        """What a check found, as verdicts are read."""
        return verdict_line(check, self.system)

    def figures(self, check: Check) -> tuple[str, str, str]:
        """Value, 95 % ends and limit of a verdict line."""
        return figures(check, self.system)

    @property
    def text_mm(self) -> tuple[float, float]:
        """Width and height of a page's text, as the template leaves it."""
        return (173.0, 258.0) if self.paper == "A4" else (178.9, 240.4)

    @property
    def wide_mm(self) -> tuple[float, float]:
        """The same of a page that lies on its side."""
        wide, high = self.text_mm
        return (high + 2.0, wide - 2.0)  # margins: 37 mm on the sides, 39 mm above and below

    def share(self, svg: str, height: float) -> float:
        """So much of the text's width that a drawing takes no more than a part of the text's height, if it can be read so."""
        wide, high = self.text_mm
        least = LEAST_SCALE * float(svg.partition('viewBox="0 0 ')[2].split()[0]) / wide
        return min(1.0, max(least, height * high / svg_size_mm(svg, wide)[1]))

    def data(self, kind: str, *, private: bool = True) -> dict[str, Any]:
        """What stands on every page of a document; one that is shown to others names neither job nor date."""
        return {"title": self.result.title, "kind": kind, "paper": self.paper, "private": private}

    @property
    def stamp(self) -> dict[str, str]:
        """What stands on every page and changes with every edit: the typesetter reads it where it stands."""
        return {
            "revision": self.revision, "date": self.date, "digest": self.digest, "whole": self.result.digest,
        }  # fmt: skip
