"""How fast the measure room is: python -m benchmarks.bench_measure

Limits: a recording of one 20 s sweep at 48 kHz becomes a response within 3 times reading its file and one forward and
inverse Fourier transform of its length; ten recordings of it within 10 s; an equalizer of ten filters within 2 s.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from backwave.acoustics import log_frequencies
from backwave.files.recordings import read_sound, write_wave
from backwave.measure.alignment import target_curve
from backwave.measure.analysis import read_take
from backwave.measure.equalizer import fit_equalizer
from backwave.measure.response import deconvolve
from backwave.measure.sweep import Sweep, plan_take, take_signal
from backwave.measure.synchronize import find_take


def best(run: Callable[[], object], times: int = 7) -> float:
    found = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        found.append(time.perf_counter() - start)
    return min(found)


def main() -> int:
    from scipy import fft

    take = plan_take(outputs=("left",), sweep=Sweep(length_s=20.0))
    rng = np.random.default_rng(1)
    sound = 0.5 * np.concatenate([np.zeros(30000), take_signal(take)[:, 0], np.zeros(20000)])
    sound += rng.normal(0, 1e-4, sound.size)
    with tempfile.TemporaryDirectory() as folder:
        path = write_wave(Path(folder) / "take.wav", sound, 48000, 16)
        file = best(lambda: read_sound(path))
        n = fft.next_fast_len(sound.size, real=True)
        pair = best(lambda: fft.irfft(fft.rfft(sound, n), n))

        def response() -> None:
            x = read_sound(path).samples[:, 0].astype(float)
            deconvolve(x, find_take(x, 48000.0, take), take, take.sweeps[0]).linear.spectrum(
                np.geomspace(20, 20000, 480)
            )

        def whole() -> None:
            read_take(read_sound(path).samples, 48000.0, take)

        bare, full = best(response), best(whole)
        ten = best(lambda: [whole() for _ in range(10)], 1)
    f = log_frequencies(20.0, 20000.0, 48)
    level = np.convolve(rng.normal(0, 8, f.size + 40), np.ones(41) / 8, "valid")
    fit = best(lambda: fit_equalizer(f, level, target_curve(f), 10), 3)
    rows = [
        ("file, ms", 1e3 * file, None),
        ("one pair of transforms, ms", 1e3 * pair, None),
        ("recording to impulse responses and spectrum, ms", 1e3 * bare, None),
        ("  against file + 3 pairs", bare / (file + 3 * pair), 1.0),
        ("recording to everything read_take tells, ms", 1e3 * full, None),
        ("  against file + 3 pairs", full / (file + 3 * pair), None),
        ("ten recordings, s", ten, 10.0),
        ("equalizer of ten filters, s", fit, 2.0),
    ]
    for name, value, limit in rows:
        verdict = "" if limit is None else f"limit {limit:g}  {'ok' if value <= limit else 'OVER'}"
        print(f"{name:60} {value:8.2f}  {verdict}")
    return int(any(limit is not None and value > limit for _, value, limit in rows))


if __name__ == "__main__":
    raise SystemExit(main())
