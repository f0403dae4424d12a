"""Face: the driver turned by button and by hand, the best turn marked, the gap read off."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any

from bench.waiting import until


def test_the_driver_is_turned_by_button(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    page = tab(running.url + "/face")
    page.get_by_role("button", name="Turn by one degree", exact=True).click()
    until(lambda: re.search(r'turn\s*= "46 deg"', running.text))
    page.get_by_role("button", name="Best rotation").click()
    until(lambda: not re.search(r'turn\s*= "46 deg"', running.text))


def test_the_driver_is_turned_by_hand(lent: Any, tab: Callable[..., Any]) -> None:
    """Taken hold of on the ring and carried 20 degrees round: live while held, written on release, one step."""
    running = lent
    before = running.text
    page = tab(running.url + "/face")
    page.wait_for_selector(".picture circle.bw-faint", state="attached")
    ring = page.evaluate(
        """() => {
          const all = [...document.querySelectorAll('.picture circle.bw-faint')];
          const ring = all.sort((a, b) => b.r.baseVal.value - a.r.baseVal.value)[0];
          ring.scrollIntoView({ block: 'center' });
          const box = ring.getBoundingClientRect();
          return [box.x + box.width / 2, box.y + box.height / 2, box.width / 2];
        }"""
    )

    def at(deg: float) -> tuple[float, float]:
        return (
            ring[0] + 0.85 * ring[2] * math.cos(math.radians(deg)),
            ring[1] - 0.85 * ring[2] * math.sin(math.radians(deg)),  # the screen's y points down
        )

    page.mouse.move(*at(0))
    page.mouse.down()
    for deg in (5, 10, 15, 20):
        page.mouse.move(*at(deg))
        page.wait_for_timeout(60)
    page.wait_for_function("/rotation (6[45]|66)/.test(document.querySelector('.picture').textContent)")
    assert running.text == before, "held, nothing is written"
    page.mouse.up()
    turn = until(lambda: re.search(r'turn\s*= "([\d.]+) deg"', running.text))
    assert abs(float(turn[1]) - 65.0) <= 1.0, "45 degrees as chosen, and 20"
    page.get_by_role("button", name=re.compile("Undo")).click()
    until(lambda: running.text == before)


def test_a_bad_turn_says_so_and_the_best_stays_marked(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    text = running.text
    page = tab(running.url + "/face", 390)
    # a hole of the driver right over the factory fixing at 90 degrees
    path = running.folder / "job.toml"
    path.write_text(
        text.replace('threads   = "insert M4"', 'threads   = "insert M4"\nturn = "0 deg"', 1), encoding="utf-8"
    )
    page.wait_for_function("document.querySelector('.turning .figure').textContent === 'Rotation 0.0°'")
    page.wait_for_function("document.querySelector('.seal').textContent.includes('Stop')")
    page.wait_for_function("document.querySelector('.picture').textContent.includes('best 15°')")
    page.wait_for_selector(".numbers li.stop")
