"""What is configured, written into the store: whoever looks needs nothing else, and parses no configuration."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from fermwatch.config.schema import Config
from fermwatch.contracts.store import Writer
from fermwatch.model.probe import Probe


def declare(writer: Writer, config: Config, now: datetime) -> Mapping[str, int]:
    """The number of the series of each probe, by its slug. Declared twice, it is declared once."""
    vessels = [one.vessel(config.rules, config.site.altitude_m) for one in config.vessel]
    probes = [_heard_late(one.probe(), config.store.commit_every_s) for one in config.probe]
    return writer.declare(config.site.timezone, vessels, probes, now)


def _heard_late(probe: Probe, by_s: float) -> Probe:
    """What is committed seldom is no silence of the probe."""
    return replace(probe, silent_after_s=probe.silent_after_s + by_s)
