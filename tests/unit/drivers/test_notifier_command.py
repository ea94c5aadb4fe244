"""A program of the user's own, by real ones that say too much, care for nothing, or leave something behind."""

import asyncio
import resource
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fermwatch.errors import NotifierUnavailable
from fermwatch.notify.wording import trial_message
from fermwatch_drivers.notifiers.command import NOTIFIER

MESSAGE = trial_message("home", "by-hand", datetime(2026, 3, 1, 12, tzinfo=UTC))
MOST_KIB = 64 * 1024


async def sent(directory: Path, script: str, limit_s: float = 30.0) -> None:
    options = NOTIFIER.options.model_validate({"run": ["/bin/sh", "-c", script], "limit_s": limit_s})
    await NOTIFIER.create("by-hand", options, directory).send(MESSAGE)


async def test_one_that_never_stops_talking_is_killed_in_time_and_takes_no_memory(tmp_path: Path) -> None:
    before_kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began_s = time.monotonic()
    with pytest.raises(NotifierUnavailable, match="killed"):
        async with asyncio.timeout(20):
            await sent(tmp_path, "exec yes >&2", limit_s=1.0)
    assert time.monotonic() - began_s < 15
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before_kib < MOST_KIB


async def test_what_it_says_as_it_fails_is_told_by_its_beginning(tmp_path: Path) -> None:
    with pytest.raises(NotifierUnavailable, match="status 3: no line") as caught:
        await sent(tmp_path, "echo no line >&2; head -c 1000000 /dev/zero >&2; exit 3")
    assert len(str(caught.value)) < 400


async def test_one_that_does_not_read_the_message_may_take_it_all_the_same(tmp_path: Path) -> None:
    await sent(tmp_path, "exec <&-; exit 0")


async def test_it_gets_the_message_whole(tmp_path: Path) -> None:
    await sent(tmp_path, "cat > told")
    assert MESSAGE.id in (tmp_path / "told").read_text()
