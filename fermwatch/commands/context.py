"""What every command is given: where things are, who asks, and how to speak to a person."""

import os
import shutil
import sys
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, tzinfo
from functools import cached_property
from pathlib import Path

from fermwatch.access import user_name
from fermwatch.clock import Clock, SystemClock
from fermwatch.config.locate import Place, locate
from fermwatch.config.preferences import preferences_file, saved_units
from fermwatch.contracts.store import Store
from fermwatch.errors import FermwatchError, InputError
from fermwatch.model.amounts import Amount, AmountKind, said
from fermwatch.saying.voice import CANONICAL, Units, Voice, to_ascii, units_of, zone_of
from fermwatch.store import open_store
from fermwatch.text import clean, harmless

LEAST_WIDTH = 40


@dataclass(frozen=True)
class Context:
    """The words before the command, and the machine's surroundings."""

    config: Path | None
    store: Path | None
    site: str | None
    environment: Mapping[str, str]
    clock: Clock = SystemClock()  # noqa: RUF009 - it holds no state
    units_said: str | None = None

    @cached_property
    def place(self) -> Place:
        return locate(self.config, self.store, self.site, self.environment)

    def open_store(self) -> Store:
        return open_store(self.place.store.as_uri(), self.place.site)

    @cached_property
    def user(self) -> str:
        """Who asks, as the watcher will find who owns what is asked."""
        return user_name(os.geteuid())

    @cached_property
    def chosen_units(self) -> tuple[Units, str]:
        """What numbers are said in, and by what: the option, the environment, the person's own file, or nothing."""
        if self.units_said:
            return units_of(self.units_said, what="--units"), "by --units"
        if said := self.environment.get("FERMWATCH_UNITS", ""):
            return units_of(said, what="FERMWATCH_UNITS"), "by FERMWATCH_UNITS"
        file = preferences_file(self.environment)
        try:
            if said := saved_units(self.environment):
                return units_of(said, what=str(file)), f"by {file}"
        except FermwatchError as error:  # what is asked for matters more than what it is said in
            hint = "Until then numbers are said in °C, SG and litres. Say anew what you want: fermwatch units us"
            self._complain(InputError(error.message, hint=hint), CANONICAL)
        return CANONICAL, "nothing else was chosen"

    @property
    def units(self) -> Units:
        return self.chosen_units[0]

    @property
    def voice(self) -> Voice:
        """How this reader is spoken to, where no site says the time zone."""
        return Voice(self.units, self.ascii_only)

    @property
    def width(self) -> int:
        return shutil.get_terminal_size((80, 24)).columns

    @property
    def ascii_only(self) -> bool:
        """Whether the terminal's character set has only ASCII, as with LANG=C. The dashboard holds standard output
        back: there it is that of the process's own."""
        stream = sys.stdout if hasattr(sys.stdout, "encoding") else sys.__stdout__
        encoding = (getattr(stream, "encoding", None) or "ascii").lower().replace("-", "")
        return not encoding.startswith("utf")

    @cached_property
    def zone(self) -> tzinfo:
        """The site's: times are said in it wherever a person reads. UTC where there is no store to say it."""
        try:
            with self.open_store().reader() as reader:
                return zone_of(reader.site()[1])
        except FermwatchError:
            return UTC

    def _said(self, text: str, voice: Voice) -> str:
        """The store is opened for its zone only where an instant is to be said."""

        def say(amount: Amount) -> str:
            return (replace(voice, zone=self.zone) if amount.kind is AmountKind.INSTANT else voice).said(amount)

        return said(text, say)

    def say(self, text: str) -> None:
        text = harmless(self._said(text, self.voice))
        if self.ascii_only:
            text = to_ascii(text)
        sys.stdout.write(text if text.endswith("\n") else f"{text}\n")
        sys.stdout.flush()

    def complain(self, error: FermwatchError) -> None:
        """One sentence, and the remedy under it."""
        try:
            units = self.units
        except FermwatchError:  # the very error may be that the units cannot be understood
            units = CANONICAL
        self._complain(error, units)

    def _complain(self, error: FermwatchError, units: Units) -> None:
        """A line for each in a pipe; on a terminal broken between words."""
        told = [("fermwatch: ", error.message), *([("  ", error.hint)] if error.hint else [])]
        marked = [(mark, clean(self._said(text, Voice(units)), 600)) for mark, text in told]
        lines = [f"{mark}{text}" for mark, text in marked]
        if sys.stderr.isatty():
            lines = [
                line
                for mark, text in marked
                for line in textwrap.wrap(
                    f"{mark}{text}",
                    max(self.width, LEAST_WIDTH),
                    subsequent_indent="  ",
                    break_on_hyphens=False,
                    break_long_words=False,
                )
            ]
        encoding = sys.stderr.encoding or "ascii"
        sys.stderr.write("\n".join(lines).encode(encoding, "replace").decode(encoding) + "\n")
