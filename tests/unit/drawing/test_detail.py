"""The page about one fermenter: the verdict's sentence, one next step, then the evidence; nothing twice."""

from dataclasses import replace

from fermwatch.drawing.detail import lane_lines
from fermwatch.drawing.lines import plain
from fermwatch.drawing.page import Sheet
from fermwatch.model.amounts import points
from fermwatch.model.finding import Evidence
from fermwatch.saying.voice import Units
from tests.dashboard.snapshots import healthy, snapshot

FALLS = f"falling {points(7.2, 1)} a day"


def page(width: int = 100, units: Units | None = None) -> str:
    lane = healthy()
    assert lane.judgement is not None
    assert lane.judgement.phase is not None
    assert lane.judgement.verdict is not None
    of_phase = (
        Evidence("decline", met=False, statement=f"{FALLS} (90 % sure: 6 to 8), steepest so far {points(9, 1)} a day"),
        Evidence("attenuation", met=False, statement="apparent attenuation 54% of 73% to 79%"),
        Evidence("stopped too high", met=True, statement="above the highest end expected"),
    )
    of_verdict = (
        Evidence("still", met=False, statement=f"{FALLS} (90 % sure: 6 to 8); at most 3% will do", remedy="Wait."),
        Evidence("attenuation", met=False, statement="apparent attenuation 54%; the yeast's range is 73% to 79%"),
    )
    judgement = replace(
        lane.judgement,
        phase=replace(lane.judgement.phase, evidence=of_phase),
        verdict=replace(lane.judgement.verdict, evidence=of_verdict),
    )
    shown = snapshot(replace(lane, judgement=judgement))
    sheet = Sheet(width, 0, units=units or Units())
    return "\n".join(plain(line) for line in lane_lines(shown.lanes[0], shown, sheet))


def test_sentence_then_one_step_with_its_time_then_evidence() -> None:
    told = " ".join(page().split())
    sentence = told.index("it is still fermenting, at 1.024: not ready to bottle.")
    step = told.index(
        "On Fri 21:14 (in about 3 days): Take one degassed hydrometer reading and enter it with `fermwatch measure`."
    )
    assert sentence < step < told.index("not met still: falling 7.2 points a day")


def test_nothing_is_said_twice_and_no_second_advice_stands_beside_the_step() -> None:
    told = page()
    assert told.count("apparent attenuation 54%") == 1
    assert told.count("90 % sure") == 1
    assert "stopped too high" in told
    assert "Wait." not in told
    assert told.count("hydrometer reading") == 1


def test_it_is_in_the_readers_units_throughout() -> None:
    told = page(units=Units(fahrenheit=True, plato=True))
    assert "falling 1.9 °P a day" in told
    assert "°C" not in told
    assert "1.0" not in told.replace("1.0 °P", "")
