"""A topic with named levels."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch_drivers.mqtt.topic import parse_topic


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("cellar/{fermenter}/{what}", "cellar/+/+"),
        ("cellar/left/temp", "cellar/left/temp"),
        ("cellar/#", "cellar/#"),
        ("{site}/beer/#", "+/beer/#"),
        ("#", "#"),
        ("/cellar/{what}", "/cellar/+"),
    ],
)
def test_named_levels_become_wildcards(text: str, wanted: str) -> None:
    assert parse_topic(text).filter == wanted


@pytest.mark.parametrize(
    ("text", "topic", "channel"),
    [
        ("cellar/{fermenter}/{what}", "cellar/left/temperature", "left/temperature"),
        ("cellar/{fermenter}/temp", "cellar/left/temp", "left"),
        ("cellar/left/temp", "cellar/left/temp", "value"),
        ("cellar/{fermenter}/#", "cellar/left/probe/1", "left/probe/1"),
        ("cellar/{fermenter}/#", "cellar/left", "left"),
        ("cellar/#", "cellar", "value"),
        ("cellar/{fermenter}", "cellar/left/temp", None),
        ("cellar/{fermenter}", "attic/left", None),
        ("cellar/{fermenter}/temp", "cellar/left", None),
    ],
)
def test_the_named_values_are_the_channel(text: str, topic: str, channel: str | None) -> None:
    assert parse_topic(text).channel(topic) == channel


@pytest.mark.parametrize(
    "text",
    ["", "cellar/+", "cellar/#/x", "cellar/a#", "cellar/{a b}", "cellar/{a}x", "{a}/{a}", "$share/g/x", "a\0", "{}"],
)
def test_a_topic_that_cannot_be_meant_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(ValueError, match=" "):
        parse_topic(text)


@given(st.text(max_size=40), st.sampled_from(["a/{b}/{c}", "a/#", "{x}/#", "a/b"]))
def test_a_channel_that_comes_can_also_be_configured(topic: str, text: str) -> None:
    named = parse_topic(text)
    channel = named.channel(topic)
    assert channel is None or named.can_give(channel)
