"""Every error that fermwatch raises on purpose.

FermwatchError                  one sentence for the person, and `hint`: what to do about it
├── ConfigError                 the configuration: file, line, key                     exit 78
├── InputError                  what a person typed cannot be meant so                 exit 2
│   └── OutOfDomain             a formula asked outside the range it is good for
├── ProbeError                  a source of readings
│   ├── ProbeUnavailable        it may come back: try again
│   ├── ProbeMisbehaving        it speaks, but not sense: count it and go on
│   └── ProbeRefused            a person must act first (permission, login, lock); tried again, slowly
├── NotifierUnavailable         a message could not be carried to people now: try again
├── NotifierRefused             nor ever, until a person acts
├── StoreError                  the database                                           exit 74
│   ├── StoreMissing            no watcher has made it yet
│   ├── StoreFull               no room on the disk: nothing was written
│   ├── StoreDamaged            what lies in its files is no store any more
│   ├── StoreGone               its files were deleted, replaced, or put out of reach
│   ├── StoreForbidden          this user may not read or write it                 exit 77
│   ├── StoreVersion            written by another version of fermwatch
│   ├── UnreadableRow           one row that this version cannot read: it alone is out of use
│   └── LeaseTaken              another watcher holds this site
└── RequestRefused              something asked through the inbox cannot be done
"""

from pathlib import Path


class FermwatchError(Exception):
    """An error whose text is fit for a person's eyes, with a remedy."""

    exit_status = 1

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message} {self.hint}".strip()


class ConfigError(FermwatchError):
    """The configuration cannot be used. Names the file, the line where known, and the key."""

    exit_status = 78  # EX_CONFIG of sysexits.h, so that systemd does not restart in a loop

    def __init__(
        self,
        message: str,
        *,
        file: Path | None = None,
        line: int | None = None,
        key: str = "",
        hint: str = "",
    ) -> None:
        place = "" if file is None else f"{file}:{line}: " if line else f"{file}: "
        subject = f"{key}: " if key else ""
        super().__init__(f"{place}{subject}{message}", hint=hint)
        self.file, self.line, self.key = file, line, key


class InputError(FermwatchError):
    """What a person typed cannot be meant so."""

    exit_status = 2


class OutOfDomain(InputError):
    """A formula was asked outside the range that it is good for; it never extrapolates in silence."""

    def __init__(self, *, quantity: str, value: object, low: float, high: float, unit: str, hint: str = "") -> None:
        super().__init__(f"{quantity} {value} {unit} is outside {low:g} to {high:g} {unit}.", hint=hint)
        self.quantity, self.value, self.low, self.high, self.unit = quantity, value, low, high, unit


class ProbeError(FermwatchError):
    """A source of readings failed."""


class ProbeUnavailable(ProbeError):
    """The source is not there now and may come back by itself."""


class ProbeMisbehaving(ProbeError):
    """The source speaks, but what it says cannot be used."""


class ProbeRefused(ProbeError):
    """The source cannot be used until a person does something."""


class NotifierUnavailable(FermwatchError):
    """A message could not be handed over now. after_s: how long whoever carries it on asks us to wait, if it does."""

    def __init__(self, message: str, *, hint: str = "", after_s: float = 0.0) -> None:
        super().__init__(message, hint=hint)
        self.after_s = after_s


class NotifierRefused(FermwatchError):
    """A message will not be taken over before a person does something, as to mend a password."""


class PublisherUnavailable(FermwatchError):
    """Nothing can be published now."""


class PublisherRefused(FermwatchError):
    """Nothing will be published before a person does something, as to mend a password."""


class StoreError(FermwatchError):
    """The store cannot be read or written."""

    exit_status = 74  # EX_IOERR


class StoreMissing(StoreError):
    """There is no store: no watcher has run here yet."""


class StoreFull(StoreError):
    """There is no room on the disk; the transaction was rolled back whole."""


class StoreGone(StoreError):
    """The files of the store are not where they were opened: what is written would go into nothing."""


class StoreDamaged(StoreError):
    """What lies in the files of the store is not what was written."""


class StoreForbidden(StoreError):
    """This user may not read the store, or write its inbox."""

    exit_status = 77  # EX_NOPERM


class StoreVersion(StoreError):
    """The store was written by another version of fermwatch."""


class UnreadableRow(StoreError):
    """One row of the store that this version cannot read; the others are as good as ever.

    newer: a newer version wrote it; why: what of it cannot be read.
    """

    def __init__(self, message: str, *, hint: str = "", why: str = "", newer: bool = False) -> None:
        super().__init__(message, hint=hint)
        self.why, self.newer = why, newer


class LeaseTaken(StoreError):
    """Another watcher holds this site."""

    exit_status = 75  # EX_TEMPFAIL


class RequestRefused(FermwatchError):
    """Something asked through the inbox cannot be done."""
