"""Tables of wires: what cannot be is told all at once, each with its line; nothing is read on a pair before its gate."""

from __future__ import annotations

from pathlib import Path

import pytest

from backwave.errors import JobError
from backwave.job import loads

TEXT = (Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job/job.toml").read_text(encoding="utf-8")
BARE = TEXT[: TEXT.index("# ---- the factory's wires")]

WRONG = """
[[speaker_cable]]
opening = "front-dor"

[[speaker_cable]]
opening = "dash"

[[speaker_cable]]
opening = "dash"

[[plug]]
id = "one"
opening = "front-door"
pin = [{ number = "1", carries = "+" }]

[[plug]]
id = "two"
opening = "dash"
side = "middle"

[[plug]]
id = "three"
opening = "dash"
pin = [{ number = "1", carries = "+", hides = "shunt C 4.7 uF" }, { number = "2", carries = "-" }]

[[plug]]
id = "battery"
pin = [{ number = "1", carries = "+", opening = "cargo-wall", side = "left" }, { number = "2", carries = "-", opening = "cargo-wall", side = "left" }]

[[boot]]
opening = "front-door"
bore = "22 ohm"

[[pair]]
id = "p"
colors = ["GY", "QQ"]
confirmed = { traced = true }

[[factory_output]]
id = "f"
into = "ampp"
band = ["18 kHz", "45 Hz"]

[factory_system]
must_sound = [{ what = "chime", from = "nowhere" }]

[[wire]]
id = "w"
from = "a.1"
to = "a.2"
lenght = "1 m"
"""


def test_everything_wrong_is_told_at_once_with_its_line() -> None:
    text = BARE + WRONG
    with pytest.raises(JobError) as error:
        loads(text)
    lines = text.split("\n")
    told = {(f"{p.message} {p.found}", lines[p.line - 1].strip()) for p in error.value.problems if p.line}
    for found, line in (
        ("front-dor", 'opening = "front-dor"'),
        ("a second [[speaker_cable]] for the same place dash", 'opening = "dash"'),
        ("+ alone", 'id = "one"'),
        ("middle", 'side = "middle"'),
        ("battery", 'id = "battery"'),
        ("22 ohm", 'bore = "22 ohm"'),
        ("qq", 'colors = ["GY", "QQ"]'),
        ("ampp", 'into = "ampp"'),
        ("18 kHz to 45 Hz", 'id = "f"'),
        ("nowhere", 'must_sound = [{ what = "chime", from = "nowhere" }]'),
    ):
        assert any(found in said and line in at for said, at in told), (found, line, sorted(told))
    said = str(error.value)
    assert "a side that this opening is not on" in said  # cargo-wall has just one
    assert "'front-door' is near" in said
    assert "shunt C 4.7 uF" in said
    assert "length" in next(p for p in error.value.problems if "lenght" in p.key).nearest
    assert all(problem.accepted for problem in error.value.problems)


GATE = "traced = true, not_yellow = true, not_airbag = true, battery_off = true, unplugged = true"


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ('colors = ["YE", "BK"]\nends_at = "woofer"\nresistance = "2 ohm"', "yellow"),
        ('colors = ["OG/BK", "BK"]\nends_at = "woofer"\nresistance = "2 ohm"', "orange"),
        ('ends_at = "tweeter"\ncone = "out"', "woofers only"),
        ('cone = "out"', "woofers only"),  # nobody has said what it ends at
        ('ends_at = "woofer"\ncapacitor = true\ncone = "out"', "no capacitor in line"),
        ('ends_at = "woofer"\ncone = "out"\ncell = "9 V"', "one 1.5 V cell"),
        ('ends_at = "woofer"\ncone = "out"\nheld = "3 s"', "half a second"),
        ('ends_at = "woofer"\nresistance = "3 ohm"\nleads = "4 ohm"', "clean the tips"),
    ],
)
def test_what_can_hurt_is_refused_whatever_was_confirmed(lines: str, words: str) -> None:
    with pytest.raises(JobError, match=words):
        loads(BARE + f'\n[[pair]]\nid = "p"\nconfirmed = {{ {GATE} }}\n{lines}\n')
