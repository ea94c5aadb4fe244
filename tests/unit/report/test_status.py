"""The plain screenful and the JSON: complete, without colour, fit to be read aloud and by a program."""

import json
import subprocess
import sys
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from fermwatch.commands import sheet
from fermwatch.commands.context import Context
from fermwatch.contracts.feed import Freshness, Lane
from fermwatch.contracts.store import ControllerStatus
from fermwatch.model.degree import Degree, Output
from fermwatch.model.finding import Condition
from fermwatch.report.status import status_text
from fermwatch.saying.for_programs import status as status_json
from fermwatch.saying.voice import US
from tests.dashboard.hostile import hostile_snapshot
from tests.dashboard.snapshots import NOW, healthy, hot, many, snapshot, source


def test_it_tells_the_three_stories_with_their_remedies() -> None:
    told = status_text(snapshot(), 100)
    for words in (
        "home: Middle and Right need you.",
        "Tuesday 3 November 2026 21:14, Europe/Oslo.",
        "Critical since today 16:40: Beer 24.6 °C",
        "What to do: Warm it to 19 °C and rouse the yeast; do not bottle.",
        "Beer 19.2 °C; within the yeast's range 17–21 °C; set point 19.0 °C.",
        "Gravity 1.024; from 1.052 toward 1.010–1.015 by its forecast; apparent attenuation 53%.",
        "Probes: air stale 25 min, 3 live.",
    ):
        assert words in told


FRIDGE = ControllerStatus("fridge", "left", Degree.SET, 18.0, 18.0, (Output.COOL,), NOW)


@pytest.mark.parametrize(
    ("status", "said"),
    [
        (FRIDGE, "Controller fridge is set to 18.0 °C by the plan, cools."),
        (replace(FRIDGE, degree=Degree.OBSERVE), "Controller fridge is only read, set point 18.0 °C, cools."),
        (
            replace(FRIDGE, degree=Degree.DRIVE, on=()),
            "Controller fridge is driven to 18.0 °C by the plan, nothing on.",
        ),
        (
            replace(FRIDGE, set_point_c=15.0, on=None, trouble="it shows 15.0 °C."),
            "Controller fridge is set to 18.0 °C by the plan, set point 15.0 °C: it shows 15.0 °C.",
        ),
        (
            replace(FRIDGE, degree=Degree.DRIVE, on=(), waits="A compressor rests 300 s before it starts again."),
            (
                "Controller fridge is driven to 18.0 °C by the plan, nothing on, waits: a compressor rests 300 s "
                "before it starts again."
            ),
        ),
        (replace(FRIDGE, target_c=None, on=None), "Controller fridge waits for a plan, set point 18.0 °C."),
        (
            replace(FRIDGE, alarms=("outputs-dropped",), on=()),
            "Controller fridge is set to 18.0 °C by the plan, nothing on, it tells: outputs dropped.",
        ),
        (
            replace(FRIDGE, at=NOW - timedelta(minutes=12), trouble="no answer"),
            "Controller fridge is set to 18.0 °C by the plan, cools, last seen 12 min ago: no answer.",
        ),
        (replace(FRIDGE, at=None, on=None), "Controller fridge is set to 18.0 °C by the plan, not seen yet."),
    ],
)
def test_what_a_controller_does_is_a_line_of_its_fermenter(status: ControllerStatus, said: str) -> None:
    shown = snapshot(replace(healthy(), controllers=(status,)), hot())
    told = status_text(shown, 200)
    assert f"\n  {said}\n" in told
    assert told.count("Controller") == 1
    assert status_json(shown)["fermenters"][0]["regulators"][0]["name"] == "fridge"
    assert status_json(shown)["fermenters"][1]["regulators"] == []


@pytest.mark.parametrize("width", [40, 60, 80, 132])
def test_no_row_is_wider_than_asked(width: int) -> None:
    assert max(len(line) for line in status_text(many(5), width).splitlines()) <= width


def test_ascii_is_ascii_and_us_units_are_fahrenheit() -> None:
    told = status_text(snapshot(), 80, ascii=True, units=US)
    assert told.isascii()
    assert "Beer 66.6 F" in told


def test_no_escape_code_comes_through() -> None:
    told = status_text(hostile_snapshot(), 80)
    assert all(sign.isprintable() or sign == "\n" for sign in told)
    assert "[@click=app.quit]x[/]" in told


