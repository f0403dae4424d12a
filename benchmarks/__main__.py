"""`python -m benchmarks [NAME ...]`: run the benchmarks, one line a measure."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path


def main(names: list[str]) -> None:
    """Run the named benchmarks, or all of them.

    Parameters
    ----------
    names : list of str, no unit
        Such as "fit" for `bench_fit.py`.
    """
    here = Path(__file__).parent
    for path in sorted(here.glob("bench_*.py")):
        name = path.stem.removeprefix("bench_")
        if not names or name in names:
            print(f"\n{name}")
            importlib.import_module(f"benchmarks.{path.stem}").main()


main(sys.argv[1:])
