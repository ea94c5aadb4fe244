"""What a judge is told of a batch out of the store: its own readings, calibrated, and all that people said."""

import itertools
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from fermwatch.clock import from_ms, to_ms
from fermwatch.contracts.inbox import RequestKind
from fermwatch.contracts.store import Writer
from fermwatch.judgement.following import Ears, News, Notes, as_it_was_meant, follow, judged_until
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch, Event, EventKind, GravityMeasurement
from fermwatch.model.probe import Calibration
from fermwatch.model.reading import Flag, Reading
from fermwatch.plain_data import to_plain
from tests.support.samples import NOW, PROBES, VESSELS, batch, beer_probe, event, measurement, opening, request

HOUR = timedelta(hours=1)
LEFT_BEER, LEFT_GRAVITY, RIGHT_BEER = 1, 2, 3


class Listening(Judge):
    """A judge who writes down what it is told."""

    def __init__(self, told_of: Batch) -> None:
        super().__init__(told_of)
        self.told: list[tuple[str, datetime, float]] = []
        self.notes: list[str] = []

    def add_gravities(self, at_ms: Sequence[int], gravity_sg: Sequence[float]) -> None:
        self.told += [("gravity", from_ms(ms), sg) for ms, sg in zip(at_ms, gravity_sg, strict=True)]

    def add_temperatures(self, at_ms: Sequence[int], temperature_c: Sequence[float]) -> None:
        self.told += [("temperature", from_ms(ms), celsius) for ms, celsius in zip(at_ms, temperature_c, strict=True)]

    def add_measurement(self, measurement: GravityMeasurement) -> None:
        self.notes.append(f"{measurement.id}{' voided' if measurement.voided else ''}")

    def add_event(self, event: Event) -> None:
        self.notes.append(f"{event.id}{' voided' if event.voided else ''}")


def told(writer: Writer, one: Batch | None = None, now: datetime = NOW + 9 * HOUR) -> Listening:
    judge = follow(writer, one or batch(), now, Listening)
    assert isinstance(judge, Listening)
    return judge


def hours_told(judge: Listening) -> list[tuple[str, float, float]]:
    return sorted((what, (at - NOW) / HOUR, value) for what, at, value in judge.told)


def packed(at: datetime) -> Event:
    return Event("PACKED", at, EventKind.PACKAGED, {"package": "soda-pet", "volumes": 2.4, "sugar_g_per_l": 6.0})


def put(writer: Writer, series: int, hour: float, value: float, flags: Flag = Flag.GOOD) -> None:
    writer.append([Reading(series, to_ms(NOW + hour * HOUR), value, flags=flags)])


def test_a_judge_hears_its_own_fermenter_while_the_beer_is_in_it(writer: Writer) -> None:
    for series in (LEFT_BEER, LEFT_GRAVITY, RIGHT_BEER):
        for hour in (-3.0, 1.0, 5.0):  # pitched two hours before
            put(writer, series, hour, 1.04 if series == LEFT_GRAVITY else 20.0 + series)
    assert hours_told(told(writer)) == [
        ("gravity", 1.0, 1.04),
        ("gravity", 5.0, 1.04),
        ("temperature", 1.0, 21.0),
        ("temperature", 5.0, 21.0),
    ]
    left = replace(batch(), packaged_at=NOW + 4 * HOUR)
    assert hours_told(told(writer, left)) == [("gravity", 1.0, 1.04), ("temperature", 1.0, 21.0)]


@pytest.mark.parametrize("flags", [Flag.JUMP, Flag.POWER_ON_CODE, Flag.AHEAD])
def test_what_is_not_to_be_believed_is_told_to_no_judge(writer: Writer, flags: Flag) -> None:
    put(writer, LEFT_BEER, 1.0, 85.0, flags)
    put(writer, LEFT_BEER, 2.0, 20.0)
    assert hours_told(told(writer)) == [("temperature", 2.0, 20.0)]


def test_each_reading_is_set_right_as_its_probe_was_calibrated_then(writer: Writer) -> None:
    put(writer, LEFT_BEER, 1.0, 20.0)
    writer.declare("UTC", VESSELS, (beer_probe(calibration=Calibration(0.5)), *PROBES[1:]), NOW + 2 * HOUR)
    put(writer, LEFT_BEER, 3.0, 20.0)
    assert hours_told(told(writer)) == [("temperature", 1.0, 20.0), ("temperature", 3.0, 20.5)]


