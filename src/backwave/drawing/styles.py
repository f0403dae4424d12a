"""How the drawings look: two line weights, the colors of each theme, and how wide a text can be.

Line kinds follow ISO 128-2 (continuous wide and narrow, dashed, long-dashed dotted for center lines, long-dashed
double-dotted for extreme positions of moving parts).  Colors are ours.  Widths of text are those of a wide
sans-serif, so that a text fits whichever sans-serif a reader's machine has."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Theme = Literal["light", "dark", "auto", "paper"]

FAMILY = "'Backwave Drawing','DejaVu Sans Condensed','DejaVu Sans',Verdana,Arial,sans-serif"

_LIGHT = {
    "ground": "#f7f5ef", "plate": "#fffefa", "ink": "#1b2830", "soft": "#55646e", "faint": "#b9bfbd",
    "accent": "#0b6a63", "wash": "#d6e8e3", "wrong": "#b1330f", "rose": "#f6ded5",
    "glass": "#dbe7ec", "metal": "#cfcec8", "driver": "#e4e1d8", "foam": "#f1e4c0", "trim": "#dcd7c9",
}  # fmt: skip
_DARK = {
    "ground": "#14191d", "plate": "#1c2329", "ink": "#e8e5dc", "soft": "#9dabb3", "faint": "#4a555c",
    "accent": "#63cbbd", "wash": "#1c3d3b", "wrong": "#ff8b66", "rose": "#4a2419",
    "glass": "#21333d", "metal": "#3b4247", "driver": "#2b3136", "foam": "#433a20", "trim": "#38362e",
}  # fmt: skip
_PAPER = _LIGHT | {
    "ground": "#ffffff", "plate": "#ffffff", "ink": "#000000", "soft": "#3c464c", "faint": "#9aa0a0",
}  # fmt: skip

THEMES: dict[str, dict[str, str]] = {"light": _LIGHT, "dark": _DARK, "paper": _PAPER}


@dataclass(frozen=True)
class LineLook:
    stroke: str = ""  # color roles, "" for none
    fill: str = ""
    width: float = 1.0  # in narrow lines: 1 narrow, 2 wide (ISO 128-2: wide is twice narrow)
    dash: tuple[float, ...] = ()  # dash lengths in narrow lines, () for continuous
    round: bool = False


LINES: dict[str, LineLook] = {
    "edge": LineLook("ink", width=2),
    "line": LineLook("ink"),
    "fine": LineLook("soft", width=0.9),
    "faint": LineLook("faint"),
    "faint-wide": LineLook("faint", width=2),
    "hidden": LineLook("ink", dash=(7, 3.5)),
    "center": LineLook("soft", width=0.9, dash=(16, 3, 2, 3)),
    "travel": LineLook("ink", dash=(12, 3, 2, 3, 2, 3)),
    "dimension": LineLook("soft", width=0.9),
    "arrow": LineLook(fill="soft"),
    "gap": LineLook("ink", width=1.1),
    "gap-arrow": LineLook(fill="ink"),
    "change": LineLook("accent", width=1.2),
    "change-wide": LineLook("accent", width=3),
    "change-arrow": LineLook(fill="accent"),
    "wrong": LineLook("wrong", width=1.2),
    "wrong-wide": LineLook("wrong", width=2),
    "wrong-arrow": LineLook(fill="wrong"),
    "wrong-body": LineLook("wrong", "wrong", 2),
    "wrong-plate": LineLook("wrong", "plate", 2, round=True),
    "ok-plate": LineLook("ink", "plate", 2),
    "tick": LineLook("ink", width=2.4, round=True),
    "tick-wrong": LineLook("wrong", width=2.6, round=True),
    "tick-plate": LineLook("plate", width=3, round=True),
    "band": LineLook(fill="wash"),
    "band-edge": LineLook("accent", "wash"),
    "band-faint": LineLook("faint", "plate"),
    "plate": LineLook("ink", "plate"),
    "ground": LineLook(fill="ground"),
    "hollow": LineLook("ink", "ground"),
    "hollow-edge": LineLook("ink", "ground", 2),
    "solid": LineLook("ink", "ink", 0.8),
    "body-glass": LineLook(fill="glass"),
    "body-metal": LineLook(fill="metal"),
    "body-driver": LineLook(fill="driver"),
    "body-trim": LineLook("ink", "trim"),
    "body-part": LineLook(fill="wash"),
    "body-foam": LineLook("ink", "foam", 0.9),
    "screw": LineLook("ink", "driver"),
    "hatch-part": LineLook("accent", width=0.8),
    "hatch-metal": LineLook("soft", width=0.8),
    "hatch-unknown": LineLook("soft", width=0.7, dash=(3, 4)),
    "dots": LineLook("soft", width=1.6, dash=(0, 5), round=True),
    "grille": LineLook("ink", width=3, dash=(3, 3)),
    "read": LineLook("ink", "ground", 1.1),
    "handle": LineLook("accent", "accent", 1.2, round=True),
    "series-0": LineLook("ink", width=2, round=True),
    "series-1": LineLook("accent", width=2, dash=(16, 3, 3, 3)),  # apart by style too: a print may be gray
    "series-2": LineLook("ink", width=2, dash=(10, 4)),
    "series-3": LineLook("accent", width=2, dash=(8, 2, 2, 2, 2, 2)),
    "series-4": LineLook("soft", width=2, dash=(3, 3)),
    **{f"spread-{n}": LineLook(fill="wash" if n % 2 else "driver") for n in range(5)},
    "cut": LineLook("ink", width=1.4),
}


@dataclass(frozen=True)
class TextLook:
    size: float  # height of the letters' em square, in the sheet's text units (pixels on a screen sheet)
    color: str = "ink"
    bold: bool = False


TEXTS: dict[str, TextLook] = {
    "title": TextLook(21, bold=True),
    "subtitle": TextLook(14.5, "soft"),
    "verdict": TextLook(16.5, bold=True),
    "verdict-wrong": TextLook(16.5, "wrong", bold=True),
    "value": TextLook(15.5, bold=True),
    "value-change": TextLook(15.5, "accent", bold=True),
    "value-wrong": TextLook(15.5, "wrong", bold=True),
    "label": TextLook(14.5),
    "label-change": TextLook(14.5, "accent"),
    "note": TextLook(14.5, "soft"),
    "note-wrong": TextLook(14.5, "wrong"),
    "tick": TextLook(14.5, "soft"),
    "letter": TextLook(14.5, bold=True),
    "big": TextLook(30, "faint", bold=True),
}

# Advance widths of the printable ASCII characters, in thousandths of an em, of DejaVu Sans 2.37 and its bold (read
# from the font's own table, rounded up); they are wider than those of the usual sans-serifs.
_PLAIN = (
    318, 401, 460, 838, 637, 951, 780, 275, 391, 391, 500, 838, 318, 361, 318, 337, 637, 637, 637,
    637, 637, 637, 637, 637, 637, 637, 337, 337, 838, 838, 838, 531, 1000, 685, 687, 699, 771, 632,
    576, 775, 752, 295, 295, 656, 558, 863, 749, 788, 604, 788, 695, 635, 611, 732, 685, 989, 686,
    611, 686, 391, 337, 391, 838, 500, 500, 613, 635, 550, 635, 616, 353, 635, 634, 278, 278, 580,
    278, 975, 634, 612, 635, 635, 412, 521, 393, 634, 592, 818, 592, 592, 525, 637, 337, 637, 838,
)  # fmt: skip
_BOLD = (
    349, 457, 521, 838, 696, 1002, 873, 307, 458, 458, 523, 838, 380, 416, 380, 366, 696, 696, 696,
    696, 696, 696, 696, 696, 696, 696, 400, 400, 838, 838, 838, 581, 1000, 774, 763, 734, 831, 684,
    684, 821, 837, 373, 373, 775, 638, 996, 837, 851, 733, 851, 771, 721, 683, 813, 774, 1104, 771,
    725, 726, 458, 366, 458, 838, 500, 500, 675, 716, 593, 716, 679, 436, 716, 712, 343, 343, 666,
    343, 1042, 712, 688, 716, 716, 494, 596, 479, 712, 652, 924, 646, 652, 583, 712, 366, 712, 838,
)  # fmt: skip
_SIGNS = {
    "\u00a0": 0.35, "\u2026": 1.0, "\u2212": 0.84, "\u00b1": 0.84, "\u00b7": 0.38, "\u00d7": 0.84, "\u00b0": 0.5,
    "\u2300": 0.88,
}  # fmt: skip
# Any other character: Latin with accents; its few wide letters; all beyond (the widest of the shipped font).
_OTHER, _BROAD, _WIDE = 0.9, 1.2, 1.6
_BROADS = frozenset("\u00a9\u00ae\u00bc\u00bd\u00be\u00c6\u00e6\u0126\u0149\u0152\u0153\u0174\u0175")

CAPITALS = 0.729  # of the em: how tall the shipped font's capitals and figures are
LEAST_MM = 1.8  # of a capital on paper: the least nominal size of lettering, ISO 3098-1
LEAST_SCALE = 1.01 * LEAST_MM / CAPITALS / min(kind.size for kind in TEXTS.values())  # mm a text unit

ASCENT, DESCENT = 0.80, 0.25  # of the em: what a line of text reaches above and below its baseline


def text_width(text: str, look: str) -> float:
    """The room a text may take, whichever usual sans-serif shows it. Returns text units of the sheet."""
    kind = TEXTS[look]
    table = _BOLD if kind.bold else _PLAIN
    total = 0.0
    for letter in text:
        code = ord(letter)
        if 32 <= code < 127:
            total += table[code - 32] / 1000
        elif letter in _SIGNS:
            total += _SIGNS[letter]
        else:
            total += _BROAD if letter in _BROADS else _OTHER if code < 0x180 else _WIDE
    return total * kind.size


def wrap(text: str, look: str, width: float) -> list[str]:
    """A text broken at its spaces into lines that fit; a longer word is broken where it must be."""
    lines: list[str] = []
    line = ""
    for word in text.replace("\n", " ").split(" "):
        if not word:
            continue
        while True:
            longer = f"{line} {word}" if line else word
            if text_width(longer, look) <= width:
                line = longer
                break
            if line:
                lines.append(line)
                line = ""
                continue
            keep = max(1, next((n for n in range(len(word), 0, -1) if text_width(word[:n], look) <= width), 1))
            lines.append(word[:keep])
            word = word[keep:]
            if not word:
                break
    if line:
        lines.append(line)
    return lines


def style_sheet(theme: Theme, root: str, narrow: float, text: float) -> str:
    """The CSS of one drawing, scoped to its root class; each class has our prefix, since a page has classes of its own
    (a framework's `hidden`). `theme`: "auto" follows the
    reader's own setting and wants a browser; the others are plain colors."""
    if theme == "auto":
        names = {role: f"var(--bw-{role})" for role in _LIGHT}
        light, dark = (";".join(f"--bw-{r}:{c}" for r, c in t.items()) for t in (_LIGHT, _DARK))
        head = f".{root}{{{light}}}@media(prefers-color-scheme:dark){{.{root}{{{dark}}}}}"
    else:
        names, head = THEMES[theme], ""
    rules = [head] if head else []
    for key, line in LINES.items():
        parts = [f"fill:{names[line.fill] if line.fill else 'none'}"]
        if line.stroke:
            stroke = names.get(line.stroke, names["ink"])
            parts += [f"stroke:{stroke}", f"stroke-width:{line.width * narrow:.4g}"]
            if line.dash:
                parts.append("stroke-dasharray:" + " ".join(f"{d * narrow:.4g}" for d in line.dash))
            if line.round:
                parts += ["stroke-linecap:round", "stroke-linejoin:round"]
        rules.append(f".{root} .bw-{key}{{{';'.join(parts)}}}")
    for key, kind in TEXTS.items():
        weight = "bold" if kind.bold else "normal"
        halo = f"stroke:{names['ground']};stroke-width:{0.28 * kind.size * text:.4g};paint-order:stroke"
        rules.append(
            f".{root} .bw-t-{key}{{font-size:{kind.size * text:.4g}px;font-weight:{weight};fill:{names[kind.color]};"
            f"{halo};stroke-linejoin:round;font-variant-numeric:tabular-nums}}"
        )
    return "".join(rules)
