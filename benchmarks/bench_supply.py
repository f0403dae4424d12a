"""Random installations against a walk that shares nothing with the room: python -m benchmarks supply [INSTALLATIONS]

Limits: no conductor, drop or fuse judged otherwise than the own walk judges it; of the sound ones none has a `stop`, and
at most 1 % a `caution`.
"""

from __future__ import annotations

import sys
import time

from tests.power.random_supply import score


def main() -> int:
    """Prints the counts."""
    count = int(sys.argv[-1]) if sys.argv[-1].isdecimal() else 400
    start = time.perf_counter()
    counted, wrong = score(3, count)
    for name, number in sorted(counted.items()):
        print(f"{count} installations, {name}: {number}")
    differ = [text for text in wrong if not text.startswith("sound")]
    print(f"{'judged otherwise than by the own walk':78} {len(differ):8}  limit 0  {'ok' if not differ else 'OVER'}")
    share = 100 * counted["sound with a caution"] / max(counted["sound"], 1)
    bad = counted["sound with a stop"] or share > 1
    print(f"{'sound ones with a caution, %':78} {share:8.3f}  limit 1  {'OVER' if bad else 'ok'}")
    print(f"{'installations in a second':78} {count / (time.perf_counter() - start):8.1f}")
    for text in wrong[:10]:
        print("  ", text)
    return int(bool(differ) or bool(bad))


if __name__ == "__main__":
    raise SystemExit(main())
