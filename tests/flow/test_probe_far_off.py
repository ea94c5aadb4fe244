"""A recorded log whose float read ten points above the beer from the first day: what `fermwatch replay` tells of it."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from fermwatch.cli import main

PITCHED = datetime(2026, 3, 1, 18, tzinfo=UTC)
READ = {9: 1.0114, 11: 1.0113, 13: 1.0113}


def test_three_readings_that_agree_are_one_finished_beer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log, batch = tmp_path / "log.csv", tmp_path / "batch.toml"
    random, rows = np.random.default_rng(1), ["time,probe,quantity,value"]
    for quarter in range(14 * 96):
        hour, at = quarter / 4, PITCHED + timedelta(minutes=15 * quarter + 5)
        gravity = 1.0113 + 0.0467 / (1.0 + np.exp((hour - 60.0) / 11.0))
        rows.append(f"{at:%Y-%m-%dT%H:%M:%SZ},T1,temperature_C,19.5")
        rows.append(f"{at:%Y-%m-%dT%H:%M:%SZ},G1,gravity_SG,{gravity + 0.010 + random.normal(0.0, 6e-4):.4f}")
        if hour % 24 == 0 and hour / 24 in READ:
            rows.append(f"{at:%Y-%m-%dT%H:%M:%SZ},hydrometer,gravity_SG,{READ[round(hour / 24)]}")
    log.write_text("\n".join([*rows, ""]))
    batch.write_text(
        f'name = "Amber"\nog_sg = 1.058\npitched_at = {PITCHED:%Y-%m-%dT%H:%M:%SZ}\n'
        "[yeast]\ntemperature_c = [17.0, 22.0]\nattenuation = [0.73, 0.81]\nlag_max_h = 36\n"
        '[package]\nkind = "returnable-glass"\nvolumes = 2.4\n'
    )
    assert main(["replay", str(log), "--batch", str(batch), "--json"]) == 0
    told = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert {line["rule"] for line in told if line["event"] == "alarm"} == {"reading-due"}
    phases = [line["phase"] for line in told if line["event"] == "phase"]
    assert phases == ["lag", "active", "slowing", "terminal", "conditioning"]
    twice_read = f"{PITCHED + timedelta(days=11, hours=3):%Y-%m-%dT%H}"
    forecasts = [line for line in told if line["event"] == "forecast" and line["at"] > twice_read]
    assert all(line["low_sg"] <= 1.0113 <= line["high_sg"] for line in forecasts)
    assert [line["verdict"] for line in told if line["event"] == "verdict"][-1] == "safe"
