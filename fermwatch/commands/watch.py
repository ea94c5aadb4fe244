"""`fermwatch watch`: the watcher, headless: a clean stop on SIGTERM and SIGINT, the configuration anew on SIGHUP."""

import argparse
import asyncio
import logging
import signal
import sys
from typing import Any

from fermwatch.commands.context import Context
from fermwatch.config.load import Loaded, load
from fermwatch.config.locate import user_directory
from fermwatch.config.schema import Config
from fermwatch.errors import ConfigError, FermwatchError
from fermwatch.ingest.plug_ins import drivers
from fermwatch.model.amounts import plain
from fermwatch.text import clean
from fermwatch.watcher import Watcher

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
            "there is no configuration.", hint=f"Write {where} (the README shows one), or `fermwatch demo`."
        )
    loaded = load(file, drivers(), context.environment)
    site = loaded.config.site.model_copy(update={"name": context.place.site})
    config = loaded.config.model_copy(update={"site": site})
    return Loaded(loaded.file, config, loaded.sources, context.place.store)


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

    async def run(self) -> None:
        loop = asyncio.get_running_loop()
        for number in (signal.SIGTERM, signal.SIGINT):
            loop.add_signal_handler(number, self._stop)
        loop.add_signal_handler(signal.SIGHUP, self._read_anew)
        while True:
            self._watcher, self._again = Watcher(self._loaded, self._context.clock), False
            await self._watcher.run()
            if self._stopped or not self._again:
                return

    def _stop(self) -> None:
        self._stopped = True
        if self._watcher is not None:
            self._watcher.stop()

    def _read_anew(self) -> None:
        try:
            loaded = load_configuration(self._context)
        except FermwatchError as error:
            log.error("the configuration is not taken up, the one before goes on: %s", error)
            return
        log.info("the configuration is read anew")
        self._loaded, self._again = loaded, True
        if self._watcher is not None:
            self._watcher.stop()


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
