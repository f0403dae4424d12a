"""The signal's way in a job: which amplifier has an input, which side is turned, what was tested at hand-over."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from backwave.assess import Memo, assess
from backwave.errors import JobError
from backwave.job import loads
from backwave.job.gates import Gates
from backwave.job.wiring import FactoryOutputTable

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "src/backwave/cli/demo_job/job.toml").read_text(encoding="utf-8")
MEMO = Memo()
CODES = ("power.signal", "wire.phase", "power.sleep", "power.whine")


class Confirmed(Gates):
    """Every gate of the outputs was confirmed: their readings count."""

    def counted(self, row: FactoryOutputTable) -> FactoryOutputTable:
        return row


def found(text: str, confirmed: bool = True) -> dict[str, str]:
    job = loads(text)
    made = assess(replace(job, gates=Confirmed()) if confirmed else job, MEMO, draws=300)
    return {f.id: f.check.verdict for f in made.findings if f.check.code in CODES}


def wrong(text: str) -> dict[str, str]:
    return {name: verdict for name, verdict in found(text).items() if verdict != "ok"}


def test_the_demo_and_the_example_are_sound() -> None:
    assert wrong(TEXT) == {}
    assert {"wire.phase.front-door@harness", "power.sleep@vehicle", "power.whine@vehicle"} <= set(found(TEXT))
    example = (ROOT / "docs/example-job.toml").read_text(encoding="utf-8")
    assert wrong(example) == {}
    assert found(example)["power.signal.head-unit level@amp"] == "ok"


def test_an_amplifier_with_no_input_is_a_stop() -> None:
    text = re.sub(r"\[\[wire\]\]\n(?:\w.*\n)+", "", TEXT).replace('into         = "bass-amp"\n', "")
    assert wrong(text) == {"power.signal.none@bass-amp": "stop"}
    way = '\n[[signal]]\nfrom = "head-unit"\noutput = "pre-out"\nloudest = "4 V"\ninto = "bass-amp"\ninput = "pre-in"\n'
    assert wrong(text + way) == {}


def test_one_door_turned_at_its_factory_output_or_its_path() -> None:
    unheard = TEXT.replace('in_phase      = ["front-door"]', "in_phase      = []")
    assert "wire.phase.front-door@harness" not in wrong(unheard)  # both outputs were read as alike
    assert found(unheard, confirmed=False)["wire.phase.front-door@harness"] == "caution"  # not confirmed, not used
    head, tail = unheard.split('id           = "front-left"', 1)
    output = head + 'id           = "front-left"' + tail.replace("polarity     = 1", "polarity     = -1", 1)
    assert wrong(output)["wire.phase.front-door@harness"] == "caution"
    last = unheard.index('id    = "subwoofer"')
    path = unheard[:last] + unheard[last:].replace('opening = "front-door", speaker = "demo-165",', 'opening = "front-door", speaker = "demo-165", polarity = -1,', 1)  # fmt: skip
    assert wrong(path)["wire.phase.front-door@harness"] == "caution"
    both = output.replace("in_phase      = []", 'in_phase      = ["front-door", "dash"]')
    assert "wire.phase.front-door@harness" not in wrong(both)  # heard in phase: the maker turned it on purpose


def test_what_was_not_tested_is_said() -> None:
    assert wrong(TEXT.replace("whine         = false", "whine         = true")) == {"power.whine@vehicle": "caution"}
    assert wrong(TEXT.replace('asleep_after  = "19 mA"', 'asleep_after  = "240 mA"')) == {
        "power.sleep@vehicle": "caution"
    }
    with pytest.raises(JobError, match="no opening of that id"):
        loads(TEXT.replace('in_phase      = ["front-door"]', 'in_phase      = ["back-door"]'))
