"""A bulkhead: what goes wrong with one thing stops that thing, is told once in the log, with a traceback where it is a
mistake of ours, and is kept as a reason that a person sees. Everything else goes on.
"""

import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import TypeVar

from fermwatch.errors import FermwatchError, StoreError, UnreadableRow
from fermwatch.model.amounts import plain
from fermwatch.text import clean

log = logging.getLogger("fermwatch")

T = TypeVar("T")


@dataclass(slots=True)
class Boundary:
    """What failed of late, by subject (`batch:<id>`, `vessel:left`) and part of the work on it."""

    _faults: dict[tuple[str, str], str] = field(default_factory=dict)

    def contained(self, subject: str, part: str, work: Callable[[], T]) -> T | None:
        """Do `work`; None where it failed. A store in trouble is everybody's: StoreError goes through.

        A row that cannot be read is that row's affair alone, and is contained.
        """
        try:
            result = work()
        except UnreadableRow as error:
            self._note(subject, part, error)
        except StoreError:
            raise
        except Exception as error:  # noqa: BLE001 - this is what a bulkhead is for; told with its traceback
            self._note(subject, part, error)
        else:
            self._faults.pop((subject, part), None)
            return result
        return None

    def note(self, subject: str, part: str, error: Exception | None) -> None:
        """How work came out that was done elsewhere; None where it went well."""
        if error is None:
            self._faults.pop((subject, part), None)
        else:
            self._note(subject, part, error)

    def reason(self, subject: str) -> str:
        """Why the subject cannot be worked on, in one line; empty where all goes well."""
        return "; ".join(why for (about, _), why in self._faults.items() if about == subject)

    def subjects(self) -> Iterable[str]:
        return {subject for subject, _ in self._faults}

    def forget(self, subject: str) -> None:
        """The subject is no more, or is begun anew."""
        for key in [key for key in self._faults if key[0] == subject]:
            del self._faults[key]

    def _note(self, subject: str, part: str, error: Exception) -> None:
        reason = in_one_line(error)
        if self._faults.get((subject, part)) != reason:
            self._faults[subject, part] = reason
            ours = None if isinstance(error, FermwatchError) else error
            log.error("%s: %s failed, and all else goes on: %s", subject, part, reason, exc_info=ours)


def in_one_line(error: Exception) -> str:
    """A fault for a person's eyes: ours by its name, since nobody wrote a sentence for it."""
    if isinstance(error, FermwatchError):
        return clean(plain(str(error)), 300)
    return clean(f"{type(error).__name__}: {error}" if str(error) else type(error).__name__, 200)
