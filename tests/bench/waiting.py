"""Waiting for what comes by itself."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any


def until(what: Callable[[], Any], seconds: float = 60.0) -> Any:
    """What it returns, as soon as that is anything."""
    end = time.monotonic() + seconds
    while not (found := what()):
        assert time.monotonic() < end, "it never came"
        time.sleep(0.05)
    return found


def go(page: Any, way: str) -> None:
    """To another place as a link leads there, without loading the page anew."""
    page.evaluate(
        """way => {
          const link = document.createElement('a');
          link.href = way;
          document.querySelector('main').append(link);
          link.click();
          link.remove();
        }""",
        way,
    )
    page.wait_for_function("way => location.pathname + location.hash === way", arg=way)
