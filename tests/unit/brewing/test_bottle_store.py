"""The place where packages stand, as the store knows it."""

from datetime import timedelta
from pathlib import Path

import pytest

from fermwatch.brewing.bottle_store import packaged_beer
from fermwatch.clock import to_ms
from fermwatch.desk.asking import request
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.history import NOWHERE
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.reading import Reading
from fermwatch.requests.shapes import Happened
from fermwatch.store import open_store
from tests.unit.rules.situations import BATCH, DAY, HOUR, START

PANTRY = Probe("pantry", NOWHERE, Quantity.STORE_TEMPERATURE, "board", "s", Unit.CELSIUS)
FILLED: dict[str, float | str | bool] = {
    "package": "returnable-glass",
    "volumes": 2.4,
    "sugar_g_per_l": 6.0,
    "conditioning_c": 20.0,
}


@pytest.mark.parametrize("days", [1, 4, 9, 16, 140])
def test_it_was_last_heard_when_its_probe_last_spoke_however_late_one_looks(tmp_path: Path, days: int) -> None:
    """The end of the span that it fell into was said: a time that moved with the day on which one looked."""
    last = START + 7 * HOUR
    with open_store(tmp_path.absolute().as_uri(), "cellar").writer(START) as writer:
        writer.declare("UTC", [Vessel("left", "Left", 25.0)], [PANTRY], START - 30 * DAY)
        packed = Event("E1", START, EventKind.PACKAGED, FILLED)
        for asked in (BATCH, Happened(BATCH.id, packed)):
            done = writer.apply(request(asked, site="cellar", user="anna", now=START), START)
            assert done.state == "done", done
        (series,) = (one.series for one in writer.series())
        writer.append([Reading(series, to_ms(last - timedelta(minutes=10 * step)), 18.0) for step in range(40)])
        beer = packaged_beer(writer, BATCH, START + days * DAY)
    assert beer.conditioning.heard_at is not None
    assert timedelta() <= beer.conditioning.heard_at - last <= timedelta(seconds=1)
    assert beer.conditioning.temperature_c == pytest.approx(18.0)
