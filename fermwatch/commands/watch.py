"""`fermwatch watch`: the watcher, headless, with a clean stop on SIGTERM and SIGINT."""

import argparse
import asyncio
import logging
import signal
import sys

from fermwatch.commands.context import Context
from fermwatch.config.load import Loaded, load
from fermwatch.config.locate import user_directory
from fermwatch.config.schema import Config
from fermwatch.errors import ConfigError
from fermwatch.ingest.registry import driver_kinds
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
    asyncio.run(_watch(loaded, context))
    return 0


def load_configuration(context: Context) -> Loaded:
    """The configuration, whole and checked, with the store where `--store` or the environment puts it."""
    file = context.place.config
    if file is None:
        where = user_directory(context.environment) / "fermwatch.toml"
        raise ConfigError(
            "there is no configuration.", hint=f"Write {where} (the README shows one), or `fermwatch demo`."
        )
    loaded = load(file, driver_kinds(), context.environment)
    site = loaded.config.site.model_copy(update={"name": context.place.site})
    config = loaded.config.model_copy(update={"site": site})
    return Loaded(loaded.file, config, loaded.sources, context.place.store)


def is_empty(config: Config) -> bool:
    return not (config.source or config.vessel or config.probe)


async def _watch(loaded: Loaded, context: Context) -> None:
    watcher = Watcher(loaded, context.clock)
    loop = asyncio.get_running_loop()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, watcher.stop)
    await watcher.run()


class _Cleaned(logging.Formatter):
    """Quantities in canonical units; and no control character out of a device reaches a terminal or a journal."""

    def format(self, record: logging.LogRecord) -> str:
        lines = plain(super().format(record)).splitlines()
        return "\n".join(clean(line, 1000) for line in lines)


def start_logging(*, verbose: bool) -> None:
    """One line an event on standard error; under systemd the journal adds the time itself."""
    handler = logging.StreamHandler(sys.stderr)
    pattern = "%(levelname)s %(message)s" if not sys.stderr.isatty() else "%(asctime)s %(levelname)s %(message)s"
    handler.setFormatter(_Cleaned(pattern))
    logging.basicConfig(level=logging.DEBUG if verbose else logging.INFO, handlers=[handler], force=True)
    for noisy in ("asyncio", "mqtt", "aiomqtt"):
        logging.getLogger(noisy).setLevel(logging.WARNING)
