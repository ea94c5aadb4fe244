"""Rules about beer in its package, as they come due day by day."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

import pytest

from fermwatch.alarms.life import Transition
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.conditioning import Stood
from fermwatch.model.finding import Severity
from fermwatch.rules.catalogue import IN_PACKAGE
from fermwatch.rules.packaged import CONDITIONING, PAST_BEST, READY, SQUEEZE, STORE_HOT
from fermwatch.rules.situation import GoodReading, Situation
from fermwatch.watching.deciding import Decider
from tests.unit.rules.situations import BATCH, DAY, HOUR, START

SUBJECT = f"batch:{BATCH.id}"
PET: dict[str, float | str | bool] = {
    "package": "soda-pet",
    "volumes": 2.4,
    "sugar_g_per_l": 6.0,
    "conditioning_c": 20.0,
    "storage_c": 20.0,
}


@dataclass
class Bottled:
    """A packaged beer, decided upon every six hours; what was told, with the day."""

    data: dict[str, float | str | bool]
    store_c: Callable[[float], float | None] = lambda _day: None
    original_sg: float = 1.050

    def days(self, count: float) -> list[tuple[float, str, Transition]]:
        decider, told = Decider(), []
        batch = replace(BATCH, packaged_at=START, original_sg=self.original_sg)
        event = Event("packed", START, EventKind.PACKAGED, self.data)
        samples: list[GoodReading] = []
        stood: list[Stood] = []
        now: datetime = START
        while now <= START + count * DAY:
            celsius = self.store_c((now - START) / DAY)
            if celsius is not None:
                samples.append(GoodReading(now, celsius))
                stood.append(Stood(now, now + 6 * HOUR, celsius))
            situation = Situation(
                now, "left", batch, events=(event,), store=tuple(samples[-2:]), stood=tuple(stood[:-1])
            )
            for change in decider.decide(situation, by=IN_PACKAGE):
                told += [((now - START) / DAY, change.alarm.rule, one) for one in change.transitions]
            now += 6 * HOUR
        self.decider = decider
        return told

    def raised(self, count: float) -> list[tuple[float, str]]:
        return [(day, rule) for day, rule, what in self.days(count) if what is Transition.RAISED]


def test_a_bottle_is_squeezed_on_its_days_then_opened_and_one_day_past_its_best() -> None:
    assert Bottled(PET).raised(121) == [
        (3.0, SQUEEZE),
        (7.0, SQUEEZE),
        (14.0, SQUEEZE),
        (14.0, READY),
        (120.0, PAST_BEST),
    ]


def test_each_is_advice_and_over_by_itself() -> None:
    bottled = Bottled(PET)
    told = bottled.days(60)
    assert (4.5, SQUEEZE, Transition.CLEARED) in told
    assert (28.0, READY, Transition.CLEARED) in told
    assert {alarm.severity for alarm in bottled.decider.alarms.values() if alarm.occurrence} == {Severity.ADVICE}


def test_nothing_is_squeezed_that_makes_no_gas_or_is_a_keg() -> None:
    assert Bottled({**PET, "sugar_g_per_l": 0.0}).raised(13) == []
    primed_keg = {**PET, "package": "keg", "way": "primed"}
    assert Bottled(primed_keg).raised(20) == [(14.0, READY)]
    forced = {**PET, "package": "keg", "way": "forced", "sugar_g_per_l": 0.0}
    bottled = Bottled(forced)
    assert bottled.raised(20) == [(7.0, READY)]
    told = bottled.decider.alarms[READY, SUBJECT]
    assert "keg" in told.statement
    assert "bottle" not in told.statement + told.remedy


def test_strong_beer_takes_its_time() -> None:
    assert (28.0, READY) in Bottled(PET, original_sg=1.090).raised(30)


def test_a_cold_store_is_told_of_with_what_it_costs() -> None:
    bottled = Bottled(PET, store_c=lambda _day: 15.0)
    raised = bottled.raised(40)
    assert (0.5, CONDITIONING) in raised
    days = next(day for day, rule in raised if rule == READY)
    assert days == pytest.approx(14 * 2**0.5, abs=0.3)  # twofold per 10 °C
    bottled.days(5)
    said = plain(bottled.decider.alarms[CONDITIONING, SUBJECT].statement)
    assert said == "at 15 °C it takes about 20 days instead of 14 at 20 °C"


def test_a_cold_place_that_was_told_with_the_packaging_was_meant_and_calls_nobody() -> None:
    assert CONDITIONING not in {rule for _, rule in Bottled({**PET, "conditioning_c": 15.0}).raised(10)}


def test_in_a_fridge_it_never_conditions_and_that_is_said() -> None:
    bottled = Bottled({**PET, "conditioning_c": 4.0})
    raised = bottled.raised(60)
    assert READY not in {rule for _, rule in raised}
    assert "hardly conditions" in plain(bottled.decider.alarms[CONDITIONING, SUBJECT].statement)


def test_warmed_again_it_goes_on_from_where_it_was() -> None:
    raised = Bottled(PET, store_c=lambda day: 5.0 if day < 10 else 20.0).raised(40)
    day = next(day for day, rule in raised if rule == READY)
    assert 23.5 <= day <= 24.5


def test_a_store_hotter_than_the_pressure_was_reckoned_for_is_critical() -> None:
    bottled = Bottled(PET, store_c=lambda day: 20.0 if day < 2 else 31.0)
    raised = bottled.raised(3)
    assert STORE_HOT in {rule for _, rule in raised}
    alarm = bottled.decider.alarms[STORE_HOT, SUBJECT]
    assert alarm.severity is Severity.CRITICAL
    assert "31.0 °C" in plain(alarm.statement)
    assert "6.0 °C above the 25 °C" in plain(alarm.statement)
    assert "Eye protection" in alarm.remedy


def test_nothing_is_said_of_beer_that_is_not_packaged() -> None:
    decider = Decider()
    assert decider.decide(Situation(START, "left", BATCH), by=IN_PACKAGE) == []
