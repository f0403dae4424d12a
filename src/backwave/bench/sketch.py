"""What each length of an opening and of a driver means: a half section, not to scale, a dimension a key."""

from __future__ import annotations

from html import escape

# Depth behind the metal runs to the left; the driver's axis is the lower edge.  Sheet units.
AXIS, METAL, SEAT = 330.0, 200.0, 236.0
_Dim = tuple[str, str, float, float, float, float]  # keys, words, from x y, to x y


def sketch(about: str) -> str:
    """The sketch as SVG; each dimension carries the keys it answers to."""
    dims: tuple[_Dim, ...]
    if about == "speaker":
        dims = (
            ("frame", "frame", 262, 94, 262, AXIS),
            ("cutout", "cutout", 226, 124, 226, AXIS),
            ("holes.circle holes.diameter holes.count", "bolt circle", 290, 108, 290, AXIS),
            ("magnet", "magnet", 80, 232, 80, AXIS),
            ("depth profile", "depth", 98, 376, SEAT, 376),
            ("rim", "rim", SEAT, 60, SEAT + 14, 60),
            ("front front.moving front.crest front.fixed", "front", SEAT, 398, 266, 398),
            ("motor.Xmech motor.Xmax", "excursion", 266, 376, 312, 376),
            ("terminals.depth terminals.radius terminals.width terminals.angle", "terminals", 150, 130, 150, AXIS),
        )
    else:
        dims = (
            ("hole.diameter hole.outline", "hole", 190, 112, 190, AXIS),
            ("flange flange.diameter flange.ellipse flange.outline", "flange", 218, 66, 218, AXIS),
            ("fixings fixings.x fixings.y fixings.hole fixings.head", "fixing", 178, 82, 178, AXIS),
            ("behind behind.clear", "free depth", 40, 376, METAL, 376),
            ("behind.radius behind.angle", "at radius", 40, 250, 40, AXIS),
            ("trim.clear", "metal to grille", METAL, 40, 346, 40),
            ("trim.land", "to where the foam presses", METAL, 20, 322, 20),
            ("trim.grille", "grille", 356, 140, 356, AXIS),
            ("factory.height", "factory unit", METAL, 398, 318, 398),
            ("skin", "metal", METAL - 8, 420, METAL, 420),
            ("thickness", "thickness", METAL + 8, 440, SEAT, 440),
            ("foam.back foam.closed", "back gasket", METAL, 462, METAL + 8, 462),
            ("foam.ring foam.width", "foam ring", 250, 484, 322, 484),
        )
    out = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 500" class="sketch" role="img" '
        'aria-label="What each length means; not to scale">',
        '<g class="bodies">',
        '<path class="glass" d="M28 44H40V330H28Z"/>',
        f'<path class="metal" d="M{METAL - 8} 44H{METAL}V112H{METAL - 8}Z"/>',
        f'<path class="foam" d="M{METAL} 66H{METAL + 8}V104H{METAL}Z"/>',
        f'<path class="part" d="M{METAL + 8} 66H{SEAT}V124H{METAL + 8}Z"/>',
        f'<path class="driver" d="M{SEAT} 94H{SEAT + 14}V124L{SEAT} 136L176 232V330H98V232H176L{SEAT} 128Z"/>',
        f'<path class="cone" d="M{SEAT + 10} 128L196 288V330"/>',
        f'<path class="cone travel" d="M{SEAT + 56} 128L242 288V330"/>',
        '<path class="foam" d="M250 94H322V112H250Z"/>',
        '<path class="trim" d="M322 44H346V140H322Z"/>',
        '<path class="grille" d="M346 140V330"/>',
        '<path class="axis" d="M8 330H392"/>',
        "</g>",
    ]
    out += [_dimension(*dim) for dim in dims]
    out += ['<text class="what" x="14" y="30">glass</text>', "</svg>"]
    return "\n".join(out)


def _dimension(keys: str, words: str, x1: float, y1: float, x2: float, y2: float) -> str:
    """A dimension line with its arrows and its words; the words stand beside it or over it."""
    level = y1 == y2
    size = 6.0
    if level:
        heads = (
            f"M{x1 + size} {y1 - 3}L{x1} {y1}L{x1 + size} {y1 + 3}M{x2 - size} {y2 - 3}L{x2} {y2}L{x2 - size} {y2 + 3}"
        )
        side = x2 + 6 if x2 < 240 and x2 - x1 < 60 else (x1 + x2) / 2
        anchor = "start" if side > x2 else "middle"
        label = f'<text x="{side}" y="{y1 + (4 if anchor == "start" else -5)}" text-anchor="{anchor}">{escape(words)}</text>'
        feet = (
            f"M{x1} {min(y1, 330)}V{y1 + 3}M{x2} {min(y1, 330)}V{y2 + 3}"
            if y1 > 330
            else f"M{x1} {y1 - 3}V66M{x2} {y1 - 3}V66"
        )
    else:
        heads = f"M{x1 - 3} {y1 + size}L{x1} {y1}L{x1 + 3} {y1 + size}"
        at = {"fixing": 0.3, "hole": 0.62, "flange": 0.2, "cutout": 0.7, "frame": 0.3}.get(words, 0.5)
        label = f'<text class="up" transform="translate({x1 - 4} {y1 + (y2 - y1) * at}) rotate(-90)" text-anchor="middle">{escape(words)}</text>'
        feet = f"M{x1 - 5} {y1}H{x1 + 5}"
    return f'<g data-key="{keys}" class="dim"><path class="feet" d="{feet}"/><path d="M{x1} {y1}L{x2} {y2}{heads}"/>{label}</g>'
