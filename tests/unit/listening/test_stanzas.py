"""What is written of what was overheard is read again by the very drivers that a watcher would use."""

import tomllib
from pathlib import Path

import pytest

from fermwatch.clock import EPOCH
from fermwatch.config.load import Loaded, load
from fermwatch.contracts.overhearing import Utterance
from fermwatch.ingest.plug_ins import drivers
from fermwatch.listening.gathering import MOST_CHANNELS, Gathered, Overheard, Settings
from fermwatch.listening.stanzas import Chosen, NewVessel, bound, channel_of, slug, stanzas
from fermwatch.model.quantity import Quantity
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.mqtt import payload
from fermwatch_drivers.overhearing.lines import read_line
from fermwatch_drivers.overhearing.messages import read_message
from fermwatch_drivers.serial_line import formats

LEFT = (NewVessel("left", "Left", 30.0),)
BROKER = (("host", "192.0.2.10"), ("port", 1884), ("username", "me"), ("password_file", "/etc/fermwatch/secret"))


def line(text: str) -> Utterance:
    found = read_line(text.encode())
    assert found is not None
    settings: Settings = (("port", "/dev/port"), ("baud", 9600), *found.settings)
    return Utterance("/dev/port", "serial-line", settings, text, found.fields)


def message(topic: str, text: str) -> Utterance:
    kind, fields = read_message(topic, text.encode())
    return Utterance("192.0.2.10:1884", "mqtt", (*BROKER, ("payload", kind)), text, fields, topic)


def heard(*said: Utterance) -> Overheard:
    overheard = Overheard()
    for at_s, one in enumerate(said):
        overheard.add(one, 10.0 * at_s)
    return overheard


def all_of(overheard: Overheard) -> list[Chosen]:
    return [
        Chosen(one, one.recognised.likely[0].quantity, one.recognised.likely[0].unit, "left")
        for one in overheard
        if one.recognised.likely
    ]


def loaded(directory: Path, text: str) -> Loaded:
    file = directory / "fermwatch.toml"
    file.write_text(text, encoding="utf-8")
    return load(file, drivers(), {})


def read_again(made: Loaded, said: Utterance) -> dict[str, float]:
    """By probe, what the driver of each source reads of it."""
    found: dict[str, float] = {}
    for source in made.sources:
        sink = Heard()
        if source.driver == "mqtt":
            arrival = payload.Arrival(said.topic, said.text.encode(), len(said.text), EPOCH, False, False)
            payload.reader_for(source.name, source.options, source.channels).read(arrival, sink)  # type: ignore[arg-type]
        else:
            formats.reader_for(source.name, source.options, source.channels).read(said.text.encode(), EPOCH, sink)  # type: ignore[arg-type]
        said_by = {(source.name, one.channel): one.value for one in sink.readings}
        mine = (probe for probe in made.config.probe if (probe.source, probe.channel) in said_by)
        found |= {probe.id: said_by[probe.source, probe.channel] for probe in mine}
    return found


@pytest.mark.parametrize(
    ("said", "values"),
    [
        (
            line('{"beer": {"temp": 19.4}, "gravity": 1.048, "battery": 3.9}'),
            {"left-beer": 19.4, "left-gravity": 1.048},
        ),
        (line("t1=66.2F g=1.048"), {"left-beer": 66.2, "left-gravity": 1.048}),
        (line("T1: 19.4 C"), {"left-beer": 19.4}),
        (line("19.4"), {"left-beer": 19.4}),
        (line("19.4;1.0482"), {"left-beer": 19.4, "left-gravity": 1.0482}),
        (message("cellar/left/temp", "19.4"), {"left-beer": 19.4}),
        (message("a{b}/+odd/temp", "19.4"), {"left-beer": 19.4}),
        (message("float", '{"gravity": 1.048, "temp °": 66.2}'), {"left-gravity": 1.048, "left-beer": 66.2}),
        (message("küche/bier temp", "19.4"), {"left-beer": 19.4}),
    ],
)
def test_what_is_written_reads_what_was_heard(tmp_path: Path, said: Utterance, values: dict[str, float]) -> None:
    overheard = heard(said, said)
    made = loaded(tmp_path, stanzas(all_of(overheard), LEFT, overheard, {}, "Europe/Vienna"))
    assert read_again(made, said) == values
    assert made.config.site.timezone == "Europe/Vienna"
    assert all(probe.every_s == 10.0 for probe in made.config.probe)


