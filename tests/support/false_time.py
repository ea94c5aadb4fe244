"""A clock of the machine that a test sets, for whole processes: Debian's libfaketime, monotonic time left true."""

from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

LIBRARIES = tuple(Path("/usr/lib").glob("*/faketime/libfaketimeMT.so.1"))


@dataclass(frozen=True)
class FalseTime:
    """`environment` for the processes that are to see it; `set` sets it, `by` ahead of the truth."""

    file: Path

    def __post_init__(self) -> None:
        self.set(timedelta())

    def set(self, by: timedelta) -> None:
        aside = self.file.with_suffix(".new")
        aside.write_text(f"{by.total_seconds():+.0f}\n")
        aside.rename(self.file)

    @property
    def environment(self) -> dict[str, str]:
        return {
            "LD_PRELOAD": str(LIBRARIES[0]),
            "FAKETIME_TIMESTAMP_FILE": str(self.file),
            "FAKETIME_NO_CACHE": "1",
            "DONT_FAKE_MONOTONIC": "1",
        }
