"""`fermwatch watch`: the watcher, headless: a clean stop on SIGTERM and SIGINT, the configuration anew on SIGHUP."""

import argparse
import asyncio
import logging
import signal
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

from fermwatch.commands.context import Context
from fermwatch.config.load import Loaded, load
from fermwatch.config.locate import locate, user_directory
from fermwatch.config.schema import Config
from fermwatch.errors import ConfigError, FermwatchError, StoreGone
from fermwatch.ingest.plug_ins import controllers, drivers, notifiers, publishers
from fermwatch.model.amounts import plain
from fermwatch.text import clean
from fermwatch.watching.boundary import in_one_line
from fermwatch.watching.watcher import Watcher

AWAY_S = 2.0  # between two looks for a store that is away
NOTHING = "nothing to watch yet: add a [[source]], a [[vessel]] and a [[probe]]"

log = logging.getLogger("fermwatch")


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("-v", "--verbose", action="store_true", help="say more on standard error")


def run(options: argparse.Namespace, context: Context) -> int:
    loaded = load_configuration(context)
    start_logging(verbose=options.verbose)
    if is_empty(loaded.config):
        log.warning("%s: %s.", loaded.file, NOTHING)
    asyncio.run(_Service(loaded, context).run())
    return 0


def load_configuration(context: Context) -> Loaded:
    """The configuration, whole and checked, with the store where `--store` or the environment puts it."""
    file = context.place.config
    if file is None:
        where = user_directory(context.environment) / "fermwatch.toml"
        raise ConfigError(
            "there is no configuration.",
            hint=f"`fermwatch listen` writes {where} by what your probes say; `fermwatch demo` needs none.",
        )
    loaded = load_file(file, context)
    site = loaded.config.site.model_copy(update={"name": context.place.site})
    config = loaded.config.model_copy(update={"site": site})
    return replace(loaded, config=config, store=context.place.store)


def load_file(file: Path, context: Context) -> Loaded:
    """Checked with every plug-in that is installed."""
    return load(file, drivers(), context.environment, controllers(), notifiers(), publishers())


def is_empty(config: Config) -> bool:
    return not (config.source or config.vessel or config.probe)


class _Service:
    """What signals ask of a watcher: SIGTERM and SIGINT a clean stop, SIGHUP to read the configuration anew.

    Reading anew is a clean stop and a start in the same process, with the new configuration. One that is wrong is told,
    and the watcher goes on with the one it has.
    """

    def __init__(self, loaded: Loaded, context: Context) -> None:
        self._loaded, self._context = loaded, context
        self._watcher: Watcher | None = None
        self._again = self._stopped = False
        self._reading: asyncio.Future[None] | None = None  # held, or it could be collected while it reads

    async def run(self) -> None:
        loop = asyncio.get_running_loop()
        for number in (signal.SIGTERM, signal.SIGINT):
            loop.add_signal_handler(number, self._stop)
        loop.add_signal_handler(signal.SIGHUP, self._hang_up)
        begins = True
        while True:
            self._watcher, self._again = Watcher(self._loaded, self._context.clock, begins=begins), False
            signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGHUP})  # one that came while it started is heard now
            try:
                await self._watcher.run()
            except StoreGone as gone:  # taken away in the moment between a stop and a start: never begun anew for that
                if begins:
                    raise
                log.error("%s", gone)
                self._again = True
                await asyncio.sleep(AWAY_S)
            begins = False
            if self._stopped or not self._again:
                return

    def _stop(self) -> None:
        self._stopped = True
        if self._watcher is not None:
            self._watcher.stop()

    def _hang_up(self) -> None:
        self._reading = asyncio.ensure_future(self._read_anew())

    async def _read_anew(self) -> None:
        watcher = self._watcher
        if watcher is None:
            return
        try:
            loaded = self._configured_anew()
            await _check_the_store_is_there(watcher)
        except FermwatchError as error:
            log.error("the configuration is not taken up, the one before goes on: %s", error)
            watcher.refuse_configuration(str(error))
            return
        except Exception as error:  # a plug-in's mistake, or ours: nobody waits for this task, which would lose it
            log.exception("the configuration is not taken up, the one before goes on")
            watcher.refuse_configuration(f"a mistake while it was read: {in_one_line(error)}")
            return
        log.info("the configuration is read anew")
        self._loaded, self._again = loaded, True
        watcher.stop()

    def _configured_anew(self) -> Loaded:
        """ConfigError where it names another store or site, where every command looks at once, and this watcher not."""
        context, before = self._context, self._context.place
        loaded = load_configuration(context)
        place = locate(context.config, context.store, context.site, context.environment)
        if (place.store, place.site) != (before.store, before.site):
            raise ConfigError(
                "it names another store or site.", file=place.config, hint="Restart the watcher for that."
            )
        return loaded


async def _check_the_store_is_there(watcher: Watcher) -> None:
    if away := await watcher.store_is_away():
        raise StoreGone(f"the store is away ({away}); ask again once it is back.")


class OneLineAnEvent(logging.Formatter):
    """Every log line is made here: quantities in canonical units, no control character, and nothing that came from
    outside begins a line of its own. A traceback's lines are set off, so that no part of one passes for an event.
    """

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 - the library's name
        record.message = clean(plain(record.message), 1000)
        return super().formatMessage(record)

    def formatException(self, ei: Any) -> str:  # noqa: ANN401, N802 - the library's name and type
        return "\n".join(f"  | {clean(line, 1000)}" for line in super().formatException(ei).splitlines())

    def formatStack(self, stack_info: str) -> str:  # noqa: N802 - the library's name
        return "\n".join(f"  | {clean(line, 1000)}" for line in stack_info.splitlines())


def start_logging(*, verbose: bool) -> None:
    """One line an event on standard error; under systemd the journal adds the time itself."""
    handler = logging.StreamHandler(sys.stderr)
    pattern = "%(levelname)s %(message)s" if not sys.stderr.isatty() else "%(asctime)s %(levelname)s %(message)s"
    handler.setFormatter(OneLineAnEvent(pattern))
    logging.basicConfig(level=logging.DEBUG if verbose else logging.INFO, handlers=[handler], force=True)
    for noisy in ("asyncio", "mqtt", "aiomqtt"):
        logging.getLogger(noisy).setLevel(logging.WARNING)
