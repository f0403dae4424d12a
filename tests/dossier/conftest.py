"""A worked job told once for all tests of the dossier: the demo with readings, photographs, a log and prices."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from backwave.assess import assess, proven, with_comparisons
from backwave.assess.work.log_codec import done_of
from backwave.assess.work.work_plan import working
from backwave.dossier.context import PageContext, photographs
from backwave.dossier.pack import dossier_pdf
from backwave.files.photos import pictures_in
from backwave.files.recordings import Takes
from backwave.job import FILE, Job, load, loads, log

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job"
TEXT = (DEMO / FILE).read_text(encoding="utf-8").split("[[reading]]")[0]
READINGS = "".join(
    f'[[reading]]\nfile = "readings/{name}.txt"\nstage = "{stage}"\nseat = "driver"\n\n'
    for name, stage in (("before", "factory"), ("after", "subwoofer"))
)


def tell(job: Job, paper: str = "A4", date: str = "2026-03-14") -> PageContext:
    """A job by itself, without a folder."""
    result = with_comparisons(job, assess(job, draws=2_000))
    return PageContext(job, result, working(job, result), "1", date, paper)


def tell_folder(folder: Path, paper: str = "A4", date: str = "2026-03-14") -> PageContext:
    """A job folder with its readings, its log and its photographs, as `backwave pack` tells it."""
    job = load(folder)
    result = with_comparisons(job, proven(job, assess(job, draws=2_000), Takes(folder)))
    work = working(job, result, None, done_of(log.read(folder)), pictures_in(folder))
    return PageContext(job, result, work, "1", date, paper, photos=photographs(work, folder))


def photo(width: int, height: int, tag: str = "PRIVATECAMERA") -> bytes:
    """A picture as a telephone writes it: turned, with the place and the device beside it."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0112] = tag, 6
    place = exif.get_ifd(0x8825)
    place[1], place[2] = "N", (12.0, 34.0, 56.0)
    out = io.BytesIO()
    Image.radial_gradient("L").resize((width, height)).convert("RGB").save(out, "JPEG", exif=exif)
    return out.getvalue()


LOG = {
    "format": 1,
    "consent": [
        {"id": "drilling", "given": True, "who": "Ada", "text": "two holes of 4 mm", "when": "2026-03-14T08:00", "key": "c"}
    ],
    "tick": [{"id": "consent", "done": True, "minutes": 12.0, "when": "2026-03-14T10:00", "by": "Ada", "key": "t"}],
    "item": [{"id": "demo-165-mm-woofer-166-mm", "have": True, "price": 54.9, "key": "i", "when": "2026-03-14T08:30"}],
    "note": [
        {"id": "n0", "about": "condition", "text": "A scratch of 40 mm", "place": "front-door.left", "key": "0",
         "photos": ["photos/scratch.jpg"], "when": "2026-03-14T09:00", "by": "Ada"},
        {"id": "n1", "text": "Six clips along the lower edge", "place": "front-door.left", "clips": 6, "key": "1",
         "photos": ["photos/clips.jpg", "photos/lost.jpg"], "when": "2026-03-14T10:10", "by": "Bo"},
        {"id": "n2", "text": "Two screws behind the handle", "place": "front-door.left", "count": 2, "key": "2",
         "photos": ["photos/torn.jpg", "photos/huge.jpg", "photos/leads-out.jpg"], "when": "2026-03-14T10:20", "by": "Bo"},
    ],
    "refit": [{"id": "n2", "done": True, "count": 2, "when": "2026-03-14T17:00", "by": "Bo", "key": "r"}],
}  # fmt: skip


def furnish(folder: Path, text: str, said: dict[str, object]) -> Path:
    """A job folder with two responses, photographs good and bad and a log."""
    for name in ("readings", "photos"):
        (folder / name).mkdir(parents=True)
    (folder / FILE).write_text(text + READINGS, encoding="utf-8")
    f = np.geomspace(20.0, 20000.0, 240)
    for name, low_hz in (("before", 90.0), ("after", 35.0)):
        level = 70.0 - 10.0 * np.log10(1.0 + (low_hz / f) ** 4) + 2.0 * np.sin(3.0 * np.log(f))
        rows = "\n".join(f"{a:.3f} {b:.3f}" for a, b in zip(f, level))
        (folder / "readings" / f"{name}.txt").write_text(rows + "\n", encoding="utf-8")
    (folder / "photos" / "scratch.jpg").write_bytes(photo(2400, 1600))
    (folder / "photos" / "clips.jpg").write_bytes(photo(900, 1200))
    (folder / "photos" / "torn.jpg").write_bytes(photo(900, 1200)[:2000])
    with (folder / "photos" / "huge.jpg").open("wb") as file:
        file.truncate(41_000_000)  # sparse
    (folder.parent / "elsewhere.jpg").write_bytes(photo(90, 60))
    (folder / "photos" / "leads-out.jpg").symlink_to(folder.parent / "elsewhere.jpg")
    log.write(folder, said)
    return folder


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return furnish(tmp_path_factory.mktemp("dossier") / "job", TEXT, dict(LOG))


@pytest.fixture(scope="session")
def told(folder: Path) -> PageContext:
    return tell_folder(folder)


@pytest.fixture(scope="session")
def pdfs(told: PageContext) -> dict[str, bytes]:
    return {paper: dossier_pdf(replace(told, paper=paper)) for paper in ("A4", "Letter")}


HEAD = 'format = 1\ntitle = "A dozen"\ninstruments = { caliper = "0.05 mm", gauge = "1 mm" }\n\n'


def many(count: int) -> Job:
    """The cargo wall's opening and part, so many times."""
    return loads(many_text(count))


def many_text(count: int) -> str:
    """Its job file."""
    begin, end = TEXT.index('[[opening]]\nid      = "cargo-wall"'), TEXT.index("# ---- drivers")
    opening = TEXT[begin:end]
    speakers = TEXT[end : TEXT.index("# What the van came with")]
    part = '[[adapter]]\nopening = "{id}"\nspeaker = "demo-130"\nmaterial = "PETG"\nthreads = "insert M4 short"\n\n'
    ids = [f"wall-{n}" for n in range(count)]
    rows = [opening.replace("cargo-wall", name) + part.format(id=name) for name in ids]
    return HEAD + "\n".join(rows) + speakers
