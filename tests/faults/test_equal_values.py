"""Values that are all alike, as of beer that keeps its temperature: each is stored once, whatever breaks."""

import json
import random
from pathlib import Path

import pytest

from tests.support.broker import Broker
from tests.support.proxy import Proxy, running_proxy
from tests.support.running import Site, mqtt_source, probe, until, vessel

pytestmark = pytest.mark.needs_broker

COUNT = 1500
LONG_S = 180.0  # against hanging only: a slow machine, and a pause after every cut


def on(site: Site, port: int, *options: str, channel: str = "beer") -> None:
    site.configure(vessel(), mqtt_source("broker", port, "cellar/{what}", *options), probe("beer", "broker", channel))


def test_connections_cut_anywhere_lose_and_double_none_of_them(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker", max_queued_messages=0) as broker:
        proxy = Proxy(broker.port, random.Random(7), most_bytes=40_000)
        with running_proxy(proxy) as port:
            on(site, port)
            with site.watched() as watching:
                watching.says("is connected")
                lasts: list[float] = []
                while proxy.cuts < 2:  # how many there are depends on the pace of the machine
                    lasts.append(20.5 + len(lasts))
                    broker.publish_lines("cellar/beer", ["19.5"] * COUNT)
                    broker.publish("cellar/beer", str(lasts[-1]))  # comes last
                    until(
                        lambda: lasts[-1] in {row.value for row in site.readings("beer")},
                        "the last is there",
                        guard_s=LONG_S,
                    )
                assert watching.stop() == 0
    values = [row.value for row in site.readings("beer")]
    assert len(values) == len(lasts) * (COUNT + 1)


def test_a_broker_that_forgot_us_counts_its_messages_anew_and_none_is_taken_for_an_old_one(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker", persistence=False, max_queued_messages=0) as broker:
        on(site, broker.port)
        with site.watched() as watching:
            watching.says("is connected")
            broker.publish_lines("cellar/beer", ["19.5"] * 50)
            until(lambda: len(site.readings("beer")) == 50, "they are stored", seen=site.log)
            broker.restart()
            until(lambda: watching.log().count("is connected") >= 2, "it is connected again", seen=site.log)
            watching.kill()
        broker.publish_lines("cellar/beer", ["19.5"] * 30)  # under the identifiers of before
        with site.watched() as watching:
            until(lambda: len(site.readings("beer")) == 80, "these are others", seen=site.log)
            assert watching.stop() == 0


def test_what_a_publisher_sends_again_under_its_number_is_stored_once(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker") as broker:
        on(site, broker.port, 'payload = "json"', 'sequence_pointer = "/n"', channel="beer#/t")
        said = [json.dumps({"n": number, "t": 19.5}) for number in range(20)]
        with site.watched() as watching:
            watching.says("is connected")
            broker.publish_lines("cellar/beer", said)
            broker.publish_lines("cellar/beer", [*said[10:], json.dumps({"n": 20, "t": 19.5})])
            until(lambda: len(site.readings("beer")) >= 21, "all are stored", seen=site.log)
            assert watching.stop() == 0
    assert [row.sequence for row in site.readings("beer")] == list(range(21))
