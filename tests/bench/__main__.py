"""Run every benchmark, or those named, and print what each reports."""

import importlib
import sys
from pathlib import Path


def main(names: list[str]) -> int:
    there = sorted(path.stem for path in Path(__file__).parent.glob("bench_*.py"))
    for name in [f"bench_{name.removeprefix('bench_')}" for name in names] or there:
        module = importlib.import_module(f"tests.bench.{name}")
        sys.stdout.write(f"== {name}\n{module.report()}\n\n")
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
