"""What a map lets be asked of a device, and the one write that asks it. Pure."""

import math

from fermwatch.contracts.controller import Abilities, DeadMan, SetPoint, SetPointAbility, Switch
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.units import from_canonical, to_canonical
from fermwatch_drivers.modbus.frames import Function, Write
from fermwatch_drivers.modbus.register_map import RegisterMap, SetPointPlace, SwitchingPlace
from fermwatch_drivers.modbus.registers import words_of

_FAHRENHEIT_PER_KELVIN = 1.8


def abilities_of(kind: RegisterMap) -> Abilities:
    """What may be asked of a device of this kind."""
    switching = kind.switching
    return Abilities(
        set_point=_set_point(kind, kind.set_point) if kind.set_point is not None and kind.set_point.written else None,
        outputs=frozenset() if switching is None else frozenset(switching.bits),
        dead_man=None if switching is None else _dead_man(kind, switching),
        alarms=tuple(kind.alarms),
    )


def write_for(kind: RegisterMap, what: SetPoint | Switch) -> Write:
    """The write that asks for it: one, so that it is done whole or not at all.

    Raises ValueError for what `abilities_of` the kind does not have.
    """
    abilities = abilities_of(kind)
    if isinstance(what, SetPoint):
        if abilities.set_point is None or kind.set_point is None:
            raise ValueError("the set point of this controller cannot be written")
        return _written(kind, kind.set_point, abilities.set_point, what.target_c)
    if kind.switching is None or not what.on <= abilities.outputs:
        raise ValueError(f"this controller cannot switch {', '.join(sorted(what.on)) or 'anything'}")
    return _switched(kind.switching, what)


def _set_point(kind: RegisterMap, place: SetPointPlace) -> SetPointAbility:
    step = (place.step or place.scale) / (_FAHRENHEIT_PER_KELVIN if kind.unit is Unit.FAHRENHEIT else 1.0)
    low_c, high_c = (to_canonical(edge, kind.unit, Quantity.SET_POINT) for edge in (place.low, place.high))
    return SetPointAbility(low_c, high_c, step, place.memory_writes or None)


def _dead_man(kind: RegisterMap, switching: SwitchingPlace) -> DeadMan | None:
    if switching.longest_lease_s is not None:
        return DeadMan(float(switching.longest_lease_s), told=True)
    return None if kind.dead_man is None else DeadMan(kind.dead_man.usual_s, told=False)


def _written(kind: RegisterMap, place: SetPointPlace, ability: SetPointAbility, target_c: float) -> Write:
    if not (math.isfinite(target_c) and ability.low_c <= target_c <= ability.high_c):
        raise ValueError(f"a set point of {target_c:g} °C is outside {ability.low_c:g} to {ability.high_c:g} °C")
    words = words_of(place, from_canonical(target_c, kind.unit), kind.word_order)
    return Write(Function.HOLDING, place.address, words)


def _switched(place: SwitchingPlace, what: Switch) -> Write:
    """All outputs, and the lease where it is told; a lease is never made longer by rounding."""
    if not (math.isfinite(what.lease_s) and what.lease_s > 0.0):
        raise ValueError(f"a lease is finite and positive, not {what.lease_s:g} s")
    if place.function is Function.COIL:
        by_place = sorted(place.bits.items(), key=lambda item: item[1])
        return Write(Function.COIL, place.address, tuple(int(output in what.on) for output, _ in by_place))
    register = sum(1 << bit for output, bit in place.bits.items() if output in what.on)
    if place.longest_lease_s is None:
        return Write(Function.HOLDING, place.address, (register,))
    if what.lease_s > place.longest_lease_s:
        raise ValueError(f"a lease of {what.lease_s:g} s is longer than {place.longest_lease_s} s")
    return Write(Function.HOLDING, place.address, (register, math.floor(what.lease_s)))
