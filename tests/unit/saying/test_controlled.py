"""What a controller does, in one line: whole, and for where there is little room."""

from datetime import UTC, datetime

from fermwatch.contracts.store import ControllerStatus
from fermwatch.model.degree import Degree
from fermwatch.saying.controlled import at_work
from fermwatch.saying.voice import Voice

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)


def test_what_it_waits_for_gives_way_first() -> None:
    waits = "The heat was on, or may have been, within 30 min."
    status = ControllerStatus("fridge", "left", Degree.DRIVE, at=NOW, target_c=18.0, on=(), waits=waits)
    said = at_work(status, NOW, Voice())
    assert said.text == "fridge is driven to 18.0 °C by the plan, nothing on, waits: " + waits.rstrip(".").replace(
        "The", "the"
    )
    assert said.brief == "fridge is driven to 18.0 °C by the plan, nothing on, and waits"
