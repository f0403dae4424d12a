"""All files of one side: there, whole, agreeing with each other, the same twice; a fault is a finding."""

from __future__ import annotations

import io
import json
import pickle
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pypdfium2
import pytest
import trimesh

from backwave.errors import BuildError, InputError
from backwave.files import part_files
from backwave.files.part_files import SideMade, SideOrder, make_side
from backwave.files.solid_files import read_step
from backwave.finding import Check, Message
from backwave.part.flat_patterns import check_ring
from backwave.part.order import PartOrder
from backwave.part.types import Lettering, Material, Printer, RingSpec, SheetStock, StandInSpec, Zone
from backwave.shape import circle
from tests.files.test_stl import admesh, read_stl
from tests.part.specs import PLAIN, full

pytestmark = [pytest.mark.kernel, pytest.mark.slow]

SPEC = full()
GAUGE = StandInSpec(((70.0, 0.0), (66.0, 14.0), (46.0, 38.0), (46.0, 64.0)), 20.0, 90.0, 5.0, code="KXMT-20.0")
FOAM = RingSpec(circle(90.0), circle(80.0), 10.0, name="foam ring")
KINDS = {"step", "stl", "3mf", "dxf", "template", "check_ring", "foam", "stand_in"}


def order(folder: Path, **changes: Any) -> SideOrder:
    part = PartOrder(
        "front-door.left", "left", "front-door.left", "Front door, left", SPEC, Material("ASA", 1070.0, 90.0),
        Printer(hole_extra_mm=0.2), Zone("door", 70.0), FOAM, GAUGE, check_ring(SPEC),
    )  # fmt: skip
    return SideOrder(replace(part, **changes), folder, "Night-round delivery van", "a1b2c3d4e5")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, SideMade]:
    folder = tmp_path_factory.mktemp("made")
    return folder, make_side(order(folder))


def test_every_file_is_there_and_nothing_else(made: tuple[Path, SideMade]) -> None:
    folder, side = made
    assert set(side.files) == KINDS
    assert {p.name for p in folder.iterdir()} == set(side.files.values())
    assert all(c.verdict == "ok" for c in side.checks), [c.title for c in side.checks]
    assert {c.code for c in side.checks} == {"part.solid", "part.wall", "part.read-back"}


def test_step_is_as_drawn_and_stl_as_printed(made: tuple[Path, SideMade]) -> None:
    folder, side = made
    assert side.facts is not None
    (solid,) = read_step(folder / side.files["step"]).solids()
    assert solid.volume == pytest.approx(side.facts.volume_mm3, rel=1e-6)
    stl = trimesh.load(folder / side.files["stl"])
    assert stl.is_watertight
    assert 0.99 < stl.volume / solid.volume < 1.0  # its holes are wider


def test_an_independent_checker_finds_every_stl_closed(made: tuple[Path, SideMade]) -> None:
    folder, side = made
    for kind in ("stl", "check_ring", "stand_in"):
        counts, volume = admesh(folder / side.files[kind])
        assert counts["disconnected"] == counts["degenerate"] == counts["reversed"] == 0, kind
        assert counts["parts"] == 1
        assert volume > 0.0


def test_3mf_and_stl_are_one_mesh(made: tuple[Path, SideMade]) -> None:
    import lib3mf

    folder, side = made
    model = lib3mf.get_wrapper().CreateModel()
    model.QueryReader("3mf").ReadFromFile(str(folder / side.files["3mf"]))
    objects = model.GetMeshObjects()
    objects.MoveNext()
    mesh = objects.GetCurrentMeshObject()
    assert mesh.IsManifoldAndOriented()
    stl = read_stl((folder / side.files["stl"]).read_bytes())
    assert mesh.GetTriangleCount() == len(stl)
    points = np.array([list(v.Coordinates) for v in mesh.GetVertices()])
    assert points.max(axis=0) == pytest.approx(np.ptp(stl.reshape(-1, 3), axis=0), abs=1e-3)