def test_a_probe_that_is_moved_speaks_for_each_fermenter_while_it_is_there(writer: Writer) -> None:
    put(writer, LEFT_BEER, 1.0, 20.0)
    writer.declare("UTC", VESSELS, (beer_probe("left-beer", "right"), PROBES[1]), NOW + 2 * HOUR)
    put(writer, LEFT_BEER, 3.0, 12.0)
    assert hours_told(told(writer)) == [("temperature", 1.0, 20.0)]
    assert ("temperature", 3.0, 12.0) in hours_told(told(writer, batch("OTHER", "right")))


def test_all_that_people_said_is_told_with_what_they_took_back(writer: Writer) -> None:
    for asked in (
        opening(batch()),
        request(RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measurement())}),
        request(RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(event())}),
        request(RequestKind.VOID, {"id": "E1"}),
    ):
        assert writer.apply(asked, NOW).state == "done"
    assert told(writer).notes == ["M1", "E1 voided"]
    assert Notes.of(writer, batch()).measurements == writer.measurements("BATCH1")


def test_news_are_told_as_they_were_heard(writer: Writer) -> None:
    put(writer, LEFT_BEER, 1.0, 19.25)
    news, judge = News(), Listening(batch())
    ears = Ears.of(writer, batch())
    for row in writer.readings(LEFT_BEER, NOW, NOW + 9 * HOUR):
        news.hear(ears, row)
    news.hear(ears, Reading(RIGHT_BEER, to_ms(NOW + HOUR), 12.0))
    assert len(news) == 1
    news.tell(judge)
    assert judge.told == [("temperature", NOW + HOUR, 19.25)]


def test_weeks_are_heard_in_slices(writer: Writer) -> None:
    long_ago = replace(batch(), pitched_at=NOW - timedelta(days=21))
    writer.append([Reading(LEFT_BEER, to_ms(NOW - timedelta(days=day)), 20.0) for day in range(21)])
    news = News()
    heard = [len(news) for _ in news.hear_history(Ears.of(writer, long_ago), writer, NOW)]
    assert len(heard) >= 20  # two days of two series at a time
    assert max(after - before for before, after in itertools.pairwise(heard)) <= 2
    assert heard[-1] == 21


def test_a_packaged_beer_is_judged_as_of_that_day_and_as_it_was_packaged(writer: Writer) -> None:
    for asked in (
        opening(batch()),
        request(RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(packed(NOW))}),
    ):
        assert writer.apply(asked, NOW).state == "done"
    kept = writer.batch("BATCH1")
    assert kept is not None
    assert judged_until(batch(), NOW + HOUR) == NOW + HOUR
    assert judged_until(kept, NOW + HOUR) == NOW
    meant = as_it_was_meant(writer, kept)
    assert meant.package is not None
    assert (meant.package.kind, meant.package.volumes) == ("soda-pet", 2.4)


def test_the_brewers_earlier_batches_are_among_what_is_told_as_they_stand_now(writer: Writer) -> None:
    earlier = replace(batch("BEFORE"), pitched_at=NOW - timedelta(days=30))
    last = replace(measurement("LAST"), at=NOW - timedelta(days=12), gravity_sg=1.012)
    slip = replace(measurement("SLIP"), at=NOW - timedelta(days=11), gravity_sg=1.021)
    for asked in (
        opening(earlier),
        *(request(RequestKind.MEASURE, {"batch": "BEFORE", "measurement": to_plain(one)}) for one in (last, slip)),
        request(RequestKind.EVENT, {"batch": "BEFORE", "event": to_plain(packed(NOW - timedelta(days=10)))}),
        opening(batch()),
    ):
        assert writer.apply(asked, NOW).state == "done"
    assert [round(one.attenuation, 3) for one in Notes.of(writer, batch()).own] == [0.58]
    assert writer.apply(request(RequestKind.VOID, {"id": "SLIP"}), NOW).state == "done"
    assert [round(one.attenuation, 3) for one in Notes.of(writer, batch()).own] == [0.76]
    assert Notes.of(writer, earlier).own == ()
