"""What a key, a finding's code or a word of the trade means: what `backwave help` prints and the page's "?" shows.

Keys come from the model, codes from `finding.CODES`, words from `WORDS`; an example is what the demo job says there, so
that it is one a job takes.  Nothing is computed, and nothing is read but what is installed."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from backwave.finding import CODES
from backwave.job.fields import keys_of, table_in
from backwave.job.model import JobFile
from backwave.job.schema import accepted, default_of, dim_in, is_list, literals_in
from backwave.job.toml_spans import KeyPath, written
from backwave.units import Quantity, parse

# What the pages and docs say in passing, as one fitter would tell it to another.
WORDS: dict[str, str] = {
    "adapter": "the part between metal and speaker: ring, spacer or plate; what you make",
    "back gasket": "foam or butyl between the adapter and the metal; how thick it closes adds to the stand-off",
    "caution": "a verdict: look again. It may go, or something that decides it was not entered",
    "clip": "an output is asked for more volts than it has: the tops of the wave are cut off",
    "collar": "a raised rim of the adapter that keeps the foam ring in place",
    "crossover": "what shares the sound out between woofer and tweeter: a passive network or filters",
    "dummy": "a printed stand-in for the speaker's back, with the margin on: it goes in before the speaker does",
    "excursion": "how far the cone moves from rest, one way",
    "foam ring": "the ring between adapter and grille that keeps the front wave out of the door",
    "margin": "room that is kept for practical reasons, on top of what the readings may be out by",
    "ok": "a verdict: judged, and it holds for all that the readings may be out by",
    "place": "an opening on one side, such as front-door.left",
    "polarity": "whether + at the terminals moves the cone outward; two speakers of one band have to agree",
    "spigot": "the ring of the adapter that goes into the hole and centers it",
    "stage": "a step of the work that is worth hearing by itself: as it was, new speakers, amplifier",
    "stand-off": "metal to the mounting side of the speaker's rim: back gasket as closed and adapter; also: seat height",
    "stop": "a verdict: it harms or cannot be used, with what to change",
    "sweep": "a tone that rises through all frequencies; its recording gives the response",
    "test ring": "a thin first layer of the real part with its holes: ten minutes of printing, tried on the door",
    "uncertainty": 'how far a number may be out: "71 ± 1 mm" either way, "71 mm u 0.4 mm" as a standard uncertainty',
    "window": "the span of stand-offs at which glass and grille both keep their margins; also the door's glass",
}
# what people call it: the word it stands under
_ALSO = {"seat height": "stand-off", "standoff": "stand-off", "stand in": "dummy", "check ring": "test ring",
         "gasket": "back gasket", "travel": "excursion", "phase": "polarity", "u": "uncertainty", "±": "uncertainty"}  # fmt: skip
# an example where neither the demo, a default nor a list of words gives one; trade practice, from memory
_USUAL: dict[str, Any] = {
    "length": "12 mm", "angle": "45 deg", "area": "20 cm2", "volume": "14 L", "mass": "0.4 kg", "time": "1.7 ms",
    "frequency": "80 Hz", "resistance": "3.4 ohm", "inductance": "0.3 mH", "capacitance": "10 uF", "voltage": "12.6 V",
    "current": "25 A", "power": "75 W", "capacity": "60 Ah", "surface density": "2 kg/m2", "speed": "60 mm/s",
    "level": "-3 dB", "ratio": "40 %", "compliance": "0.8 mm/N", "force factor": "5 Tm",
    "mechanical resistance": "1.2 kg/s", "temperature": "60 degC",
    "points [x": [[70, 0], [0, 70], [-70, 0], [0, -70]], "points [H": [[40, 0], [80, -3]],
}  # fmt: skip
# the same by key, for texts and numbers
_OWN: dict[str, Any] = {
    "name": "Front door", "id": "main", "by": "caliper", "where": "half window, 4 o'clock", "Qts": 0.6,
    "absorption_q": 30, "impedance": "readings/impedance.txt", "response": "readings/on-axis.txt", "from": "block",
    "into": "amp", "style": "blade", "charged_through": "isolator", "opening": "front-door", "also": ["dash"],
    "confirmed": {"traced": True}, "group": "front", "channel": 1, "microphone": "readings/mic.txt",
    "kept": ["amplified"], "people": ["Sam"], "code": "KXMT-17.4", "slots": {"x": "70 mm", "y": "0 mm", "width": "5 mm", "length": "9 mm", "angle": "0 deg"},
    "room": 2,
}  # fmt: skip


@dataclass(frozen=True)
class KeyHelp:
    name: str  # "opening.behind.clear", positions and sides left out; a finding's code; a word
    kind: Literal["key", "table", "finding", "word"]
    meaning: str
    accepted: str = ""  # what may stand there, with units and bounds
    default: str = ""  # what is taken where it is left out; "" for nothing
    ground: str = ""  # and why that
    example: str = ""  # a line of the file
    used: bool = True  # whether something computes with it
    keys: tuple[str, ...] = ()  # of a table: what it holds


def of(path: KeyPath) -> KeyHelp | None:
    """Of one field, by its path in the file; None where no such key is."""
    return _keys().get(".".join(k for k in path if isinstance(k, str) and k not in ("left", "right")))


def look_up(said: str) -> tuple[tuple[KeyHelp, ...], tuple[str, ...]]:
    """What goes by a name, all of it; and where nothing does, names that are near or whose meaning has the word."""
    name = re.sub(r"\[\d*\]|@.*", "", said.strip()).strip(".[]").lower()
    name = re.sub(r"\.(left|right)\b", "", name)
    if not name:
        return (), ()
    known = _everything()
    found = [one for one in known if one.name.lower() == name] or [
        one for one in known if one.name.lower().endswith("." + name)
    ]
    found += [one for one in known if one.kind == "word" and one.name == _ALSO.get(name, name) and one not in found]
    if found:
        return tuple(found), ()
    ends = {end.lower(): one.name for one in known for end in (one.name.rpartition(".")[2], one.name)}
    near = [ends[n] for n in get_close_matches(name, ends, n=5, cutoff=0.72)]
    stem = re.compile(rf"\b{re.escape(name.rstrip('s'))}")
    told = [one.name for one in known if stem.search(one.meaning.lower())]
    return (), tuple(dict.fromkeys([*near, *told]))[:8]


@cache
def _everything() -> tuple[KeyHelp, ...]:
    codes = (KeyHelp(code, "finding", said, example=f"backwave why JOB {code}") for code, said in CODES.items())
    return (*_keys().values(), *codes, *(KeyHelp(word, "word", said) for word, said in WORDS.items()))


@cache
def _keys() -> dict[str, KeyHelp]:
    """Every key of the file, in its order; a side of an opening holds what the opening does."""
    shown = _shown()

    def walk(model: type[BaseModel], at: str, above: tuple[type[BaseModel], ...]) -> Iterator[KeyHelp]:
        for key, info in keys_of(model).items():
            below = table_in(info.annotation)
            if below in above or (at == "opening" and key in ("left", "right")):
                continue
            name = f"{at}.{key}" if at else key
            yield _of_key(name, info, below, shown.get(name))
            if below is not None:
                yield from walk(below, name, (*above, below))

    return {one.name: one for one in walk(JobFile, "", (JobFile,))}


def _of_key(name: str, info: FieldInfo, below: type[BaseModel] | None, shown: Any) -> KeyHelp:
    extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
    made = KeyHelp(
        name, "table" if below else "key", info.description or "", accepted(info),
        "" if info.is_required() else default_of(info), str(extra.get("x-assumed", "")), used=extra.get("x-used") is not False,
        keys=tuple(keys_of(below)) if below else (),
    )  # fmt: skip
    return replace(made, example=_example(made, info, below, shown))


def _example(made: KeyHelp, info: FieldInfo, below: type[BaseModel] | None, shown: Any) -> str:
    key, many = made.name.rpartition(".")[2], is_list(info.annotation)
    if (below is not None or key == "stock") and "." not in made.name:
        return "[[stock.material]]" if key == "stock" else f"[[{key}]]" if many else f"[{key}]"
    if shown is None:
        shown = _usual(made, info, below)
        if below is not None and shown is not None and many:
            shown = [shown]
    return "" if shown is None else f"{key} = {written([shown])[1:-1]}"


def _usual(made: KeyHelp, info: FieldInfo, below: type[BaseModel] | None) -> Any:
    """A value that may stand there, where the demo has none: what is taken when it is left out, what its meaning names,
    or one of its kind."""
    key = made.name.rpartition(".")[2]
    usual = None if info.is_required() else info.get_default(call_default_factory=True)
    dim, words, many = dim_in(info.annotation, info), literals_in(info.annotation), is_list(info.annotation)
    if below is not None:
        keys = keys_of(below)
        needed = {k: f for k, f in keys.items() if f.is_required()} or dict(list(keys.items())[:1])
        inner = {
            k: _usual(KeyHelp(k, "key", f.description or "", accepted(f)), f, table_in(f.annotation))
            for k, f in needed.items()
        }
        return _OWN.get(key, inner)
    if isinstance(usual, Quantity):
        return usual.text
    if isinstance(usual, tuple) and usual and isinstance(usual[0], Quantity):
        return [one.text for one in usual]
    if isinstance(usual, (str, int, float)) and usual != "":
        return usual
    if dim is not None:
        far = dim.dimension == "length" and parse(dim.bounds.maximum, "length").to("m") > 5.0
        one = "1.2 m" if far else _USUAL[dim.dimension]
        low, value, high = (parse(text, dim.dimension) for text in (dim.bounds.minimum, one, dim.bounds.maximum))
        text = dim.bounds.maximum if value.to(high.unit) > high.value else one
        text = dim.bounds.minimum if value.to(low.unit) < low.value else text
        return [text] * _how_many(info.annotation) if many and not dim.many else text
    if words:
        return [words[0]] if many else words[0]
    if made.accepted.startswith("true"):
        return True
    if (points := _USUAL.get(made.accepted[:9])) is not None or (points := _OWN.get(key)) is not None:
        return points
    if said := re.search(r'such as "?([^",;()]+)', made.meaning):
        return [said[1]] if many else said[1]
    if said := re.search(r"left out: ([\d.]+)|, (\d+) to", made.meaning + made.accepted):
        return float(said[1] or said[2])
    return None


def _how_many(annotation: Any) -> int:
    """Of a list: how many it has to have, 1 where any number will do."""
    if get_origin(annotation) is tuple:
        return 1 if Ellipsis in get_args(annotation) else len(get_args(annotation))
    return max((_how_many(one) for one in get_args(annotation)), default=1)


@cache
def _shown() -> dict[str, Any]:
    """What the demo job, which is installed with the rest, has at each key: the first of its kind."""
    path = Path(__file__).parents[1] / "cli" / "demo_job" / "job.toml"
    found: dict[str, Any] = {}

    def walk(node: dict[str, Any], at: str) -> None:
        for key, value in node.items():
            name = at if at == "opening" and key in ("left", "right") else f"{at}.{key}" if at else key
            rows = value if isinstance(value, list) and value and isinstance(value[0], dict) else [value]
            found.setdefault(name, rows[:1] if rows is value else value)
            for row in rows:
                if isinstance(row, dict):
                    walk(row, name)

    walk(tomllib.loads(path.read_text(encoding="utf-8")), "")
    return found
