"""What every command is given: where things are, who asks, and how to speak to a person."""

import getpass
import shutil
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from fermwatch.clock import Clock, SystemClock
from fermwatch.config.locate import Place, locate
from fermwatch.errors import FermwatchError
from fermwatch.model.amounts import plain
from fermwatch.text import clean


@dataclass(frozen=True)
class Context:
    """The words before the command, and the machine's surroundings."""

    config: Path | None
    store: Path | None
    site: str | None
    environment: Mapping[str, str]
    clock: Clock = SystemClock()  # noqa: RUF009 - it holds no state

    @cached_property
    def place(self) -> Place:
        return locate(self.config, self.store, self.site, self.environment)

    @cached_property
    def user(self) -> str:
        """As claimed: for the journal, no proof."""
        try:
            return clean(getpass.getuser(), 40)
        except (KeyError, OSError):
            return "somebody"

    @property
    def width(self) -> int:
        return shutil.get_terminal_size((80, 24)).columns

    @property
    def ascii_only(self) -> bool:
        """Whether the terminal's character set has only ASCII, as with LANG=C."""
        encoding = (sys.stdout.encoding or "ascii").lower().replace("-", "")
        return not encoding.startswith("utf")

    def say(self, text: str) -> None:
        text = plain(text)  # what no voice has said in this reader's units is said in the canonical ones
        if self.ascii_only:
            text = text.encode("ascii", "replace").decode("ascii")
        sys.stdout.write(text if text.endswith("\n") else f"{text}\n")
        sys.stdout.flush()

    def complain(self, error: FermwatchError) -> None:
        """One sentence, and the remedy under it."""
        lines = [f"fermwatch: {clean(plain(error.message), 600)}"]
        if error.hint:
            lines.append(f"  {clean(plain(error.hint), 600)}")
        encoding = sys.stderr.encoding or "ascii"
        sys.stderr.write("\n".join(lines).encode(encoding, "replace").decode(encoding) + "\n")