def test_dxf_and_paper(made: tuple[Path, SideMade]) -> None:
    folder, side = made
    drawing = ezdxf.readfile(folder / side.files["dxf"])
    assert {e.dxf.layer for e in drawing.modelspace()} == {"CUT", "DRILL"}
    drilled = {round(2.0 * e.dxf.radius, 3) for e in drawing.modelspace().query("CIRCLE[layer=='DRILL']")}
    assert drilled == {5.5, 5.6}
    pages = pypdfium2.PdfDocument(folder / side.files["template"])
    assert len(pages) >= 3  # the ring, the foam, the card
    assert "measure this" in pages[0].get_textpage().get_text_range()


def test_manifest_entry(made: tuple[Path, SideMade]) -> None:
    _, side = made
    said = json.loads(json.dumps(side.manifest, allow_nan=False))
    assert side.facts is not None
    assert said["volume_mm3"] == pytest.approx(side.facts.volume_mm3)
    assert said["closed"] is True
    assert said["least_wall_mm"] > 0.9
    assert said["print"]["layers"] == 85  # 14 mm and a spigot of 3 mm, 0.2 mm a layer
    assert said["sheet"] is None
    assert said["dummy"] == {
        "code": "KXMT-20.0", "stand_off_mm": 20.0, "margin_mm": 5.0, "deeper": [], "terminals_deg": None,
    }  # fmt: skip


def test_the_same_order_gives_the_same_bytes(made: tuple[Path, SideMade], tmp_path: Path) -> None:
    folder, side = made
    again = make_side(pickle.loads(pickle.dumps(order(tmp_path))))
    for kind, name in again.files.items():
        assert (tmp_path / name).read_bytes() == (folder / side.files[kind]).read_bytes(), kind
    assert again.manifest == side.manifest
    pickle.loads(pickle.dumps(again))


def test_a_kernel_fault_is_a_finding_and_what_is_tried_first_is_still_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from backwave.part import solid

    def fails(*_: object) -> None:
        raise BuildError("relief", "radius 80 mm at 12 mm")

    (tmp_path / "front-door.left.stl").write_bytes(b"of an earlier run")
    monkeypatch.setattr(solid, "build", fails)
    side = make_side(order(tmp_path))
    (fault,) = [c for c in side.checks if c.verdict == "stop"]
    assert fault.code == "part.build"
    assert fault.title.quantities[0][1] == "relief"
    assert set(side.files) == TRIED  # a part that is stopped has no file to be cut or printed by
    assert not (tmp_path / "front-door.left.stl").exists()
    assert side.manifest["volume_mm3"] is None


def test_a_step_that_reads_back_wrong_is_a_finding(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise BuildError("STEP file", "25 faces written, 18 read back")

    monkeypatch.setattr(part_files, "write_step", fails)
    side = make_side(order(tmp_path, spec=PLAIN, ring=None, stand_in=None))
    assert [c.code for c in side.checks if c.verdict == "stop"] == ["part.read-back"]
    assert set(side.files) == {"check_ring", "template"}


def test_a_sheet_part_has_its_layers(tmp_path: Path) -> None:
    plain = replace(SPEC, spigot=None, notches=(), lettering=Lettering("L", up=False))
    kinds: dict[str, Any] = {"check_ring": check_ring(plain), "ring": None, "stand_in": None}
    sheet = order(tmp_path, spec=plain, how=SheetStock((9.0, 5.0)), **kinds)
    side = make_side(sheet)
    layers = {e.dxf.layer for e in ezdxf.readfile(tmp_path / side.files["dxf"]).modelspace()}
    assert {"CUT-layer 1 of 2 9 mm", "CUT-layer 2 of 2 5 mm", "ENGRAVE-layer 2 of 2 5 mm"} <= layers
    assert [layer["thickness_mm"] for layer in side.manifest["sheet"]["layers"]] == [9.0, 5.0]
    assert side.estimate is None
    bad = make_side(order(tmp_path / "bad", spec=PLAIN, how=SheetStock((9.0,)), **kinds))
    assert [c.code for c in bad.checks if c.verdict == "stop"] == ["part.sheet"]
    assert "dxf" not in bad.files


def test_an_order_with_an_unknown_paper_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="paper"):
        make_side(replace(order(tmp_path), paper="napkin"))
    assert not list(tmp_path.iterdir())


