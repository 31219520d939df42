"""Run the benchmarks of this folder: `python3 kit/start.py bench [word ...]`.

Words pick the cases whose name holds one of them. Exit code 1 if a wanted ratio was missed.
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parents[1] / "kit")]

import frame  # noqa: E402  (found through the path set just above)


def main(words: list[str]) -> int:
    """Measure the picked cases one after the other and print the table."""
    for path in sorted(HERE.glob("bench_*.py")):
        importlib.import_module(path.stem)
    rows, missed = [], []
    for maker in frame.MAKERS:
        for case in maker():
            if words and not any(word.lower() in case.name.lower() for word in words):
                continue
            print(f"{case.name} ...", file=sys.stderr, flush=True)
            try:
                result = frame.measure(case)
            except Exception as error:  # noqa: BLE001  (one broken case must not hide the others)
                missed.append(f"{case.name}: {type(error).__name__}: {error}")
                continue
            rows.append(frame.row(result))
            if result.missed:
                missed.append(f"{case.name}: wanted {result.missed}")
    print(frame.table(rows))
    for line in missed:
        print(f"MISSED {line}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
