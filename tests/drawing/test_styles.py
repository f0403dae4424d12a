"""Widths of text, and breaking it into lines."""

from __future__ import annotations

from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.drawing.styles import LINES, TEXTS, THEMES, style_sheet, text_width, wrap
from tests.drawing.reading import font

words = st.text(st.characters(min_codepoint=32, max_codepoint=0x45F, exclude_categories=("Cc", "Mn", "Me", "Cf")))


def test_a_letter_is_never_wider_than_we_think() -> None:
    # Every letter of the shipped font, and of the wide faces it was narrowed from by a tenth.
    for code in (*range(0x20, 0x7F), *range(0xA0, 0x460), 0x2026, 0x2212, 0x2300):
        for look in ("value", "label"):
            real = font(TEXTS[look].bold).getlength(chr(code)) / 1000
            assert real / 0.9 <= text_width(chr(code), look) / TEXTS[look].size + 2e-3, hex(code)


@given(words)
def test_a_text_is_never_wider_than_we_think(text: str) -> None:
    # Against the shipped font's own advances, as FreeType reads them. Kerning only narrows.
    for look in ("value", "label"):
        real = font(TEXTS[look].bold).getlength(text) / 1000 * TEXTS[look].size
        assert real <= text_width(text, look) + 0.01


def test_the_estimate_is_not_wasteful() -> None:
    text = "seat height 14.5 mm, not measured beyond"
    assert text_width(text, "label") < 1.2 * font(False).getlength(text) / 1000 * TEXTS["label"].size


@given(words, st.floats(30, 400))
def test_lines_fit_and_nothing_is_lost(text: str, width: float) -> None:
    lines = wrap(text, "label", width)
    assert "".join(lines).replace(" ", "") == text.replace("\n", " ").replace(" ", "")
    assert all(text_width(line, "label") <= width or len(line) == 1 for line in lines)


def test_a_unit_stays_with_its_number() -> None:
    lines = wrap("a margin of 5.0\u00a0mm", "label", text_width("a margin of 5.0", "label") + 1)
    assert lines == ["a margin of", "5.0\u00a0mm"]


def test_every_look_has_a_color_in_every_theme() -> None:
    roles = {c for look in LINES.values() for c in (look.stroke, look.fill) if c} | {t.color for t in TEXTS.values()}
    for theme, colors in THEMES.items():
        assert roles <= set(colors), theme


def _luminance(color: str) -> float:
    """Relative luminance of sRGB as WCAG 2.2 defines it."""
    parts = [int(color[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    lin = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * lin[0] + 0.7152 * lin[1] + 0.0722 * lin[2]


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("role", ["ink", "soft", "accent", "wrong"])
def test_words_can_be_read_on_the_ground(theme: str, role: str) -> None:
    # WCAG 2.2, success criterion 1.4.3: contrast of text at least 4.5 to 1.
    for ground in ("ground", "plate"):
        a, b = sorted((_luminance(THEMES[theme][role]), _luminance(THEMES[theme][ground])))
        assert (b + 0.05) / (a + 0.05) >= 4.5


def test_automatic_theme_follows_the_reader() -> None:
    css = style_sheet("auto", "bw-auto-px", 1.0, 1.0)
    assert "prefers-color-scheme:dark" in css
    assert "var(--bw-ink)" in css
    assert "var(" not in style_sheet("light", "x", 1.0, 1.0)


def test_the_font_ships_with_its_license() -> None:
    text = (files("backwave") / "drawing/fonts/LICENSE.txt").read_text(encoding="utf-8")
    assert "Permission is hereby granted" in text
    assert font(False).getname()[0] == font(True).getname()[0] == "Backwave Drawing"
