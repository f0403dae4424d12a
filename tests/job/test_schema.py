"""The JSON Schema and the reference page say what the model says."""

from __future__ import annotations

import importlib.util
import tomllib
from pathlib import Path
from typing import Any

from backwave.job import loads, schema

ROOT = Path(__file__).resolve().parents[2]


def test_the_page_in_docs_is_the_one_the_model_makes() -> None:
    spec = importlib.util.spec_from_file_location("make_docs", ROOT / "tools/make_docs.py")
    assert spec is not None
    assert spec.loader is not None
    make_docs = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(make_docs)
    page = (ROOT / "docs/job-file.md").read_text(encoding="utf-8")
    assert page == make_docs.job_file(), "run: make docs"


def errors(value: Any, rule: dict[str, Any], defs: dict[str, Any], path: str = "") -> list[str]:
    """What a value breaks of the few keywords of JSON Schema (draft 2020-12) that our schema uses."""
    if "$ref" in rule:
        return errors(value, defs[rule["$ref"].rpartition("/")[2]], defs, path)
    for form in ("anyOf", "oneOf"):
        if form in rule and all(errors(value, r, defs, path) for r in rule[form]):
            return [f"{path}: none of {form}"]
    kinds = {"object": dict, "array": list, "string": str, "number": (int, float), "integer": int, "boolean": bool,
             "null": type(None)}  # fmt: skip
    wanted = rule.get("type", [])
    wanted = [wanted] if isinstance(wanted, str) else wanted
    if wanted and not any(isinstance(value, kinds[w]) for w in wanted):  # type: ignore[arg-type]
        return [f"{path}: not {wanted}"]
    if value not in rule.get("enum", [value]) or value != rule.get("const", value):
        return [f"{path}: {value!r} is not one of the words"]
    found = []
    if isinstance(value, dict):
        known = rule.get("properties", {})
        rest = rule.get("additionalProperties", True)
        found += [f"{path}: no {k}" for k in rule.get("required", []) if k not in value]
        for k, v in value.items():
            below = known.get(k, rest)
            if below is False:
                found.append(f"{path}.{k}: unknown")
            elif isinstance(below, dict):
                found += errors(v, below, defs, f"{path}.{k}")
    if isinstance(value, list):
        first = rule.get("prefixItems", [])
        if not rule.get("minItems", 0) <= len(value) <= rule.get("maxItems", len(value)):
            found.append(f"{path}: {len(value)} items")
        for i, v in enumerate(value):
            found += errors(v, first[i] if i < len(first) else rule.get("items", {}), defs, f"{path}[{i}]")
    return found


def test_the_schema_accepts_what_the_reader_accepts_and_refuses_a_wrong_key() -> None:
    document = schema.json_schema()
    for file in ("docs/example-job.toml", "src/backwave/cli/demo_job/job.toml"):
        text = (ROOT / file).read_text(encoding="utf-8")
        loads(text)
        data = tomllib.loads(text)
        assert errors(data, document, document["$defs"]) == []
    data["speaker"][0]["frnt"] = "9 mm"
    data["opening"][0]["zone"] = "roof"
    data["opening"][0]["hole"] = {"diameter": ["143.5 mm"]}
    del data["adapter"][0]["material"]
    assert len(errors(data, document, document["$defs"])) == 4


def test_every_key_has_a_meaning_and_every_assumed_default_a_ground() -> None:
    document = schema.json_schema()
    tables = [document, *document["$defs"].values()]
    assert sum(len(t.get("properties", {})) for t in tables) > 100
    for table in tables:
        for key, rule in table.get("properties", {}).items():
            assert rule.get("description"), f"{table.get('title')}.{key}"
            if "x-assumed" in rule:
                assert rule["x-assumed"]
