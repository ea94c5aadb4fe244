"""Messages on a real broker."""

import asyncio
import json
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import pytest
from pydantic import ValidationError

from fermwatch.errors import NotifierRefused, NotifierUnavailable
from fermwatch.notify.wording import trial_message
from fermwatch_drivers.notifiers.by_mqtt import NOTIFIER, MqttNotifier
from tests.support.broker import Broker, free_port
from tests.support.running import until

pytestmark = pytest.mark.needs_broker
MESSAGE = trial_message("home", "house", datetime(2026, 3, 1, 12, tzinfo=UTC))


def notifier(port: int, directory: Path, **more: str) -> MqttNotifier:
    options = NOTIFIER.options.model_validate({"host": "127.0.0.1", "port": port, "topic": "cellar/told", **more})
    return NOTIFIER.create("house", options, directory)


def test_it_arrives_as_json_and_is_not_kept_for_who_comes_later(tmp_path: Path) -> None:
    with Broker(tmp_path / "broker") as broker:
        words = ["mosquitto_sub", "-h", "127.0.0.1", "-p", str(broker.port), "-t", "cellar/#", "-v"]
        with subprocess.Popen([*words, "-C", "1", "-W", "20"], stdout=subprocess.PIPE, text=True) as hearing:
            until(lambda: "Sending SUBACK" in broker.log(), "somebody listens", seen=broker.log)
            asyncio.run(notifier(broker.port, tmp_path).send(MESSAGE))
            out, _ = hearing.communicate(timeout=30)
        later = subprocess.run([*words, "-W", "1"], capture_output=True, text=True, check=False, timeout=30)
    topic, _, payload = out.partition(" ")
    assert topic == "cellar/told"
    assert json.loads(payload) == MESSAGE.as_plain()
    assert later.stdout == ""


async def test_no_broker_is_told_as_out_of_reach(tmp_path: Path) -> None:
    with pytest.raises(NotifierUnavailable, match="cannot be reached"):
        await notifier(free_port(), tmp_path).send(MESSAGE)


async def test_a_wrong_password_needs_a_person(tmp_path: Path) -> None:
    secret = tmp_path / "password"
    secret.write_text("wrong\n")
    secret.chmod(0o600)
    with Broker(tmp_path / "broker", users={"cellar": "right"}) as broker:
        one = notifier(broker.port, tmp_path, username="cellar", password_file=str(secret))
        with pytest.raises(NotifierRefused, match="does not let us in"):
            await one.send(MESSAGE)


@pytest.mark.parametrize("topic", ["cellar/#", "cellar/+/told", "cellar/{what}"])
def test_a_topic_is_one(topic: str, tmp_path: Path) -> None:
    with pytest.raises(ValidationError, match="one topic"):
        notifier(1883, tmp_path, topic=topic)