def test_json_is_plain_data_with_units_in_names_and_instants_in_utc() -> None:
    told = json.loads(json.dumps(status_json(snapshot())))
    assert told["now"] == "2026-11-03T20:14:00Z"
    left = told["fermenters"][0]
    assert left["probes"][0]["value_c"] == 19.24
    assert left["probes"][3]["value_sg"] == 1.0243
    assert left["batch"]["yeast"]["temperature_low_c"] == 17.0
    assert told["fermenters"][2]["probes"][4]["value_bar_gauge"] is None
    assert told["fermenters"][1]["alarms"][0]["rule"] == "temperature-high"
    assert datetime.fromisoformat(left["batch"]["pitched_at"]).utcoffset() is not None


def test_json_has_the_same_keys_whatever_is_missing() -> None:
    def keys(data: object) -> object:
        return (
            {key: keys(value) for key, value in data.items() if isinstance(value, dict)}
            if isinstance(data, dict)
            else None
        )

    whole, bare = snapshot(), replace(snapshot(), watcher=None)
    assert set(status_json(whole)) == set(status_json(bare))
    without = replace(whole.lanes[0], batch=None, judgement=None)
    assert set(status_json(replace(whole, lanes=(without,)))["fermenters"][0]) == set(
        status_json(whole)["fermenters"][0]
    )


def told_of(lane: Lane) -> str:
    return status_text(snapshot(lane), 200)


def test_it_says_which_alarm_is_quiet_until_when_and_by_whom() -> None:
    alarm = replace(hot().alarms[0], shelved_until=NOW + timedelta(hours=2), shelved_by="anna")
    told = told_of(replace(healthy(), alarms=(alarm,)))
    assert "home: Quiet: 1 alarm shelved until 23:14." in told
    assert "Quiet: shelved until 23:14 by anna: Beer 24.6 °C is 3.6 °C above" in told


def test_what_to_do_is_told_only_of_what_stands() -> None:
    alarm = replace(hot().alarms[0], condition=Condition.NORMAL, cleared_at=NOW)
    assert "What to do" not in told_of(replace(hot(), alarms=(alarm,)))
    assert "What to do" in told_of(hot())


def test_a_faulty_probe_gets_no_verdict_on_its_range() -> None:
    fault = "-127.0 °C means that the probe measured nothing"
    beer = replace(healthy().probes[0], freshness=Freshness.FAULTY, age_s=2400.0, flagged=fault)
    told = told_of(replace(healthy(), probes=(beer, *healthy().probes[1:])))
    assert f"Beer 19.2 °C, faulty, last good 40 min ago: {fault}; the yeast's range 17–21 °C" in told


def test_what_came_and_became_nothing_is_told_with_the_remedy() -> None:
    broker = replace(
        source(),
        name="broker",
        rejected=3,
        last_rejection="cellar/left: NaN is not a number\x1b[31m",
        unbound_channels=("cellar/x\x07", "b", "c", "d"),
    )
    told = status_text(replace(snapshot(healthy()), sources=(broker,)), 400)
    assert (
        "broker: 3 messages were no readings, the last one because: cellar/left: NaN is not a number\\x1b[31m. "
        "Look at what the device sends; the log has each kind once."
    ) in told
    assert told.count("broker also sends") == 1
    assert "used by no [[probe]], as it may be." in told
    assert "cellar/x\\x07" in told
    assert "1 more: used" in told


def test_importing_it_loads_no_screen_and_nothing_heavy() -> None:
    code = "import sys, fermwatch.report.status; print(*{name.partition('.')[0] for name in sys.modules})"
    loaded = set(
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    )
    assert loaded & {"textual", "rich", "numpy", "pydantic"} == set()


def test_the_headline_and_the_temperature_never_disagree_about_the_range() -> None:
    beer = replace(healthy().probes[0], value=21.04)
    told = told_of(replace(healthy(), probes=(beer, *healthy().probes[1:])))
    assert "home: All well." in told
    assert "Beer 21.0 °C; within the yeast's range 17–21 °C" in told


def test_json_escapes_what_a_terminal_would_act_on(capsys: pytest.CaptureFixture[str]) -> None:
    context = Context(None, None, None, {})
    sheet.say_json(context, status_json(hostile_snapshot()))
    told = capsys.readouterr().out
    assert all(sign.isprintable() or sign == "\n" for sign in told)
    assert json.loads(told)["fermenters"][0]["name"] == hostile_snapshot().lanes[0].vessel.name


def test_json_is_in_canonical_units_whatever_the_readers(capsys: pytest.CaptureFixture[str]) -> None:
    sheet.say_json(Context(None, None, None, {}, units_said="us plato"), status_json(snapshot()))
    told = json.loads(capsys.readouterr().out)
    assert told["fermenters"][1]["alarms"][0]["statement"].startswith("Beer 24.6 °C is 3.6 °C above")
