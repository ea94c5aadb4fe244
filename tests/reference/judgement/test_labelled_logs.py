"""The eight labelled logs, graded by the script that grades sixty others; nothing in the code knows any of them."""

import json
from pathlib import Path
from typing import Any

import pytest

from fermwatch.replaying.input import read_batch, read_log
from fermwatch.replaying.replay import replay
from tests.reference.judgement import score

LOGS = Path(__file__).parent / "logs"
LABELS = json.loads((LOGS / "labels.json").read_text(encoding="utf-8"))["logs"]
TWO_DAYS_H = 48.0


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[dict[str, Any]]]:
    """What the replay says of each log, as JSON Lines would carry it."""
    folder = tmp_path_factory.mktemp("batches")
    return {label["file"]: _told(label, folder / "batch.toml") for label in LABELS}


def _told(label: dict[str, Any], toml: Path) -> list[dict[str, Any]]:
    toml.write_text(score.batch_toml(label), encoding="utf-8")
    batch, events = read_batch(toml)
    lines = "\n".join(json.dumps(event) for event in replay(read_log(LOGS / label["file"]), batch, events))
    return score.read_events(lines, batch.pitched_at)


def test_no_floor_is_missed(told: dict[str, list[dict[str, Any]]]) -> None:
    result = score.Score(len(LABELS))
    for label in LABELS:
        result.add(label, told[label["file"]])
    missed = [row for row in result.rows() if not row[-1]]
    assert not missed, result.wrong


def test_it_is_never_told_safe_too_early_where_two_readings_two_days_apart_would_be(
    told: dict[str, list[dict[str, Any]]],
) -> None:
    early = {"fermwatch": 0, "rule of thumb": 0}
    for label in LABELS:
        truth = score.Truth(label)
        safe = [e["hours"] for e in told[label["file"]] if e["event"] == "verdict" and e["verdict"] == "safe"]
        early["fermwatch"] += bool(safe) and (truth.safe_from is None or safe[0] < truth.safe_from)
        thumb = _two_alike(label)
        early["rule of thumb"] += thumb is not None and (truth.safe_from is None or thumb < truth.safe_from)
    assert early["fermwatch"] == 0 < early["rule of thumb"]


def _two_alike(label: dict[str, Any]) -> float | None:
    """When two raw readings of the probe two days apart first agree within a point, once it has fermented."""
    pitched = score.instant(label["pitch_time"])
    rows = sorted(
        ((row.at - pitched).total_seconds() / 3600.0, row.value)
        for row in read_log(LOGS / label["file"])
        if row.probe == "G1"
    )
    for place, (hour, value) in enumerate(rows):
        early = [v for h, v in rows[:place] if h <= hour - TWO_DAYS_H][-1:]
        if early and abs(early[0] - value) <= 0.001 and label["original_gravity_entered"] - value > 0.010:
            return hour
    return None


@pytest.mark.parametrize("label", LABELS[::3], ids=lambda label: label["file"])
def test_what_is_told_rests_on_the_past_alone(
    label: dict[str, Any], told: dict[str, list[dict[str, Any]]], tmp_path: Path
) -> None:
    pitched, end = score.instant(label["pitch_time"]), score.instant(label["log_end"])
    cut = pitched + (end - pitched) * 0.45
    lines = (LOGS / label["file"]).read_text(encoding="utf-8").splitlines()
    short = tmp_path / "short.csv"
    kept = [line for line in lines[1:] if score.instant(line.split(",")[0]) <= cut]
    short.write_text("\n".join([lines[0], *kept]) + "\n", encoding="utf-8")
    (tmp_path / "batch.toml").write_text(score.batch_toml(label), encoding="utf-8")
    batch, events = read_batch(tmp_path / "batch.toml")
    of_short = [event for event in replay(read_log(short), batch, events) if event["event"] != "end"]
    whole = [event for event in told[label["file"]] if score.instant(event["at"]) <= cut]
    assert [(e["at"], e["event"]) for e in of_short] == [(e["at"], e["event"]) for e in whole][: len(of_short)]
    assert len(of_short) > 5
