"""What stands on a broker is of now, whole, documented, and no more than a home automation's sensors need."""

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import tests.dashboard.snapshots as shown
from fermwatch.contracts.feed import Freshness, Snapshot
from fermwatch.model.quantity import Quantity
from fermwatch.publish.documents import SENSORS, Topics, documents, unwatched

TOPICS = Topics("home", "cellar", "found")
PAGE = Path(__file__).parents[3] / "docs" / "programs.md"


def fermenter(snapshot: Snapshot, slug: str = "right") -> dict[str, Any]:
    found: dict[str, Any] = json.loads(documents(snapshot, TOPICS)[f"cellar/home/fermenter/{slug}"])
    return found


def with_freshness(freshness: Freshness) -> Snapshot:
    snapshot = shown.snapshot()
    lanes = [
        replace(lane, probes=tuple(replace(one, freshness=freshness) for one in lane.probes)) for lane in snapshot.lanes
    ]
    return replace(snapshot, lanes=tuple(lanes))


def test_a_fermenter_is_one_object_of_what_is_known_now() -> None:
    found = fermenter(shown.snapshot())
    assert (found["beer_temperature_c"], found["gravity_sg"]) == (15.8, 1.0225)
    assert found["name"] == "Right"
    assert found["batch"]
    assert found["alarm"] in {"none", "advice", "warning", "critical"}


def test_what_is_not_of_now_is_null() -> None:
    for freshness in set(Freshness) - {Freshness.LIVE}:
        found = fermenter(with_freshness(freshness))
        assert found["beer_temperature_c"] is None
        assert found["gravity_sg"] is None


def test_availability_follows_the_watcher_and_comes_last() -> None:
    told = documents(shown.snapshot(), TOPICS)
    assert list(told)[-1] == "cellar/home/availability"
    assert told[TOPICS.availability] == "online"
    assert unwatched(told, TOPICS) == {**told, TOPICS.availability: "offline"}


def test_a_sensor_is_announced_for_each_number_that_there_is() -> None:
    told = documents(shown.snapshot(), TOPICS)
    announced = {topic: json.loads(text) for topic, text in told.items() if topic.startswith("found/")}
    identities = [one["unique_id"] for one in announced.values()]
    assert len(set(identities)) == len(identities)
    document = fermenter(shown.snapshot())
    for sensor in SENSORS:
        assert sensor.key in document
    for topic, said in announced.items():
        assert re.fullmatch(r"found/sensor/fermwatch-home/[a-z0-9-]+-[a-z_]+/config", topic)
        assert said["state_topic"] in told
        assert said["availability_topic"] in told
        assert said["value_template"] == f"{{{{ value_json.{topic.split('/')[-2].rpartition('-')[2]} }}}}"
        assert "command_topic" not in said
    measured = [
        lane.vessel.slug
        for lane in shown.snapshot().lanes
        if any(one.probe.quantity is Quantity.GRAVITY for one in lane.probes)
    ]
    assert {f"found/sensor/fermwatch-home/{slug}-gravity_sg/config" for slug in measured} == {
        topic for topic in announced if topic.endswith("-gravity_sg/config")
    }


def test_without_discovery_nothing_is_announced() -> None:
    assert not [one for one in documents(shown.snapshot(), Topics("home", "cellar")) if "sensor" in one]


def test_nothing_hostile_gets_out_by_a_name() -> None:
    snapshot = shown.snapshot()
    lane = snapshot.lanes[0]
    named = replace(lane, vessel=replace(lane.vessel, name='\x1b]0;x\x07{{ states() }} "'))
    told = documents(replace(snapshot, lanes=(named,)), TOPICS)
    assert not [text for text in told.values() if "\x1b" in text or "\\u001b" in text or "\x07" in text]
    for topic, text in told.items():
        if topic.endswith("/config"):
            assert "states" not in json.loads(text)["value_template"]


def test_the_page_names_every_key() -> None:
    part = PAGE.read_text(encoding="utf-8").split("## Documents on a broker", 1)[1].split("\n## ", 1)[0]
    told = {key for row in re.findall(r"^\| (`.*?) \|", part, re.MULTILINE) for key in re.findall(r"`([a-z_]+)`", row)}
    assert told == set(fermenter(shown.snapshot()))