def test_topics_that_differ_in_a_level_are_one_source_unless_another_payload_would_be_meant_too(tmp_path: Path) -> None:
    both = (message("cellar/left/temp", "19.4"), message("cellar/right/temp", "18.1"))
    overheard = heard(*both)
    made = loaded(tmp_path, stanzas(all_of(overheard), LEFT, overheard, {}))
    assert [source.options.topic for source in made.sources] == ["cellar/{level2}/temp"]  # type: ignore[attr-defined]
    assert read_again(made, both[1]) == {"left-beer-2": 18.1}
    odd = heard(*both, message("cellar/third/temp", '{"temp": 19.4}'))
    wanted = [one for one in all_of(odd) if "third" not in one.heard.topic]
    made = loaded(tmp_path, stanzas(wanted, LEFT, odd, {}))
    assert [source.options.topic for source in made.sources] == ["cellar/left/temp", "cellar/right/temp"]  # type: ignore[attr-defined]


def test_what_is_there_is_kept_and_its_source_is_used(tmp_path: Path) -> None:
    first = heard(line("t1=19.4"))
    text = stanzas(all_of(first), LEFT, first, {})
    second = heard(line("t2=4.5"))
    chosen = [Chosen(next(iter(second)), Quantity.BEER_TEMPERATURE, all_of(second)[0].unit, "left")]
    more = stanzas(chosen, (), second, tomllib.loads(text), "UTC")
    made = loaded(tmp_path, f"{text}\n{more}")
    assert len(made.sources) == 1
    assert read_again(made, line("t1=19.4 t2=4.5")) == {"left-beer": 19.4, "left-beer-2": 4.5}


@pytest.mark.parametrize("topic", ["cellar/{who}/{what}", "cellar/{who}/temp", "cellar/left/temp", "cellar/#", "#"])
def test_what_is_configured_already_is_known_however_its_topic_is_written(topic: str) -> None:
    one = heard(message("cellar/left/temp", "19.4")).add(message("cellar/left/temp", "19.4"), 1.0)[0]
    said = {
        "source": [{"name": "b", "driver": "mqtt", "host": "192.0.2.10", "port": 1884, "topic": topic}],
        "probe": [{"id": "mine", "source": "b", "channel": channel_of(topic, one)}],
    }
    assert bound(said, one) == "mine"
    assert bound({**said, "probe": []}, one) == ""
    other = heard(message("cellar/right/hum/temp", "19.4")).add(message("cellar/right/hum/temp", "19.4"), 1.0)[0]
    assert bound(said, other) == ""


def test_what_a_hostile_device_says_breaks_out_of_no_string(tmp_path: Path) -> None:
    topic = 'x"\n[store]\ndirectory = "/"\x7f\\/temp'
    said = message(topic, "19.4")
    overheard = heard(said)
    made = loaded(tmp_path, stanzas(all_of(overheard), LEFT, overheard, {}))
    assert made.config.store.directory is None
    assert made.sources[0].options.topic == topic  # type: ignore[attr-defined]


def test_what_was_heard_once_says_that_its_interval_is_not_known() -> None:
    overheard = heard(line("19.4"))
    assert "every_s = 900   # heard once" in stanzas(all_of(overheard), LEFT, overheard, {})


def test_a_device_that_invents_names_is_kept_in_bounds() -> None:
    overheard = Overheard()
    for number in range(3 * MOST_CHANNELS):
        overheard.add(message(f"a/{number}", "19.4"), float(number))
    assert len(list(overheard)) == MOST_CHANNELS
    assert overheard.left_out == 2 * MOST_CHANNELS


def test_a_message_that_a_broker_kept_tells_no_interval() -> None:
    kept = Utterance("b", "mqtt", BROKER, "19", message("t", "19").fields, "t", retained=True)
    one: Gathered = heard(kept).add(kept, 60.0)[0]
    assert one.every_s is None
    assert one.retained


def test_a_name_becomes_an_id() -> None:
    assert slug("Großer Gär-Eimer № 2") == "groer-gar-eimer-no-2"
    assert slug("—") == ""
    assert len(slug("x" * 80)) == 32
