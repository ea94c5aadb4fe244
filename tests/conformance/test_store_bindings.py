"""Where a probe is bound to, by clocks that are right, ahead, or not set yet."""

from datetime import datetime, timedelta

from fermwatch.clock import EPOCH
from fermwatch.contracts.store import Writer
from fermwatch.model.history import NOWHERE, History
from fermwatch.model.reading import Flag
from tests.conformance.stores import StoreBench
from tests.support.samples import NOW, VESSELS, beer_probe, reading

DAY = timedelta(days=1)


def declared(writer: Writer, vessel: str, now: datetime) -> None:
    writer.declare("UTC", VESSELS, [beer_probe(vessel=vessel)], now)


def where(writer: Writer, at: datetime) -> str:
    return History(writer.bindings()).vessel(1, at)


def test_a_probe_that_is_configured_no_more_serves_no_fermenter(stores: StoreBench) -> None:
    with stores.store().writer(NOW) as writer:
        declared(writer, "left", NOW)
        writer.declare("UTC", VESSELS, [], NOW + DAY)
        writer.declare("UTC", VESSELS, [], NOW + 2 * DAY)
        declared(writer, "left", NOW + 3 * DAY)
        assert [where(writer, NOW + days * DAY) for days in (0.5, 2.5, 3.5)] == ["left", NOWHERE, "left"]
        assert len(writer.bindings()) == 3


def test_what_a_clock_that_ran_ahead_said_of_a_time_to_come_is_taken_back(stores: StoreBench) -> None:
    with stores.store().writer(NOW) as writer:
        declared(writer, "left", NOW)
        declared(writer, "right", NOW + 300 * DAY)
        declared(writer, "right", NOW + DAY)
        assert [where(writer, NOW + days * DAY) for days in (0.5, 2)] == ["left", "right"]


def test_a_clock_that_was_not_set_yet_takes_nothing_back(stores: StoreBench) -> None:
    with stores.store().writer(NOW) as writer:
        declared(writer, "left", NOW)
        declared(writer, "right", NOW + DAY)
        writer.append([reading(0), reading(60)])
        declared(writer, "left", EPOCH)
        assert not writer.mark_ahead(EPOCH)
        assert [where(writer, NOW + days * DAY) for days in (0.5, 2)] == ["left", "left"]
        assert len(writer.bindings()) == 3
        assert {row.flags for row in writer.readings(1, NOW, NOW + DAY)} == {Flag.GOOD}
