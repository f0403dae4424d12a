"""The manifest: the keys others rely on, the same bytes twice, no number that is none."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from backwave.atomic_write import write_whole
from backwave.errors import InputError
from backwave.files.manifest import OWN, document_bytes, part_entry, part_folders, put_by
from backwave.files.solid_files import StepFacts
from backwave.part.flat_patterns import check_ring, sheet_layers
from backwave.part.order import PartOrder
from backwave.part.process_checks import print_estimate
from backwave.part.solid_checks import SolidFacts, Wall
from backwave.part.types import AdapterSpec, Material, Printer, SheetStock, Zone
from backwave.shape import circle

KEYS = {"id", "side", "files", "volume_mm3", "mass_kg", "bounds_mm", "closed", "least_wall_mm", "print", "sheet"}
ASA = Material("ASA", 1070.0, 90.0)
SPEC = AdapterSpec(circle(82.5), 18.0, 70.0, relief_mm=4.0)
PART = PartOrder(
    "front-door.left", "left", "front-door.left", "Front door, left", SPEC, ASA, Printer(), Zone("door", 70.0), None, None,
    check_ring(SPEC),
)  # fmt: skip


def entry(folder: Path, base: Path | None = None) -> dict[str, Any]:
    files = {k: write_whole(folder / "made" / f"a.{k}", k.encode()) for k in ("step", "stl")}
    return part_entry(
        PART,
        base or folder,
        files,
        "a1b2",
        SolidFacts(1e5, 1e5, 1e5, 0.107, (182.0, 182.0, 18.0), True, 1, Wall(float("nan"), (0.0, 0.0, 0.0), True)),
        StepFacts(12, 12, 1e5, 1e5),
        print_estimate(1e5, 18.0, ASA, Printer()),
        sheet_layers(SPEC, SheetStock((12.0, 6.0))),
    )


def test_the_keys_that_others_rely_on(tmp_path: Path) -> None:
    part = entry(tmp_path)
    assert set(part) >= KEYS
    assert part["files"] == {"step": "made/a.step", "stl": "made/a.stl"}
    assert part["least_wall_mm"] is None  # not a number is not written
    assert part["sha256"] == {k: hashlib.sha256(k.encode()).hexdigest() for k in ("step", "stl")}
    assert part["print"]["layers"] == 90
    assert [layer["by_hand"] for layer in part["sheet"]["layers"]] == [
        ["chamfer the bore's back edge at 45 degrees by 4 mm"],
        [],
    ]


def test_same_parts_same_bytes_and_plain_json(tmp_path: Path) -> None:
    def made() -> bytes:
        return document_bytes([entry(tmp_path)], "Night-round delivery van", "c3d4")

    said = made()
    assert said == made()
    read = json.loads(said, parse_constant=pytest.fail)
    assert (read["title"], read["job"], len(read["parts"])) == ("Night-round delivery van", "c3d4", 1)
    assert str(tmp_path) not in said.decode()


def test_a_file_outside_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="inside"):
        entry(tmp_path, tmp_path / "elsewhere")


def test_what_is_no_part_any_more_is_put_by_and_nothing_else(tmp_path: Path) -> None:
    """Folders that a manifest names and drawings of places that are gone; never what a person put there, never a way out."""
    made = tmp_path / "made"
    for name in (
        "now/a.stl",
        "gone/a.stl",
        "mine/notes.txt",
        "drawings/section-gone.svg",
        "drawings/section-now.svg",
        "drawings/supply.svg",
    ):
        (made / name).parent.mkdir(parents=True, exist_ok=True)
        (made / name).write_text(name, encoding="utf-8")
    (tmp_path / "outside").mkdir()
    files = {
        "stl": "gone/a.stl",
        "step": "now/a.step",
        "dxf": "../outside",
        "3mf": "/tmp/x",
        "template": "mine/sub/x.pdf",
    }
    (made / "manifest.json").write_text(json.dumps({"parts": [{"files": files}]}), encoding="utf-8")
    moved = put_by(made, ["now"], ["section-now.svg"], {})
    assert moved == ["gone", "drawings/section-gone.svg"]
    assert (made / "old" / "gone" / "a.stl").read_text(encoding="utf-8") == "gone/a.stl"
    assert (made / "old" / "drawings" / "section-gone.svg").is_file()
    assert sorted(p.name for p in made.iterdir()) == ["drawings", "manifest.json", "mine", "now", "old"]
    assert (tmp_path / "outside").is_dir()
    (made / "mine/a.stl").write_text("a person's own", encoding="utf-8")
    listed = {
        "a": "mine/b.stl",
        "b": "x" * 300 + "/a.stl",
        "c": "dossier/a.pdf",
        "d": "mine/notes.txt",
        "e": 1,
        "f": "\0/a.stl",
    }
    for parts in ([{"files": listed}], [{"files": [1]}, 2, None], 3, "x"):
        (made / "manifest.json").write_text(json.dumps({"parts": parts}), encoding="utf-8")
        assert put_by(made, ["now"], ["section-now.svg"], {}) == []
    (made / "manifest.json").write_text(json.dumps({"parts": [{"files": {"stl": "mine/a.stl"}}]}), encoding="utf-8")
    assert put_by(made, ["now"], ["section-now.svg"], {}) == ["mine/a.stl"]  # beside notes: the file alone
    assert (made / "mine" / "notes.txt").is_file()
    (made / "gone").mkdir()  # once more, made and gone again: the earlier one stays
    assert put_by(made, ["now"], ["section-now.svg"], {"gone": {"entry": {"files": {"stl": "gone/a.stl"}}}}) == ["gone"]
    assert {p.name for p in (made / "old").iterdir()} == {"drawings", "gone", "gone-2", "mine"}
    assert put_by(tmp_path / "nothing", [], [], {}) == []


def test_no_part_s_folder_is_one_of_another_s() -> None:
    ids = ["dossier", "Drawings", "old", "SOUND", "wires", "proof", "front-door.left"]
    found = part_folders(ids)
    assert found["front-door.left"] == "front-door.left"
    assert len({name.casefold() for name in found.values()} | set(OWN)) == len(ids) + len(OWN)
