"""What passes before a set point is written: whoever wishes it, nothing goes to a device but through here. Pure."""

from dataclasses import dataclass

from fermwatch.contracts.controller import Abilities, Seen, SetPoint
from fermwatch.control.degree import Arming, may
from fermwatch.control.limits import limits, within
from fermwatch.control.setting import Setting, step, writes_a_day
from fermwatch.model.amounts import temperature, temperature_range
from fermwatch.model.batch import EventKind
from fermwatch.model.intent import Band
from fermwatch.model.yeast import Yeast

NO_FERMENTER_C = 45.0  # warmer than any yeast works, and than limits may be; a cellar in °F reads as such


@dataclass(frozen=True, slots=True)
class SetPointWish:
    """Where a plan wants the beer. meant: the rest, ramp or crash that this is. cold_permitted: it was safe to bottle
    when that began, or somebody said why it may be. from_c: where its ramp comes from, while that is under way.
    """

    target_c: float
    yeast: Yeast
    meant: EventKind | None = None
    cold_permitted: bool = False
    from_c: float | None = None


@dataclass(frozen=True, slots=True)
class Guarded:
    """write_c: what is to be written now; None nothing. why: why what is wished does not stand there, one sentence.

    given_up: it was written as often as is sensible; a person must look.
    """

    setting: Setting
    write_c: float | None = None
    why: str = ""
    given_up: bool = False


def guard_set_point(
    wanted: SetPointWish | None,
    setting: Setting,
    seen: Seen,
    arming: Arming,
    abilities: Abilities,
    allowed: Band,
    now_s: float,
) -> Guarded:
    """After one reading of the device. now_s: of a clock that is never set."""
    ability = abilities.set_point
    if wanted is None or ability is None or not may(arming, SetPoint(wanted.target_c), abilities, seen):
        return Guarded(Setting(written_s=setting.written_s))  # who is armed later begins anew, within the same budget
    if why := why_outside(wanted, allowed, (ability.low_c, ability.high_c)):
        return Guarded(Setting(written_s=setting.written_s), why=why)
    if why := why_no_fermenter(seen):
        return Guarded(Setting(written_s=setting.written_s), why=why)
    if seen.set_point_c is None:
        return Guarded(setting, why="The controller does not show its set point: nothing is written blindly.")
    after, write = step(setting, wanted.target_c, seen.set_point_c, now_s, ability)
    if write:
        return Guarded(after, write_c=after.target_c)
    if after.given_up:
        return Guarded(after, why=_not_taken(after, seen.set_point_c), given_up=True)
    budget = writes_a_day(ability)
    waits = after.agreed == 0 and budget is not None and len(after.written_s) >= budget
    return Guarded(after, why=f"Its memory endures {budget} writes a day: the next waits." if waits else "")


def why_no_fermenter(seen: Seen, beer_c: float | None = None) -> str:
    """Why what it shows is not of a fermenter, so that a number written to it may mean something else; else empty."""
    shown = (seen.set_point_c, seen.measured_c, beer_c)
    hottest_c = max((one for one in shown if one is not None), default=0.0)
    if hottest_c <= NO_FERMENTER_C:
        return ""
    return f"{temperature(hottest_c)} is what no fermenter has: does it count in °F? Say its unit in its map or source."


def why_outside(wanted: SetPointWish, allowed: Band, of_device: tuple[float, float]) -> str:
    """Why a target may not be written at all; empty where it may."""
    low_c, high_c = max(allowed.low_c, of_device[0]), min(allowed.high_c, of_device[1])
    if not within(wanted.target_c, Band(low_c, high_c)):
        return f"{temperature(wanted.target_c)} is outside the limits that you set: {temperature_range(low_c, high_c)}."
    band = limits(wanted.meant, wanted.yeast, allowed, crash_permitted=wanted.cold_permitted, from_c=wanted.from_c)
    if band is None:
        return f"{temperature(wanted.target_c)} is cold, and the beer was not safe to bottle when that began."
    if not within(wanted.target_c, band):
        return f"{temperature(wanted.target_c)} is outside {band.name}: {temperature_range(band.low_c, band.high_c)}."
    return ""


def _not_taken(setting: Setting, shown_c: float) -> str:
    target_c = setting.target_c if setting.target_c is not None else shown_c
    if setting.turned:
        return (
            f"The controller shows {temperature(shown_c)}, although {temperature(target_c)} stood in it: somebody "
            f"turned it, or it forgot. Written {setting.tries} times, it is left as it is."
        )
    return (
        f"The controller shows {temperature(shown_c)} after {temperature(target_c)} was written {setting.tries} times: "
        "it has limits of its own, or does not listen."
    )
