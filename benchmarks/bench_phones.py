"""Ten phones at one workbench, cut off and sending again, one of them nonsense: python -m benchmarks phones

The server is killed and started again meanwhile.  What every phone said is counted in the log at the end: words that
arrived, that stand there twice, that are lost.  Both of the latter have to be 0, as has the number of bad words kept.
"""

from __future__ import annotations

import http.client
import json
import random
import tempfile
import threading
import time
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

from tests.bench.conftest import Running, demo, start

PHONES, WORDS, KILLS, LIMIT_S = 10, 60, 4, 300.0
BAD: list[dict[str, Any]] = [
    {"text": "half \ud83d"}, {"count": -5}, {"text": "a\x1b[2J"}, {"photos": [[["x"]]]}, {"count": 10**4000}, {"text": "x" * 5000},
]  # fmt: skip


class Phone(threading.Thread):
    """Says a word now and then, keeps what the bench has not confirmed, and sends it as often as that takes."""

    def __init__(self, name: str, seed: int, bench: list[Running], bad: bool) -> None:
        super().__init__(daemon=True)
        self.device, self.chance, self.bench, self.bad = name, random.Random(seed), bench, bad
        self.said: list[str] = []
        self.refused: list[str] = []
        self.queue: list[dict[str, Any]] = []
        self.sent = self.cut = self.failed = 0

    def run(self) -> None:
        sent: list[dict[str, Any]] = []
        while len(self.said) < WORDS or self.queue:
            if len(self.said) < WORDS and self.chance.random() < 0.5:
                self._say()
            batch = self.queue[:20]
            if self.chance.random() < 0.2:
                batch = sent or batch  # once more what was confirmed already
            told = self._post(batch) if batch else None
            if told is not None:
                sent = batch
                done = {row["key"] for row in batch}
                self.queue = [row for row in self.queue if row["key"] not in done]
                self.refused += [row["key"] for row, why in zip(batch, told["reasons"]) if why]
            time.sleep(self.chance.uniform(0.05, 0.35))

    def _say(self) -> None:
        n = len(self.said)
        key = f"{self.device}-{n:06d}"
        row = {"kind": "note", "id": f"{self.device}-{n}", "key": key, "when": "2026-03-14T10:00:00Z", "text": "off"}
        bad = self.bad and n % 5 == 0
        self.queue.append(row | (self.chance.choice(BAD) if bad else {}))
        self.said.append(f"bad {key}" if bad else key)

    def _post(self, rows: list[dict[str, Any]]) -> dict[str, Any] | None:
        """What the bench answered; None where nothing came back."""
        running = self.bench[0]
        wire = http.client.HTTPConnection(running.url.removeprefix("http://"), timeout=10)
        try:
            head = {"content-type": "application/json", "cookie": getattr(running, "cookie", "")}
            wire.request("POST", "/chores/words", json.dumps({"words": rows}), head)
            self.sent += len(rows)
            if self.chance.random() < 0.25:
                self.cut += 1
                return None  # out of reach before the answer came
            answer = wire.getresponse()
            told = json.loads(answer.read())
            return told if answer.status == 200 else None
        except (OSError, http.client.HTTPException, ValueError):
            self.failed += 1
            return None
        finally:
            wire.close()


def _start(folder: Path) -> Running:
    """A workbench; what it prints is read, or it would wait for a reader."""
    running = start(folder, folder.parent / "shelf")
    assert running.process.stdout is not None
    threading.Thread(target=running.process.stdout.read, daemon=True).start()
    return running


def main(seed: int = 1) -> None:
    """Print what was sent, and what became of it."""
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory() as name:
        folder = demo(Path(name) / "van")
        bench = [_start(folder)]
        phones = [Phone(f"phone{chr(97 + n)}", seed + n, bench, n == 3) for n in range(PHONES)]
        began = time.monotonic()
        for phone in phones:
            phone.start()
        kills = 0
        while any(phone.is_alive() for phone in phones) and time.monotonic() - began < LIMIT_S:
            time.sleep(chance.uniform(0.5, 3))
            if kills < KILLS and sum(len(phone.said) for phone in phones) > kills * PHONES * WORDS / (KILLS + 1):
                bench[0].process.kill()
                bench[0].process.wait()
                bench[0] = _start(folder)
                kills += 1
        bench[0].process.terminate()
        bench[0].process.wait()
        rows = tomllib.loads((folder / "log.toml").read_text(encoding="utf-8"))["note"]
        torn = len(list(folder.glob("log.toml.torn-*")))
    there = Counter(row["key"] for row in rows)
    good = {key for phone in phones for key in phone.said if not key.startswith("bad ")}
    bad = {key.removeprefix("bad ") for phone in phones for key in phone.said if key.startswith("bad ")}
    twice = sum(n - 1 for n in there.values())
    sent, cut, failed = (sum(getattr(phone, name) for phone in phones) for name in ("sent", "cut", "failed"))
    print(
        f"  {PHONES} phones said {len(good)} words and {len(bad)} bad ones, sent {sent} in {time.monotonic() - began:.0f} s;"
    )
    print(f"  cut off {cut} times, no answer {failed} times, server killed {kills} times, rows cut off {torn}")
    refused = {key for phone in phones for key in phone.refused}
    lost = len(good - there.keys())
    print(
        f"  arrived {len(good & there.keys())}, twice {twice}, lost {lost}: {'ok' if not (lost or twice) else 'MISSED'}"
    )
    kept = len(bad & there.keys())
    print(f"  bad words refused {len(bad & refused)}, kept {kept}: {'ok' if not kept and bad <= refused else 'MISSED'}")
