"""What `make` keeps beside the parts: findings of each solid under the digest of what it was built from."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from backwave.atomic_write import write_whole

NAME = ".cache/solids.json"


def read_kept(made: Path) -> dict[str, dict[str, Any]]:
    """What was kept; empty where nothing was, or where it cannot be read (it is made anew then)."""
    path = made / NAME
    try:
        held = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return held if isinstance(held, dict) and all(isinstance(v, dict) for v in held.values()) else {}


def write_kept(made: Path, kept: dict[str, dict[str, Any]]) -> None:
    """Keep it."""
    write_whole(made / NAME, (json.dumps(kept, indent=1, ensure_ascii=False) + "\n").encode())
