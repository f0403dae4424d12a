"""Texts of a job on their way into files: each file is read back by a reader that does not know how it was written."""

from __future__ import annotations

import csv
import io
import os
import re
import subprocess
import sys
import unicodedata
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.drawing.template import template_svg
from backwave.files.flat_files import dxf_text, template_pdf, template_view
from backwave.files.pdf import typeset
from backwave.files.solid_files import step_string, stl_bytes, threemf_bytes
from backwave.part.flat_patterns import FlatPart
from backwave.plain_text import csv_bytes, plain_text
from backwave.report.blocks import par
from backwave.shape import circle
from tests.cli.command_line import SIX, run
from tests.files.test_dxf import pairs
from tests.files.test_stl import CUBE, FACES, read_stl

NASTY = [
    "Door, left\n0\nEOF",
    "Door\r\n  9\r\n$ACADVER",
    "\x1b]0;retitled\x07",
    "\x9b2Jcleared",
    "half \ud83d",
    "left\u202ethgir\u2066",
    "\ufffe<&>\"'--]]>",
    "it's \\ \\X2\\00FC\\X0\\ Tür 前 👩",
    '#eval("1+1") $x$ %%d ^J \\U+0041 \\P',
    "a\u2028b\x85c\x00d",
]
PLATE = FlatPart("plate", 18.0, (circle(60.0), circle(30.0)), ((50.0, 0.0, 5.5),))


