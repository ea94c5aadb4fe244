"""A topic with named levels."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch_drivers.mqtt.topic import NamedTopic, parse_topic


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


LEVELS = st.sampled_from(["a", "b", "", "$a"])
TOPICS = st.lists(LEVELS, min_size=1, max_size=4).map("/".join)
KINDS = st.tuples(
    st.lists(st.one_of(LEVELS, st.none()), min_size=1, max_size=3).map(
        lambda levels: [f"{{x{at}}}" if level is None else level for at, level in enumerate(levels)]
    ),
    st.booleans(),
).map(lambda said: parse_topic("/".join([*said[0], *(["#"] if said[1] else [])]) or "a"))


@given(KINDS, KINDS, TOPICS)
def test_what_covers_has_all_topics_of_the_other_and_what_has_none_in_common_does_not_overlap(
    one: NamedTopic, other: NamedTopic, topic: str
) -> None:
    mine, theirs = one.channel(topic) is not None, other.channel(topic) is not None
    assert one.overlaps(other) == other.overlaps(one)
    assert one.overlaps(other) or not (mine and theirs)
    assert mine or not (theirs and one.covers(other))
    assert one.overlaps(other) or not one.covers(other)
    assert one.covers(one)


@pytest.mark.parametrize(
    ("one", "other", "covers", "overlaps"),
    [
        ("cellar/#", "cellar/{fermenter}/{what}", True, True),
        ("cellar/{fermenter}/{what}", "cellar/#", False, True),
        ("cellar/{a}/{b}", "cellar/{fermenter}/{what}", True, True),
        ("cellar/left/{what}", "cellar/{fermenter}/t", False, True),
        ("cellar/left/#", "cellar/right/#", False, False),
        ("#", "$SYS/uptime", False, False),
        ("{x}/t", "$SYS/t", False, False),
    ],
)
def test_which_topics_have_what_in_common(one: str, other: str, covers: bool, overlaps: bool) -> None:
    first, second = parse_topic(one), parse_topic(other)
    assert (first.covers(second), first.overlaps(second)) == (covers, overlaps)
