"""`backwave schema`: the JSON Schema of `job.toml`."""

from __future__ import annotations

import json


def run() -> None:
    """The JSON Schema of job.toml, for an editor that checks as you type."""
    from backwave.job import schema

    print(json.dumps(schema.json_schema(), indent=2, ensure_ascii=False))
