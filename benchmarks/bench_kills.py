"""Processes killed at random moments of saving: python -m benchmarks kills [KILLS]

Before, in 1,100: none lost or broken, 98 times what was left half-written shown as content, 309 files of it.
Limits: none of any.  The process is a fork of this one: not on Windows.
"""

from __future__ import annotations

import io
import os
import random
import signal
import sys
import tempfile
import time
import tomllib
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from backwave.files.photos import keep_picture, pictures_in
from backwave.job import Session, disk, load, log, shelf
from benchmarks.bench_edits import EXAMPLE

Victim = Callable[[Path, int], None]


def session(folder: Path, n: int) -> None:
    page = Session(folder, delay_s=0)
    page.set(("title",), f'"{n}" \\')
    page.flush()


def command(folder: Path, n: int) -> None:
    disk.update(folder, [(("title",), f'"{n}" \\')])


def words(folder: Path, n: int) -> None:
    log.add(folder, lambda _: [("word", {"n": n, "text": "x" * 200})])


def kept(folder: Path, n: int) -> None:
    shelf.save(load(folder), "opening", "front-door", "me", f"note {n}", shelf=folder / "shelf")


def photo(folder: Path, n: int) -> None:
    keep_picture(folder, f"photos/p{n}.jpg", PICTURE)


def picture() -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.effect_noise((320, 240), 40).save(out, "PNG")
    return out.getvalue()


PICTURE = picture()


def killed(victim: Victim, folder: Path, rng: random.Random) -> int:
    """How many times it was told that it is saved, before it was killed."""
    ready, told = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(ready)
            for n in range(1, 10_000):
                victim(folder, n)
                os.write(told, b".")
        except BaseException:  # noqa: BLE001 - whatever it is, it is shown, and the copy of this process ends here
            traceback.print_exc()
        finally:
            os._exit(1)
    os.close(told)
    done = len(os.read(ready, 1))  # it has begun
    if not done:
        raise RuntimeError(f"{victim.__name__} saves nothing")
    time.sleep(rng.uniform(0, 0.06))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    while part := os.read(ready, 1000):
        done += len(part)
    os.close(ready)
    return done


def judged(victim: Victim, folder: Path, done: int) -> Counter[str]:
    """What is wrong with the folder after it, before and after the next start."""
    wrong = Counter[str]()
    try:
        title = str(tomllib.loads((folder / "job.toml").read_text(encoding="utf-8"))["title"])
        rows = log.read(folder).get("word", [])
        file = load(folder).file
        there = {
            session: lambda: int(title.strip('" \\')), command: lambda: int(title.strip('" \\')),
            words: lambda: max(row["n"] for row in rows), kept: lambda: len(shelf.listing(folder / "shelf").entries),
            photo: lambda: len(pictures_in(folder)),
        }[victim]()  # fmt: skip
        wrong["lost"] += there < done or not file.opening
    except Exception as error:  # noqa: BLE001 - whatever it is, it is counted
        print(f"  {victim.__name__}: {error!r}")
        wrong["broken"] += 1
    wrong["shown"] += len(shelf.listing(folder / "shelf").problems) + sum("/." in p for p in pictures_in(folder))
    Session(folder)  # the next start
    shelf.listing(folder / "shelf")
    left = [p for p in folder.rglob(".*") if p.is_file() and p.name != ".lock"]
    wrong["left"] += len(left)
    return wrong


def main() -> int:
    kills, rng, all_wrong = int(sys.argv[-1]) if sys.argv[-1].isdecimal() else 50, random.Random(1), 0
    for victim in (session, command, words, kept, photo):
        wrong, saved = Counter[str](), 0
        for _ in range(max(1, kills // 5)):
            with tempfile.TemporaryDirectory() as made:
                folder = Path(made)
                (folder / "photos").mkdir()
                (folder / "job.toml").write_text(EXAMPLE, encoding="utf-8")
                done = killed(victim, folder, rng)
                saved += done
                wrong += judged(victim, folder, done)
        print(
            f"  {victim.__name__}: {max(1, kills // 5)} kills, {saved} saves told: {wrong['lost']} lost, {wrong['broken']} broken, "
            f"{wrong['shown']} half-written shown, {wrong['left']} left after the next start (limits 0)"
        )
        all_wrong += wrong.total()
    return all_wrong


if __name__ == "__main__":
    sys.exit(min(1, main()))
