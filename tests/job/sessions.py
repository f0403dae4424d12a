"""An example job in a folder, its session, and somebody else's text editor."""

from __future__ import annotations

import shutil
import tomllib
from pathlib import Path
from typing import Any

from backwave.job.session import Session
from backwave.job.undo import Conflict

EXAMPLE = Path(__file__).resolve().parents[2] / "docs/example-job.toml"
FLANGE = '{ traced = "photos/ring.toml" }'
TRIM = ("opening", 0, "trim", "clear")
SKIN = ("opening", 0, "skin")


def job_in(parent: Path) -> Path:
    (parent / "van").mkdir()
    shutil.copy(EXAMPLE, parent / "van/job.toml")
    return parent / "van"


def disk(session: Session) -> str:
    return (session.folder / "job.toml").read_bytes().decode()


def outside(session: Session, old: str, new: str) -> None:
    """Somebody's text editor."""
    text = disk(session)
    assert old in text
    (session.folder / "job.toml").write_bytes(text.replace(old, new, 1).encode())


def conflict(session: Session) -> Conflict | None:
    return session.conflict


def held_by(session: Session) -> Conflict:
    found = session.conflict
    assert found is not None
    return found


def comments(text: str) -> list[str]:
    return [line[line.index("#") :] for line in text.splitlines() if "#" in line]


def value(session: Session, path: tuple[str | int, ...]) -> Any:
    node: Any = tomllib.loads(session.text)
    for step in path:
        node = node[step]
    return node
