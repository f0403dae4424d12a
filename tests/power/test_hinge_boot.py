"""Wires through a boot: share of its bore against the National Electrical Code's 40 %, and what outranks it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.power.harness_leads import FILL, boot_check


def test_the_limit_is_the_codes() -> None:
    # NEC chapter 9, table 1: 53 % for one conductor, 31 % for two, 40 % for more (three public copies agree).
    assert FILL == 0.40


def test_a_worked_share() -> None:
    # 22 mm bore, 12 mm loom, two of 2.4 mm: (144 + 2 x 5.76)/484 = 32.1 %; sixteen: 48.8 %
    two = boot_check(2, 2.4, 22, 12)
    assert (two.verdict, two.value) == ("ok", pytest.approx(0.32132, abs=1e-5))
    sixteen = boot_check(16, 2.4, 22, 12)
    assert (sixteen.verdict, sixteen.value) == ("caution", pytest.approx(0.48793, abs=1e-5))
    assert sixteen.remedy is not None
    assert "airbags" in sixteen.remedy.template


@given(st.integers(0, 12), st.integers(0, 12), st.floats(1, 30), st.floats(0, 1))
def test_a_try_outranks_bore_and_loom(wires: int, room: int, bore: float, share: float) -> None:
    assert boot_check(wires, 2.4, bore, share * bore, room).verdict == ("ok" if wires <= room else "caution")


@given(st.integers(1, 12), st.floats(1, 5), st.floats(8, 40), st.floats(0.0, 0.9))
def test_one_wire_more_is_never_better(wires: int, thick: float, bore: float, share: float) -> None:
    first, more = (boot_check(n, thick, bore, share * bore).verdict for n in (wires, wires + 1))
    assert (first, more) != ("caution", "ok")


def test_what_nobody_measured_is_asked_for_and_no_wire_asks_nothing() -> None:
    asked = boot_check(2, 2.4)
    assert asked.verdict == "caution"
    assert "bore and loom" in asked.title.template
    assert boot_check(0, 2.4).verdict == "ok"
    assert "Not one wire" in boot_check(1, 3.0, 14, 12).title.template


@pytest.mark.parametrize("bad", [(-1, 2.4), (2, 0.0), (2, 2.4, -3.0), (2, 2.4, 20.0, 21.0)])
def test_what_cannot_be_is_refused(bad: tuple[float, ...]) -> None:
    with pytest.raises(InputError):
        boot_check(*bad)  # type: ignore[arg-type]  # wrong on purpose
