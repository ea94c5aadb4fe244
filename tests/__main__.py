"""`python -m tests`: all that the machine allows, on all its cores; the closing lines say what was left out, and what
was run again.

Where real processes, brokers and lines take part, a test waits for what happens, with a deadline; on a machine that is
busy with everything else at once the best of them is late one day. A few of those that failed are run once more, alone
and aloud: what fails alone has failed.
"""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.needs import missing

PACED = ("tests/conformance/", "tests/dashboard/", "tests/faults/", "tests/flow/")  # by what runs beside them
MOST_AGAIN = 3  # more of them is no accident
FAILED = 1  # pytest's word for it


def run(*words: str) -> int:
    return subprocess.run([sys.executable, "-m", "pytest", "-q", *words], check=False).returncode


def to_run_again(failed: list[str]) -> bool:
    return 0 < len(failed) <= MOST_AGAIN and all(one.startswith(PACED) for one in failed)


def failed_last(cache: Path) -> list[str]:
    kept = cache / "v" / "cache" / "lastfailed"
    return sorted(json.loads(kept.read_text(encoding="utf-8"))) if kept.exists() else []


def run_all(words: list[str]) -> int:
    cores = str(os.cpu_count() or 1)
    with tempfile.TemporaryDirectory() as cache:
        own = ("-o", f"cache_dir={cache}")
        status = run("-n", cores, "--dist", "worksteal", *own, *words)
        failed = failed_last(Path(cache))
    if status == FAILED and to_run_again(failed):
        sys.stdout.write(f"Failed beside others, and run once more, alone: {', '.join(failed)}\n")
        sys.stdout.flush()
        status = run("-p", "no:cacheprovider", *failed)
    return status


def main(words: list[str]) -> int:
    status = run_all(words)
    packages = sorted({name for names in missing().values() for name in names})
    if packages:
        sys.stdout.write(
            f"Left out: what needs {', '.join(packages)}. To run all: sudo apt-get install {' '.join(packages)}\n"
        )
    elif status == 0:
        sys.stdout.write("Nothing was left out.\n")
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
