"""What a plug-in is to fermwatch, of whatever kind: found by its entry point, of one contract, with options of its own.

A package registers under a group's name (`fermwatch.drivers`), as one that ships with fermwatch does. Only what is
configured is ever loaded: what nobody configured may be broken, and is nobody's trouble.
"""

from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from pydantic import BaseModel


class Kind(Protocol):
    """What an entry point of any group stands for."""

    @property
    def contract_version(self) -> int:
        """Of the group's contract that it was written for."""

    @property
    def options(self) -> type[BaseModel]:
        """The pydantic model of its own keys in the configuration: one sentence per field."""


KindT = TypeVar("KindT", bound=Kind)


@dataclass(frozen=True, slots=True)
class Group(Generic[KindT]):
    """One group of entry points: its name, what one of them is called, and the contract that this fermwatch speaks."""

    name: str
    noun: str
    contract_version: int
