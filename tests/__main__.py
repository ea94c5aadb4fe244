"""`python -m tests`: all that the machine allows, on all its cores; the closing line says what was left out."""

import os
import subprocess
import sys

from tests.needs import missing


def run(*words: str) -> int:
    return subprocess.run([sys.executable, "-m", "pytest", "-q", *words], check=False).returncode


def main(words: list[str]) -> int:
    cores = str(os.cpu_count() or 1)
    status = run("-n", cores, "--dist", "worksteal", *words)
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
