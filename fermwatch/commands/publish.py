"""`fermwatch publish`: the site as documents on a broker, for a home automation and other programs. It only reads, in a
process of its own: whatever the broker does, the watcher does not notice.
"""

import argparse
import asyncio
import logging
import random
import signal
from collections.abc import Awaitable, Callable, Mapping
from concurrent.futures import ThreadPoolExecutor

from fermwatch.commands.context import Context
from fermwatch.commands.looking import Looking
from fermwatch.contracts.publisher import Publisher
from fermwatch.errors import ConfigError, PublisherRefused, PublisherUnavailable, StoreError
from fermwatch.publish.documents import Topics, documents, unwatched
from fermwatch.text import clean

FIRST_PAUSE_S, LONGEST_PAUSE_S, REFUSED_PAUSE_S = 2.0, 60.0, 300.0
LASTS_S, SOON_OVER_TOLD = 60.0, 3  # a broker gives up one of two that bear one name

log = logging.getLogger("fermwatch")


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.epilog = "[publish] in the configuration says where. Nothing can be asked or switched by what stands there."
    parser.add_argument("--once", action="store_true", help="print the topics with what stands there, and be done")


def run(options: argparse.Namespace, context: Context) -> int:
    from fermwatch.commands.watch import load_configuration, start_logging

    configured = load_configuration(context).publish
    if configured is None:
        raise ConfigError(
            "nothing says where to publish.", key="publish", hint='Add [publish] with host = "broker.lan", as yours is.'
        )
    said = configured.said
    topics = Topics(context.place.site, said.prefix, said.discovery)
    reading = _Reading(context, topics)
    if options.once:
        for topic, text in reading.documents().items():
            context.say(f"{topic} {text}")
        reading.close()
        return 0
    publisher = configured.make(context.place.site, topics.shelf)
    start_logging(verbose=False)
    asyncio.run(_publish(publisher, reading, random.Random()))  # noqa: S311 - so that several do not come at once
    return 0


async def _publish(publisher: Publisher, reading: "_Reading", chance: random.Random) -> None:
    """Until SIGTERM or SIGINT; whatever goes wrong is told once, and tried again."""
    loop, stopped = asyncio.get_running_loop(), asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, stopped.set)
    with ThreadPoolExecutor(1, thread_name_prefix="publish") as thread:

        async def asked() -> Mapping[str, str]:
            return await loop.run_in_executor(thread, reading.documents)

        keeping = asyncio.create_task(_again_and_again(publisher, asked, chance))
        await asyncio.wait({keeping, asyncio.create_task(stopped.wait())}, return_when=asyncio.FIRST_COMPLETED)
        keeping.cancel()
        await asyncio.wait({keeping})
        thread.submit(reading.close)


async def _again_and_again(
    publisher: Publisher, asked: Callable[[], Awaitable[Mapping[str, str]]], chance: random.Random
) -> None:
    told, failures, began_s, soon_over = "", 0, None, 0
    now_s = asyncio.get_running_loop().time

    def connected(where: str) -> None:
        nonlocal told, began_s
        log.info("published at %s", where)
        told, began_s = "", now_s()

    while True:
        try:
            await publisher.run(asked, connected)
        except (PublisherUnavailable, PublisherRefused) as error:
            if told != str(error):
                log.error("%s", error)
            told = str(error)
            if began_s is not None:
                lasted = now_s() - began_s >= LASTS_S
                failures, soon_over, began_s = (0, 0, None) if lasted else (failures, soon_over + 1, None)
                if soon_over == SOON_OVER_TOLD:
                    log.error("It is over soon again and again. Does a second `fermwatch publish` of this site run?")
            pause_s = min(FIRST_PAUSE_S * 2.0 ** min(failures, 10), LONGEST_PAUSE_S)
            if isinstance(error, PublisherRefused):
                pause_s = REFUSED_PAUSE_S
            failures += 1
        except Exception as error:  # noqa: BLE001 - a plug-in's mistake is told, and tried again later
            said = clean(f"it failed ({type(error).__name__}: {error})", 300)
            if told != said:
                log.error("%s", said)
            told, pause_s = said, REFUSED_PAUSE_S
        else:
            pause_s = LONGEST_PAUSE_S  # a plug-in that ends by itself
        await asyncio.sleep(pause_s * chance.uniform(0.8, 1.2))


class _Reading:
    """What stands there, by the store as it was last seen, in one thread."""

    def __init__(self, context: Context, topics: Topics) -> None:
        self._looking, self._topics = Looking(context), topics
        self._before: Mapping[str, str] = {}

    def documents(self) -> Mapping[str, str]:
        """What is to stand there now; where the store is away, what stood there, and that nobody watches.

        PublisherUnavailable where it was never seen: then nothing is known of what should stand there.
        """
        try:
            self._before = documents(self._looking.snapshot(), self._topics)
        except StoreError as error:
            if not self._before:
                raise PublisherUnavailable(error.message, hint=error.hint) from error
            self._before = unwatched(self._before, self._topics)
        return self._before

    def close(self) -> None:
        self._looking.close()
