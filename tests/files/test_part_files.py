"""All files of one side: there, whole, agreeing with each other, the same twice; a fault is a finding."""

from __future__ import annotations

import io
import json
import pickle
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pypdfium2
import pytest
import trimesh

from backwave.errors import BuildError, InputError
from backwave.files import part_files
from backwave.files.part_files import SideMade, SideOrder, make_side
from backwave.files.step import read_step
from backwave.files.stl import read_stl
from backwave.part.flat_patterns import check_ring
from backwave.part.process import Material, Printer, SheetStock
from backwave.part.types import Lettering, RingSpec, StandInSpec
from backwave.shape import circle
from tests.files.test_stl import admesh
from tests.part.specs import PLAIN, full

pytestmark = [pytest.mark.kernel, pytest.mark.slow]

SPEC = full()
GAUGE = StandInSpec(((70.0, 0.0), (66.0, 14.0), (46.0, 38.0), (46.0, 64.0)), 20.0, 90.0, 71.75, 5.0)
FOAM = RingSpec(circle(90.0), circle(80.0), 10.0, name="foam ring")
KINDS = {"step", "stl", "3mf", "dxf", "template", "check_ring", "foam", "stand_in"}


def order(folder: Path) -> SideOrder:
    return SideOrder(
        "front-door.left", "left", "Front door, left", SPEC, Material("ASA", 1070.0, 90.0),
        Printer(hole_extra_mm=0.2), folder, check_ring(SPEC), FOAM, GAUGE, "Night-round delivery van", "a1b2c3d4e5",
    )  # fmt: skip


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


def test_the_same_order_gives_the_same_bytes(made: tuple[Path, SideMade], tmp_path: Path) -> None:
    folder, side = made
    again = make_side(pickle.loads(pickle.dumps(order(tmp_path))))
    for kind, name in again.files.items():
        assert (tmp_path / name).read_bytes() == (folder / side.files[kind]).read_bytes(), kind
    assert again.manifest == side.manifest
    pickle.loads(pickle.dumps(again))


def test_a_kernel_fault_is_a_finding_and_the_rest_is_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from backwave.part import solid

    def fails(*_: object) -> None:
        raise BuildError("relief", "radius 80 mm at 12 mm")

    (tmp_path / "front-door.left.stl").write_bytes(b"of an earlier run")
    monkeypatch.setattr(solid, "build", fails)
    side = make_side(order(tmp_path))
    (fault,) = [c for c in side.checks if c.verdict == "stop"]
    assert fault.code == "part.build"
    assert fault.title.quantities[0][1] == "relief"
    assert set(side.files) == KINDS - {"step", "stl", "3mf"}
    assert not (tmp_path / "front-door.left.stl").exists()
    assert side.manifest["volume_mm3"] is None


def test_a_step_that_reads_back_wrong_is_a_finding(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise BuildError("STEP file", "25 faces written, 18 read back")

    monkeypatch.setattr(part_files, "write_step", fails)
    side = make_side(replace(order(tmp_path), spec=PLAIN, ring=None, stand_in=None))
    assert [c.code for c in side.checks if c.verdict == "stop"] == ["part.read-back"]
    assert "step" not in side.files
    assert "stl" in side.files


def test_a_sheet_part_has_its_layers(tmp_path: Path) -> None:
    plain = replace(SPEC, spigot=None, notches=(), lettering=Lettering("L", up=False))
    sheet = replace(
        order(tmp_path),
        spec=plain,
        how=SheetStock((9.0, 5.0)),
        check_ring=check_ring(plain),
        ring=None,
        stand_in=None,
    )
    side = make_side(sheet)
    layers = {e.dxf.layer for e in ezdxf.readfile(tmp_path / side.files["dxf"]).modelspace()}
    assert {"CUT-layer 1 of 2 9 mm", "CUT-layer 2 of 2 5 mm", "ENGRAVE-layer 2 of 2 5 mm"} <= layers
    assert [layer["thickness_mm"] for layer in side.manifest["sheet"]["layers"]] == [9.0, 5.0]
    assert side.estimate is None
    bad = make_side(replace(sheet, spec=PLAIN, how=SheetStock((9.0,)), folder=tmp_path / "bad"))
    assert [c.code for c in bad.checks if c.verdict == "stop"] == ["part.sheet"]
    assert "dxf" not in bad.files


def test_an_order_with_an_unknown_paper_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="paper"):
        make_side(replace(order(tmp_path), paper="napkin"))
    assert not list(tmp_path.iterdir())


def test_a_name_cannot_lead_out_of_the_folder(tmp_path: Path) -> None:
    side = make_side(replace(order(tmp_path / "made"), id="../../x y/ö", spec=PLAIN, ring=None, stand_in=None))
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
    plain = replace(order(tmp_path), spec=PLAIN, check_ring=check_ring(PLAIN))
    with pytest.raises(type(wrong)):
        make_side(plain)
    assert list(tmp_path.iterdir()) == []
