"""A log replayed in its own time: what is written, and what is refused."""

import json
from pathlib import Path
from typing import Any

import pytest

from fermwatch.errors import ConfigError, InputError
from fermwatch.model.batch import EventKind, GravityOrigin, KegWay, PackageChoice
from fermwatch.replaying.input import read_batch, read_log
from fermwatch.replaying.replay import run
from fermwatch.saying.voice import US, Voice
from tests.unit.judgement.beer import at, fermenting

BATCH = """
name = "an invented ale"
og_sg = 1.050
pitched_at = 2026-03-01T18:00:00Z
volume_l = 20.0
[yeast]
temperature_c = [17.0, 22.0]
attenuation = [0.72, 0.80]
lag_max_h = 36
[package]
kind = "returnable-glass"
volumes = 2.4
storage_c = 25.0
[[event]]
at = 2026-03-09T10:00:00Z
kind = "forced-ferment"
gravity_sg = 1.012
"""


@pytest.fixture
def batch(tmp_path: Path) -> Path:
    path = tmp_path / "batch.toml"
    path.write_text(BATCH, encoding="utf-8")
    return path


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "log.csv"
    rows = ["time,probe,quantity,value"]
    gravity = fermenting()
    for half_hour in range(14 * 48):
        hour = half_hour / 2 + 0.01
        when = at(hour).strftime("%Y-%m-%dT%H:%M:%SZ")
        hot = 100.0 < hour < 120.0
        rows.append(f"{when},T1,temperature_C,{26.0 if hot else 20.0}")
        rows.append(f"{when},G1,gravity_SG,{1 + (gravity(hour) + 0.2 * (half_hour % 3 - 1)) / 1000:.4f}")
        if half_hour in {1, 340, 460, 580, 660}:
            rows.append(f"{when},hydrometer,gravity_SG,{1 + gravity(hour) / 1000:.4f}")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def told(log: Path, batch: Path) -> list[dict[str, Any]]:
    written: list[str] = []
    assert run(log, batch, True, written.append) == 0
    return [json.loads(line) for line in written]


def test_json_lines_are_in_log_time_order_and_the_last_is_the_end(log: Path, batch: Path) -> None:
    events = told(log, batch)
    assert [event["at"] for event in events] == sorted(event["at"] for event in events)
    assert events[-1]["event"] == "end"
    assert {"phase", "alarm", "forecast", "verdict", "end"} == {event["event"] for event in events}
    assert all(event["at"].endswith("Z") for event in events)


def test_forecasts_come_from_36_hours_on_and_six_hours_apart(log: Path, batch: Path) -> None:
    forecasts = [event for event in told(log, batch) if event["event"] == "forecast"]
    assert forecasts[0]["at"] >= "2026-03-03T06:00:00Z"
    hours = [event["at"] for event in forecasts]
    assert len(hours) == len(set(hours))
    assert len(forecasts) <= (14 * 24 - 36) / 6 + 1
    for event in forecasts:
        assert event["low_sg"] <= event["terminal_sg"] <= event["high_sg"]


def test_it_tells_of_heat_of_phases_and_of_when_it_is_safe(log: Path, batch: Path) -> None:
    events = told(log, batch)
    heat = [event["state"] for event in events if event.get("rule") == "temperature-high"]
    assert heat == ["raised", "cleared"]
    assert [event["phase"] for event in events if event["event"] == "phase"][:3] == ["lag", "active", "slowing"]
    verdicts = [event["verdict"] for event in events if event["event"] == "verdict"]
    assert verdicts[0] == "not-yet"
    assert verdicts[-1] == "safe"


def test_what_is_said_in_the_sink_is_not_about_packaged_beer(log: Path, batch: Path) -> None:
    """Packaged on day 4, before the heat of that day: its phase says so, its verdict stays, and no alarm is its own."""
    packaged_at = at(98.0)
    text = (
        BATCH + f'[[event]]\nat = {packaged_at:%Y-%m-%dT%H:%M:%SZ}\nkind = "packaged"\npackage = "returnable-glass"\n'
    )
    batch.write_text(text, encoding="utf-8")
    lines = told(log, batch)
    after = [line for line in lines if line["at"] >= f"{packaged_at:%Y-%m-%dT%H:%M:%SZ}"]
    assert [line["phase"] for line in after if line["event"] == "phase"] == ["packaged"]
    assert not [line for line in after if line["event"] == "verdict"]
    raised = {line["rule"] for line in after if line["event"] == "alarm" and line["state"] == "raised"}
    assert raised <= {"squeeze-the-bottle", "ready-to-drink"}
    assert lines[-1]["phase"] == "packaged"


def test_the_story_tells_days_and_reasons_in_few_lines(log: Path, batch: Path) -> None:
    written: list[str] = []
    run(log, batch, False, written.append)
    story = "".join(written)
    assert "an invented ale" in written[0]
    assert "day 4" in story
    assert "verdict safe" in story
    assert "safe in a returnable glass bottle" in story
    assert "alarm temperature-high raised" in story
    assert "\\ue0" not in story  # quantities are told, and not how they are kept
    assert " °C" in story
    assert len(written) < 120


