"""While the watcher decides for long, it goes on storing and showing signs of life."""

import asyncio
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from fermwatch.clock import SystemClock
from fermwatch.config.load import load
from fermwatch.ingest.pipeline import Intake
from fermwatch.ingest.plug_ins import drivers
from fermwatch.model.reading import Reading
from fermwatch.watching import watcher
from fermwatch.watching.deciding import AlarmChange
from fermwatch.watching.logbook import Logbook
from tests.support.running import probe, serial_source, vessel
from tests.support.stores import open_reader


async def test_signs_of_life_and_commits_come_between_the_steps_of_one_round(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    config = tmp_path / "fermwatch.toml"
    tables = (vessel(), serial_source("board", tmp_path / "port"), probe("left-beer", "board", "t"))
    config.write_text("\n".join(('[store]\ndirectory = "store"', *tables, "")))
    monkeypatch.setattr(watcher, "BEAT_EVERY_S", 0.05)
    one = watcher.Watcher(load(config, drivers(), {}), SystemClock())
    seen: list[str] = []

    def long_round(_book: Logbook, now: datetime) -> Iterator[list[AlarmChange]]:
        """Endless, until a later sign of life and a reading were written meanwhile."""
        with open_reader(tmp_path / "store", "home") as reader:
            first = reader.watcher()
            while (latest := reader.watcher()) is None or latest == first:
                yield []
            seen.append("a sign of life")
            asyncio.run_coroutine_threadsafe(one._commit(Intake((Reading(1, 1_000_000, 19.5),))), loop)
            while not reader.latest():
                yield []
            seen.append("a reading")
        one.stop()

    loop = asyncio.get_running_loop()
    monkeypatch.setattr(Logbook, "deciding", long_round)
    await asyncio.wait_for(one.run(), 60)
    assert seen[:2] == ["a sign of life", "a reading"]