def obeyed(text: str) -> set[str]:
    return {c for c in text if unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp")} - {"\n"}


@pytest.mark.parametrize("text", NASTY)
def test_dxf_is_read_and_holds_the_text_as_one_line(text: str) -> None:
    parts = [FlatPart(f"{text} 1", 18.0, PLATE.cut), FlatPart("layer 2 a/b:c*", 12.0, PLATE.cut)]
    written = dxf_text(parts, text)
    assert obeyed(written) == set()
    assert all(code in range(1072) for code, _ in pairs(written))  # group codes end at 1071
    drawing = ezdxf.read(io.StringIO(written))
    assert not drawing.audit().has_errors
    assert list(drawing.header.custom_vars) == [("Title", plain_text(text))]
    assert len({entity.dxf.layer for entity in drawing.modelspace()}) == 2


@pytest.mark.parametrize("text", NASTY)
def test_3mf_and_svg_are_xml_and_stl_has_its_header(text: str) -> None:
    with zipfile.ZipFile(io.BytesIO(threemf_bytes(CUBE, FACES, text, {"Title": text, "Job": text}))) as pack:
        root = ElementTree.fromstring(pack.read("3D/3dmodel.model"))
    said = [one.text for one in root if one.tag.endswith("}metadata")]
    assert said == [plain_text(text)] * 2
    view = template_view(PLATE, text, text, "left", "a1b2")
    for svg in template_svg(view, "A4"):
        ElementTree.fromstring(svg)
        assert obeyed(svg) == set()
    stl = stl_bytes(CUBE, FACES, text)
    assert re.fullmatch(rb"[ -~]{80}", stl[:80])
    assert len(read_stl(stl)) == len(FACES)


def test_pdf_holds_every_text_as_a_text() -> None:
    told = " | ".join(NASTY)
    pdf = pypdfium2.PdfDocument(template_pdf([PLATE], told, told, "left", "a1b2"))
    assert obeyed(pdf.get_metadata_dict()["Title"]) == set()
    chapter = {"title": "Nasty", "blocks": [par(told)], "flow": True}
    data = {"title": told, "kind": told, "paper": "A4", "private": True, "chapters": [chapter]}
    stamp = dict.fromkeys(("revision", "date", "digest", "whole"), told)
    made = pypdfium2.PdfDocument(typeset("dossier/templates/dossier.typ", data, {}, stamp))
    text = "".join(page.get_textpage().get_text_range() for page in made)
    assert obeyed(text) <= {"\r", "\x02"}  # what the reader itself puts at the ends of lines
    assert "]0;retitled" in text
    assert '#eval("1+1")' in text


# ISO 10303-21:2002, 6.4.3: letters of 6.1, apostrophe and reverse solidus doubled, control directives X2 and X4.
_STEP_STRING = re.compile(r"'(?:[ !-&(-\[\]-~]|''|\\\\|\\X2\\(?:[0-9A-F]{4})+\\X0\\|\\X4\\(?:[0-9A-F]{8})+\\X0\\)*'")


def step_read(coded: str) -> str:
    """A string of the standard, by the letter of it."""
    assert _STEP_STRING.fullmatch(coded), coded
    out, rest = "", coded[1:-1]
    while rest:
        if wide := re.match(r"\\X([24])\\([0-9A-F]+)\\X0\\", rest):
            size = 2 * int(wide[1])
            out += "".join(chr(int(wide[2][k : k + size], 16)) for k in range(0, len(wide[2]), size))
            rest = rest[wide.end() :]
        else:
            step = 2 if rest[0] in "'\\" else 1
            out, rest = out + rest[0], rest[step:]
    return out


@given(st.sampled_from(NASTY) | st.text(st.characters(exclude_categories=())))
def test_a_step_string_is_one_of_the_standard_and_says_the_same(text: str) -> None:
    assert step_read(step_string(text)) == plain_text(text)


@pytest.mark.kernel
def test_a_step_file_is_ascii_and_its_name_is_read_by_the_kernel(tmp_path: Path) -> None:
    from build123d import Box, import_step

    from backwave.files.solid_files import write_step

    solid = Box(10.0, 20.0, 30.0).solid()
    for text in NASTY:
        write_step(solid, tmp_path / "x.step", text)
        written = (tmp_path / "x.step").read_bytes()
        assert re.fullmatch(rb"[\n -~]*", written)
        found = re.search(r"PRODUCT\(('(?:[^']|'')*'),", written.decode())
        assert found is not None
        assert step_read(found[1]) == plain_text(text)
    write_step(solid, tmp_path / "y.step", "Tür's-前")
    assert import_step(tmp_path / "y.step").label == "Tür's-前"


TRIGGERS = tuple("=+-@\uff1d\uff0b\uff0d\uff20")
CELLS = st.text(st.sampled_from("a1;,'\" \t\r\n=+-@.\u00a0\uff1d")) | st.text() | st.sampled_from(NASTY)


@given(st.lists(st.lists(CELLS, min_size=1, max_size=4), min_size=1, max_size=3))
def test_no_cell_is_a_formula_however_a_spreadsheet_parts_the_file(rows: list[list[str]]) -> None:
    text = csv_bytes([["head"], *rows]).decode("utf-8-sig")
    for line in text.splitlines():
        ways = [next(csv.reader([line], delimiter=mark)) for mark in ",;\t"]
        ways += [line.split(";"), line.split("\t")]
        for cells in ways:
            for cell in cells:
                bare = cell.strip().strip("\"'").strip() if not cell.lstrip(' \u00a0"').startswith("'") else ""
                number = re.fullmatch(r"\s*[+-]?[\d.,]+(?:[eE][+-]?\d+)?\s*", cell.partition(",")[0].strip('"'))
                assert not bare.startswith(TRIGGERS) or number, (line, cell)


def test_cells_come_back_and_numbers_stay_numbers() -> None:
    rows = [
        ["id", "what"],
        ["-3.5", "+2"],
        ["-1,5", "1e-3"],
        ["a;=1+1", " =1"],
        ['say "x", y', "=SUM(A1)"],
        ["-x", "@a"],
    ]
    back = list(csv.reader(io.StringIO(csv_bytes(rows).decode("utf-8-sig"))))
    assert back[:3] == rows[:3]
    assert back[3:] == [["a;'=1+1", " '=1"], ['say "x", y', "'=SUM(A1)"], ["'-x", "'@a"]]


_SEEDED = """
import hashlib
from backwave.plain_text import csv_bytes
from backwave.files.flat_files import dxf_text
from backwave.files.solid_files import stl_bytes
from backwave.files.flat_files import template_pdf
from backwave.files.solid_files import threemf_bytes
from backwave.part.flat_patterns import FlatPart
from backwave.shape import circle, rounded_polygon
from tests.files.test_stl import CUBE, FACES

plate = rounded_polygon([(-60.0, -40.0), (60.0, -40.0), (60.0, 40.0), (-60.0, 40.0)], 10.0)
parts = [FlatPart("layer 1", 18.0, (plate, circle(30.0)), ((50.0, 0.0, 5.5),)), FlatPart("layer 2", 12.0, (plate,))]
made = [dxf_text(parts, "Front door").encode(), threemf_bytes(CUBE, FACES, "x", {"Title": "a", "Job": "b"}),
        stl_bytes(CUBE, FACES, "x"), template_pdf(parts, "job", "label", "left", "a1b2"), csv_bytes([["a", "b"]])]
print([hashlib.sha256(one).hexdigest() for one in made])
"""


def test_the_same_files_whatever_the_hash_seed() -> None:
    said = set()
    for seed in ("0", "4"):
        env = {**os.environ, "PYTHONHASHSEED": seed}
        root = Path(__file__).resolve().parents[2]
        done = subprocess.run(
            [sys.executable, "-c", _SEEDED], capture_output=True, text=True, env=env, cwd=root, check=True
        )
        said.add(done.stdout)
    assert len(said) == 1


@pytest.mark.slow
@pytest.mark.kernel
def test_the_same_job_makes_the_same_files_in_every_process(tmp_path: Path) -> None:
    found = []
    for seed, more in (("0", []), ("4", ["--part", "front-door-woofer-right"])):
        folder = tmp_path / seed / "van"
        env = {**os.environ, "PYTHONHASHSEED": seed}
        assert run("new", folder, "--title", "v", *SIX, "--behind", "72 mm", "--trim", "60 mm").returncode == 0
        # the second makes one part first and alone, so that another process, or another order, makes the other
        for args in (["make", folder, *more], ["make", folder])[not more :]:
            command = [sys.executable, "-m", "backwave", *map(str, args)]
            done = subprocess.run(command, capture_output=True, text=True, env=env, check=False)
            assert done.returncode == 0, done.stderr
        made = folder / "made"
        found.append(
            {path.relative_to(made).as_posix(): path.read_bytes() for path in made.rglob("*") if path.is_file()}
        )
    assert found[0].keys() == found[1].keys()
    assert [name for name, data in found[0].items() if found[1][name] != data] == []
    assert {".step", ".stl", ".3mf", ".dxf", ".pdf", ".json", ".svg"} <= {Path(name).suffix for name in found[0]}