def test_untrusted_text_cannot_drive_a_terminal(log: Path, tmp_path: Path) -> None:
    path = tmp_path / "evil.toml"
    path.write_text(BATCH.replace("an invented ale", "ale\\u001b[2J"), encoding="utf-8")
    written: list[str] = []
    run(log, path, False, written.append)
    assert "\x1b" not in "".join(written)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("2026-03-01T18:00:00Z,G1,gravity_SG", "3 fields"),
        ("yesterday,G1,gravity_SG,1.050", "time 'yesterday'"),
        ("2026-03-01T18:00:00,G1,gravity_SG,1.050", "no zone"),
        ("2026-03-01T18:00:00Z,G1,plato,12", "quantity 'plato'"),
        ("2026-03-01T18:00:00Z,G1,gravity_SG,nan", "no number"),
        ("2026-03-01T18:00:00Z,G1,gravity_SG,heavy", "no number"),
    ],
)
def test_a_bad_row_is_named_with_file_line_and_remedy(tmp_path: Path, line: str, says: str) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(f"time,probe,quantity,value\n2026-03-01T18:00:00Z,T1,temperature_C,20\n{line}\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        list(read_log(path))
    assert "bad.csv:3:" in str(caught.value)
    assert says in str(caught.value)
    assert caught.value.hint


@pytest.mark.parametrize("content", ["", "a,b\n", "\xff\xfe"])
def test_what_is_no_log_is_refused(tmp_path: Path, content: str) -> None:
    path = tmp_path / "no.csv"
    path.write_bytes(content.encode("latin-1"))
    with pytest.raises(InputError) as caught:
        list(read_log(path))
    assert caught.value.hint


def test_a_log_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="No such file"):
        list(read_log(tmp_path / "missing.csv"))


def test_a_package_says_where_it_conditions_and_how_a_keg_comes_by_its_co2(tmp_path: Path) -> None:
    path = tmp_path / "keg.toml"
    more = 'storage_c = 18.0\nconditioning_c = 21.0\naccident_c = 28.0\nlimit_bar = 9.0\nway = "primed"'
    path.write_text(BATCH.replace("storage_c = 25.0", more).replace("returnable-glass", "keg"), encoding="utf-8")
    batch, _ = read_batch(path)
    assert batch.package == PackageChoice("keg", 2.4, 18.0, 9.0, 21.0, 28.0, KegWay.PRIMED)


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("og_sg = 1.050", "", "og_sg"),
        ("og_sg = 1.050", "og_sg = 50", "og_sg"),
        ("2026-03-01T18:00:00Z", '"soon"', "pitched_at"),
        ("temperature_c = [17.0, 22.0]", "temperature_c = [22.0, 17.0]", "yeast.temperature_c"),
        ("attenuation = [0.72, 0.80]", "attenuation = [72, 80]", "yeast.attenuation"),
        ("lag_max_h = 36", "diastatic = 1", "yeast.diastatic"),
        ('kind = "forced-ferment"', 'kind = "prayer"', "event[1].kind"),
        ("gravity_sg = 1.012", "", "event[1].gravity_sg"),
        ("storage_c = 25.0", "storage_c = 250.0", "package.storage_c"),
        ("storage_c = 25.0", "conditioning_c = 200.0", "package.conditioning_c"),
        ("storage_c = 25.0", 'accident_c = "hot"', "package.accident_c"),
        ("storage_c = 25.0", 'way = "shaken"', "package.way"),
        ("returnable-glass", "growler", "package.kind"),
        ("returnable-glass", "mug", "package.kind"),
        ("storage_c = 25.0", "limit_bar = 12.0", "package.limit_bar"),
        ("volume_l = 20.0", "volume_l = 20.0\noriginal_origin = 'guess'", "original_origin"),
        ("[yeast]", "[yeast", "TOML"),
    ],
)
def test_a_bad_batch_file_is_named_with_file_key_and_remedy(tmp_path: Path, old: str, new: str, key: str) -> None:
    path = tmp_path / "bad.toml"
    path.write_text(BATCH.replace(old, new), encoding="utf-8")
    with pytest.raises(ConfigError) as caught:
        read_batch(path)
    assert "bad.toml" in str(caught.value)
    assert key in str(caught.value)
    assert caught.value.hint


def test_a_batch_file_may_say_more(tmp_path: Path) -> None:
    path = tmp_path / "more.toml"
    more = BATCH.replace(
        "[yeast]",
        "original_origin = 'topped-up'\n[extract_adjuncts_g_per_l]\nlactose = 20\n[yeast]\nkind = 'lager'",
    ).replace("[17.0, 22.0]", "[8.0, 14.0]")
    path.write_text(more, encoding="utf-8")
    batch, events = read_batch(path)
    assert batch.original_origin is GravityOrigin.TOPPED_UP
    assert batch.extract_adjuncts_g_per_l == {"lactose": 20.0}
    assert batch.yeast.bottom_fermenting
    assert events[0].kind is EventKind.FORCED_FERMENT


def test_a_row_from_another_year_is_refused(log: Path, batch: Path) -> None:
    with log.open("a", encoding="utf-8") as file:
        file.write("2036-03-01T18:00:00Z,T1,temperature_C,20\n")
    with pytest.raises(InputError, match="after the pitch"):
        told(log, batch)


def test_the_story_is_told_in_the_readers_units(log: Path, batch: Path) -> None:
    written: list[str] = []
    run(log, batch, False, written.append, Voice(US))
    story = "".join(written)
    assert "°F" in story
    assert "°C" not in story
