"""3MF: written by hand, read by the consortium's own library (3MF Core Specification 1.4.0)."""

from __future__ import annotations

import io
import zipfile
from typing import Any
from xml.etree import ElementTree

import lib3mf
import numpy as np
import pytest

from backwave.files.solid_files import threemf_bytes
from tests.files.test_stl import CUBE, FACES

WORDS = {"Title": "Front door <left> & more", "Job": "Night-round delivery van", "Revision": "a1b2"}


def read(data: bytes) -> Any:
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(data)
    assert reader.GetWarningCount() == 0
    return model


def test_another_library_reads_mesh_unit_and_words() -> None:
    model = read(threemf_bytes(CUBE - 40.0, FACES, "front-door.left", WORDS))
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    objects = model.GetMeshObjects()
    assert objects.MoveNext()
    mesh = objects.GetCurrentMeshObject()
    assert not objects.MoveNext()
    assert mesh.GetName() == "front-door.left"
    assert mesh.IsManifoldAndOriented()  # section 4.1: each edge shared by two, consistent orientation
    points = np.array([list(v.Coordinates) for v in mesh.GetVertices()])
    assert points.min() == 0.0  # sections 3.1 and 3.3: the positive octant
    np.testing.assert_allclose(points, CUBE)
    corners = points[np.array([list(t.Indices) for t in mesh.GetTriangleIndices()])]
    assert np.sum(np.cross(corners[:, 0], corners[:, 1]) * corners[:, 2]) / 6.0 == pytest.approx(1000.0)
    group = model.GetMetaDataGroup()
    said = [group.GetMetaData(k) for k in range(group.GetMetaDataCount())]
    assert {item.GetName(): item.GetValue() for item in said} == WORDS


def test_package_is_laid_out_as_the_specification_says() -> None:
    # Section 2.1 and appendix C.
    with zipfile.ZipFile(io.BytesIO(threemf_bytes(CUBE, FACES, "x", WORDS))) as pack:
        assert pack.namelist()[0] == "[Content_Types].xml"
        types = ElementTree.fromstring(pack.read("[Content_Types].xml"))
        assert "application/vnd.ms-package.3dmanufacturing-3dmodel+xml" in {t.get("ContentType") for t in types}
        relation = ElementTree.fromstring(pack.read("_rels/.rels"))[0]
        assert str(relation.get("Type")).endswith("/3dmanufacturing/2013/01/3dmodel")
        root = ElementTree.fromstring(pack.read(str(relation.get("Target")).lstrip("/")))
        assert root.tag.endswith("/3dmanufacturing/core/2015/02}model")
        assert root.get("unit") == "millimeter"


def test_same_part_same_bytes() -> None:
    assert threemf_bytes(CUBE, FACES, "x", WORDS) == threemf_bytes(CUBE, FACES, "x", WORDS)
    assert threemf_bytes(CUBE, FACES, "x", WORDS) != threemf_bytes(CUBE, FACES, "y", WORDS)
