"""What a controller can do, by what its options say of it: the same for all that are told of by hand."""

from collections.abc import Iterable
from typing import Protocol

from fermwatch.contracts.controller import Abilities, DeadMan, SetPointAbility
from fermwatch.model.degree import Output


class SaysAbilities(Protocol):
    """Options that name them. memory_writes: 0 where it keeps no set point over a restart."""

    @property
    def set_point_low_c(self) -> float | None: ...
    @property
    def set_point_high_c(self) -> float | None: ...
    @property
    def step_c(self) -> float: ...
    @property
    def memory_writes(self) -> int | None: ...
    @property
    def longest_lease_s(self) -> int | None: ...
    @property
    def dead_man_s(self) -> float | None: ...
    @property
    def switches(self) -> frozenset[Output]: ...
    @property
    def alarms(self) -> Iterable[str]: ...


def abilities_of(options: SaysAbilities, *, writes: bool) -> Abilities:
    """writes: whether they say how a set point is written."""
    set_point = dead_man = None
    if writes and options.set_point_low_c is not None and options.set_point_high_c is not None:
        low_c, high_c = options.set_point_low_c, options.set_point_high_c
        set_point = SetPointAbility(low_c, high_c, options.step_c, options.memory_writes or None)
    if options.longest_lease_s is not None:
        dead_man = DeadMan(float(options.longest_lease_s), told=True)
    elif options.dead_man_s is not None and options.switches:
        dead_man = DeadMan(options.dead_man_s, told=False)
    return Abilities(set_point, options.switches, dead_man, tuple(options.alarms))
