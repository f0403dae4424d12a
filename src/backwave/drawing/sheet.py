"""A small display list: marks on a sheet, which any writer can replay, and the writer of SVG.

Sheet coordinates run right and down from the top left corner, in pixels on a screen sheet and in millimeters on a
1:1 sheet.  `overlaps` says which texts touch or leave the sheet: a drawing that is right has none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import cos, radians, sin
from typing import Literal
from xml.sax.saxutils import escape, quoteattr

from backwave.drawing.styles import ASCENT, DESCENT, FAMILY, LINES, TEXTS, Theme, style_sheet, text_width
from backwave.plain_text import plain_text

__all__ = ["ArcStroke", "BoxStroke", "Circle", "Mark", "Poly", "Sheet", "TextMark", "overlaps", "to_svg"]

Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]


@dataclass(frozen=True)
class BoxStroke:
    """A rectangle on the sheet.

    Parameters
    ----------
    left, top, right, bottom : float, sheet units
        Its edges.
    """

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: BoxStroke, gap: float = 0.0) -> bool:
        """Whether two boxes overlap or come nearer than a gap.

        Parameters
        ----------
        other : BoxStroke, sheet units
            The other one.
        gap : float, sheet units
            Distance that must be kept.
        """
        return (
            self.left < other.right + gap
            and other.left < self.right + gap
            and self.top < other.bottom + gap
            and other.top < self.bottom + gap
        )


@dataclass(frozen=True)
class Poly:
    """A run of straight lines.

    Parameters
    ----------
    points : tuple of (x, y) float, sheet units
        Its corners.
    look : str, no unit
        Key of `ink.LINES`.
    closed : bool, no unit
        Joined end to start.
    """

    points: tuple[Point, ...]
    look: str
    closed: bool = False


@dataclass(frozen=True)
class Circle:
    """A circle.

    Parameters
    ----------
    x, y, radius : float, sheet units
        Center and radius.
    look : str, no unit
        Key of `ink.LINES`.
    """

    x: float
    y: float
    radius: float
    look: str


@dataclass(frozen=True)
class ArcStroke:
    """An arc of a circle, counterclockwise as seen.

    Parameters
    ----------
    x, y, radius : float, sheet units
        Center and radius.
    start_deg, end_deg : float, deg
        From +x toward the top of the sheet; end above start, less than a full turn.
    look : str, no unit
        Key of `ink.LINES`.
    """

    x: float
    y: float
    radius: float
    start_deg: float
    end_deg: float
    look: str


@dataclass(frozen=True)
class TextMark:
    """One line of text.

    Parameters
    ----------
    x, y : float, sheet units
        Anchor on the baseline.
    text : str, no unit
        The text, unescaped.
    look : str, no unit
        Key of `ink.TEXTS`.
    anchor : "start", "middle" or "end", no unit
        Which point of the text stands at x.
    """

    x: float
    y: float
    text: str
    look: str
    anchor: Anchor = "start"


Mark = Poly | Circle | ArcStroke | TextMark


@dataclass
class Sheet:
    """A drawing being made: marks in the order they are painted.

    Parameters
    ----------
    width, height : float, sheet units
        Size of the sheet; the height may still grow.
    title : str, no unit
        Read out by screen readers.
    narrow : float, sheet units
        Width of a narrow line.
    text_unit : float, sheet units
        Size of one text unit: 1 on a screen sheet, 0.25 or so on a sheet in millimeters.
    real_mm : bool, no unit
        True where a sheet unit is a millimeter and the drawing is to be printed at 1:1.
    marks : list of Mark, sheet units
        What has been drawn so far.
    """

    width: float
    height: float
    title: str = ""
    narrow: float = 1.0
    text_unit: float = 1.0
    real_mm: bool = False
    marks: list[Mark] = field(default_factory=list)

    def line(self, points: Sequence[Point], look: str, closed: bool = False) -> None:
        """A run of straight lines; see `Poly`.

        Parameters
        ----------
        points : sequence of (x, y) float, sheet units
            Its corners.
        look : str, no unit
            Key of `ink.LINES`.
        closed : bool, no unit
            Joined end to start.
        """
        self.marks.append(Poly(tuple(points), look, closed))

    def box(self, left: float, top: float, right: float, bottom: float, look: str) -> None:
        """A rectangle.

        Parameters
        ----------
        left, top, right, bottom : float, sheet units
            Its edges.
        look : str, no unit
            Key of `ink.LINES`.
        """
        self.line(((left, top), (right, top), (right, bottom), (left, bottom)), look, closed=True)

    def circle(self, x: float, y: float, radius: float, look: str) -> None:
        """A circle; see `Circle`.

        Parameters
        ----------
        x, y, radius : float, sheet units
            Center and radius.
        look : str, no unit
            Key of `ink.LINES`.
        """
        self.marks.append(Circle(x, y, radius, look))

    def words(self, x: float, y: float, text: str, look: str, anchor: Anchor = "start") -> BoxStroke:
        """A line of text; see `TextMark`.

        Parameters
        ----------
        x, y : float, sheet units
            Anchor on the baseline.
        text, look : str, no unit
            The text, and its key of `ink.TEXTS`.
        anchor : "start", "middle" or "end", no unit
            Which point of the text stands at x.

        Returns
        -------
        Box, sheet units
            The room it may take.
        """
        mark = TextMark(x, y, text, look, anchor)
        self.marks.append(mark)
        return self.room(mark)

    def room(self, mark: TextMark) -> BoxStroke:
        """The room a text may take on this sheet.

        Parameters
        ----------
        mark : TextMark, sheet units
            The text.
        """
        width = text_width(mark.text, mark.look) * self.text_unit
        size = TEXTS[mark.look].size * self.text_unit
        left = mark.x - {"start": 0.0, "middle": width / 2, "end": width}[mark.anchor]
        return BoxStroke(left, mark.y - ASCENT * size, left + width, mark.y + DESCENT * size)

    def texts(self) -> list[tuple[TextMark, BoxStroke]]:
        """Every text with the room it may take."""
        return [(mark, self.room(mark)) for mark in self.marks if isinstance(mark, TextMark)]


def overlaps(sheet: Sheet) -> list[str]:
    """What is wrong with the texts of a sheet, in words: two that overlap, or one that leaves the sheet.

    Parameters
    ----------
    sheet : Sheet, sheet units
        A finished drawing.
    """
    wrong = []
    texts = sheet.texts()
    for n, (mark, room) in enumerate(texts):
        if room.left < 0 or room.top < 0 or room.right > sheet.width or room.bottom > sheet.height:
            wrong.append(f"{mark.text!r} leaves the sheet")
        wrong += [f"{mark.text!r} overlaps {other.text!r}" for other, its in texts[n + 1 :] if room.meets(its)]
    return wrong


def to_svg(sheet: Sheet, theme: Theme = "light") -> str:
    """A sheet as SVG: one file, no script, no reference to anything outside.

    Parameters
    ----------
    sheet : Sheet, sheet units
        A finished drawing.
    theme : "light", "dark", "auto" or "paper", no unit
        Colors; "auto" follows the reader's own setting and wants a browser.
    """
    root = f"bw-{theme}-{'mm' if sheet.real_mm else 'px'}"
    unit = "mm" if sheet.real_mm else ""
    w, h = _n(sheet.width), _n(sheet.height)
    size = f'width="{w}{unit}" height="{h}{unit}" ' if sheet.real_mm else ""
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{root}" {size}viewBox="0 0 {w} {h}" role="img" '
        f'aria-label={quoteattr(plain_text(sheet.title))} font-family="{FAMILY}">',
        f"<title>{escape(plain_text(sheet.title))}</title>",
        f"<style>{style_sheet(theme, root, sheet.narrow, sheet.text_unit)}</style>",
        f'<rect class="ground" width="{w}" height="{h}"/>',
    ]
    out += [_svg(mark) for mark in sheet.marks]
    return "\n".join([*out, "</svg>\n"])


def _svg(mark: Mark) -> str:
    if isinstance(mark, TextMark):
        anchor = "" if mark.anchor == "start" else f' text-anchor="{mark.anchor}"'
        at = f'x="{_n(mark.x)}" y="{_n(mark.y)}"'
        return f'<text class="t-{mark.look}" {at}{anchor}>{escape(plain_text(mark.text))}</text>'
    assert mark.look in LINES, mark.look
    if isinstance(mark, Circle):
        return f'<circle class="{mark.look}" cx="{_n(mark.x)}" cy="{_n(mark.y)}" r="{_n(mark.radius)}"/>'
    if isinstance(mark, ArcStroke):
        (x1, y1), (x2, y2) = (
            (mark.x + mark.radius * cos(radians(a)), mark.y - mark.radius * sin(radians(a)))
            for a in (mark.start_deg, mark.end_deg)
        )
        large = int(mark.end_deg - mark.start_deg > 180)
        r = _n(mark.radius)
        return f'<path class="{mark.look}" d="M{_n(x1)} {_n(y1)}A{r} {r} 0 {large} 0 {_n(x2)} {_n(y2)}"/>'
    points = "L".join(f"{_n(x)} {_n(y)}" for x, y in mark.points)
    return f'<path class="{mark.look}" d="M{points}{"Z" if mark.closed else ""}"/>'


def _n(value: float) -> str:
    """Thousandths of a sheet unit, short."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
