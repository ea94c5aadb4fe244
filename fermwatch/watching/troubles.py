"""What keeps the watcher from its work: told once in the log, shown with its sign of life, and no reason to end."""

import logging
from collections.abc import Awaitable, Callable
from typing import TypeVar

from fermwatch.errors import StoreDamaged, StoreError
from fermwatch.watching.boundary import in_one_line

log = logging.getLogger("fermwatch")

T = TypeVar("T")


class Troubles:
    """gone: why the store is out of reach; commit: why nothing can be committed. Empty where it can.

    damaged: called where the store says that it is damaged.
    """

    def __init__(self, damaged: Callable[[], None]) -> None:
        self.gone = self.commit = ""
        self._damaged = damaged
        self._chores: dict[str, str] = {}  # what is to be done -> why it could not

    @property
    def known(self) -> str:
        """The worst, in one line; empty where there is none."""
        return self.gone or self.commit or next(iter(self._chores.values()), "")

    async def guarded(self, chore: str, work: Awaitable[T]) -> T | None:
        """A store in trouble, or a mistake of ours, is said so once and shown; watching goes on."""
        try:
            result = await work
        except StoreError as error:
            if isinstance(error, StoreDamaged):
                self._damaged()
            self._note(chore, str(error))
        except Exception as error:  # noqa: BLE001 - a mistake ends this turn of the chore, and nothing else
            self._note(chore, f"A mistake of fermwatch in {chore}: {in_one_line(error)}", error)
        else:
            self._chores.pop(chore, None)
            return result
        return None

    def store_is_gone(self, why: str, text: str = "%s") -> None:
        if why != self.gone:
            log.error(text, why)
        self.gone = why

    def _note(self, chore: str, text: str, mistake: Exception | None = None) -> None:
        if text not in self._chores.values():
            log.error("%s", text if mistake else f"the store is in trouble: {text}", exc_info=mistake)
        self._chores[chore] = text
