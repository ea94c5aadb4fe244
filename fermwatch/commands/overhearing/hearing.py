"""Listening for a while to several places at once, and showing what comes as it comes."""

import asyncio
import os
from collections import Counter
from collections.abc import Callable, Coroutine, Sequence
from dataclasses import dataclass, field
from typing import Any

from fermwatch.clock import Clock
from fermwatch.commands.context import Context
from fermwatch.commands.sheet import paragraph, width
from fermwatch.contracts.overhearing import PlaceNews, Told, Utterance
from fermwatch.drawing.lines import cut
from fermwatch.listening.gathering import Gathered, Key, Overheard
from fermwatch.listening.telling import guess
from fermwatch.text import clean

Listening = Callable[[Told], Coroutine[Any, Any, None]]
BY_KEY = "Listening: press any key when you have seen enough, and name what was heard."
REMIND_EVERY = 20  # lines
MOST_NEWS = 200  # different ones
_IN_ALL = 6  # lines a second
_PLACE = 16  # cells


@dataclass
class EverythingHeard:
    """Everything that came, and what there was to say of the places themselves."""

    channels: Overheard = field(default_factory=Overheard)
    news: list[PlaceNews] = field(default_factory=list)
    unread: Counter[str] = field(default_factory=Counter)  # by place, what had no number in it
    said: Counter[str] = field(default_factory=Counter)  # by place


async def hear(
    listening: Sequence[Listening], screen: "Screen", clock: Clock, *, for_s: float | None, key: int | None
) -> EverythingHeard:
    """Until `for_s` is over, a key is pressed at the descriptor `key`, or nothing is left to listen to."""
    heard = EverythingHeard()

    def told(said: Utterance | PlaceNews) -> None:
        if isinstance(said, PlaceNews):
            if said not in heard.news and len(heard.news) < MOST_NEWS:
                heard.news.append(said)
                screen.news(said)
            return
        heard.said[said.place] += 1
        heard.unread[said.place] += not said.fields
        now_s = clock.monotonic_s()
        screen.show(said, heard.channels.add(said, now_s), now_s)

    loop, ended = asyncio.get_running_loop(), asyncio.Event()

    def on_key() -> None:
        os.read(key or 0, 64)
        ended.set()

    async def until_all_are_over() -> None:
        async with asyncio.TaskGroup() as group:
            for one in listening:
                group.create_task(one(told))

    if key is not None:
        loop.add_reader(key, on_key)
    tasks = (asyncio.create_task(until_all_are_over()), asyncio.create_task(_set(ended)))
    try:
        await asyncio.wait(tasks, timeout=for_s, return_when=asyncio.FIRST_COMPLETED)
    finally:
        if key is not None:
            loop.remove_reader(key)
        for task in tasks:
            task.cancel()
        for outcome in await asyncio.gather(*tasks, return_exceptions=True):
            if isinstance(outcome, Exception):
                raise outcome
    screen.end()
    return heard


async def _set(event: asyncio.Event) -> None:
    await event.wait()


class Screen:
    """Lines as they come, and under each what a number in it is likely to be, once.

    quiet: shows nothing. by_key: says now and then that a key ends it.
    """

    def __init__(self, context: Context, *, quiet: bool, by_key: bool) -> None:
        self._context, self._quiet, self._by_key = context, quiet, by_key
        self._known: set[Key] = set()
        self._second = 0
        self._shown: Counter[str] = Counter()  # in that second, by topic or port
        self._left_out: Counter[str] = Counter()
        self._lines = 0

    def news(self, news: PlaceNews) -> None:
        told = f"{clean(news.text, 300).rstrip('.')}. {news.hint}" if news.hint else clean(news.text, 300)
        self._say(f"{short(news.place):<{_PLACE}} ({told})")

    def show(self, said: Utterance, channels: Sequence[Gathered], now_s: float) -> None:
        new = [one for one in channels if one.key not in self._known]
        self._known.update(one.key for one in new)
        if not new and not self._has_room(said.topic or said.place, int(now_s)):
            self._left_out[said.place] += 1
            return
        kept = "kept " if said.retained else ""
        where = short(said.topic, _PLACE * 2) if said.topic else short(said.place)
        self._say(f"{where:<{_PLACE}} {kept}{said.text}")
        for one in new:
            if one.recognised.likely:
                for line in paragraph(guess(one), width(self._context), mark=f"{'':<{_PLACE}} > "):
                    self._say(line)

    def end(self) -> None:
        for place, count in self._left_out.items():
            self._say(f"{short(place):<{_PLACE}} ({count} more lines than there was room for)")

    def _has_room(self, place: str, second: int) -> bool:
        """One line a second of each, and a few in all: devices may say more than anybody reads."""
        if self._second != second:
            self._second, self._shown = second, Counter()
        self._shown[place] += 1
        return self._shown[place] == 1 and len(self._shown) <= _IN_ALL

    def _say(self, line: str) -> None:
        if self._quiet:
            return
        self._context.say(cut(line, width(self._context)))
        self._lines += 1
        if self._by_key and self._lines % REMIND_EVERY == 0:
            self._context.say(BY_KEY)


def short(place: str, size: int = _PLACE) -> str:
    """The end of a path or topic, which tells most."""
    shown = clean(place.removeprefix("/dev/serial/by-id/").removeprefix("/dev/"), 200)
    return shown if len(shown) <= size else f"…{shown[-size + 1 :]}"