def test_a_name_cannot_lead_out_of_the_folder(tmp_path: Path) -> None:
    side = make_side(order(tmp_path / "made", id="../../x y/ö", spec=PLAIN, ring=None, stand_in=None))
    assert {p.name for p in tmp_path.iterdir()} == {"made"}
    assert all((tmp_path / "made" / name).is_file() for name in side.files.values())
    assert io.BytesIO((tmp_path / "made" / side.files["3mf"]).read_bytes()).read(2) == b"PK"


@pytest.mark.parametrize("wrong", [OSError(28, "full", "x.step"), MemoryError()])
def test_what_is_no_fault_of_the_part_is_no_verdict_and_leaves_no_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, wrong: Exception
) -> None:
    def full(*_: object) -> None:
        raise wrong

    monkeypatch.setattr(part_files, "write_step", full)
    plain = order(tmp_path, spec=PLAIN, check_ring=check_ring(PLAIN))
    with pytest.raises(type(wrong)):
        make_side(plain)
    assert list(tmp_path.iterdir()) == []


GLASS = Check("fit.glass", "stop", Message("Would touch"), remedy=Message("Raise it"))
TRIED = {"check_ring", "stand_in", "template"}


def _paper(path: Path) -> str:
    return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(path))


def test_of_a_stopped_part_there_is_what_settles_the_stop_and_no_older_file(tmp_path: Path) -> None:
    for name in ("front-door.left.step", "front-door.left-foam.dxf", "front-door.left-STOPPED-made-anyway.stl"):
        (tmp_path / name).write_bytes(b"of an earlier run")
    side = make_side(order(tmp_path, stopped=(GLASS,)))
    assert set(side.files) == TRIED
    assert {p.name for p in tmp_path.iterdir()} == set(side.files.values())
    assert side.manifest["stopped_by"] == ["fit.glass"]
    assert side.manifest["made_anyway"] is None
    assert "STOPPED: this is to try, not the part" in _paper(tmp_path / side.files["template"])


def test_a_part_made_against_a_stop_says_so_in_names_and_on_paper(tmp_path: Path) -> None:
    make_side(order(tmp_path))
    side = make_side(order(tmp_path, stopped=(GLASS,), anyway="window stays shut", flags=("terminals not measured",)))
    assert set(side.files) == KINDS
    assert {p.name for p in tmp_path.iterdir()} == set(side.files.values())  # none of the unmarked ones
    for kind in ("step", "stl", "3mf", "dxf", "foam"):
        assert "STOPPED-made-anyway-terminals-not-measured" in side.files[kind]
    words = _paper(tmp_path / side.files["template"])
    assert "STOPPED: made anyway: window stays shut" in words
    assert "terminals not measured" in words
    assert "STOPPED: made anyway: window stays shut" in (tmp_path / side.files["dxf"]).read_text()
    assert side.manifest["made_anyway"] == "window stays shut"


def test_a_part_that_cannot_be_built_as_it_is_meant_is_not_built_whatever_the_reason(tmp_path: Path) -> None:
    for code in ("fit.seat", "part.bed"):
        check = Check(code, "stop", Message("leans"), remedy=Message("Straighten it"))
        side = make_side(order(tmp_path / code, stopped=(check,), anyway="I want it"))
        assert set(side.files) == TRIED
        assert side.manifest["made_anyway"] is None


def test_a_solid_that_turns_out_to_be_stopped_leaves_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wall = Check("part.wall", "stop", Message("a wall of nothing"), remedy=Message("Thicken it"))
    monkeypatch.setattr(part_files, "solid_checks", lambda *_: [wall])
    side = make_side(order(tmp_path))
    assert set(side.files) == TRIED
    assert {p.name for p in tmp_path.iterdir()} == set(side.files.values())
    assert wall in side.checks
    assert set(make_side(order(tmp_path, stopped=(wall,), anyway="a display piece")).files) == KINDS
