"""The store, and whoever writes it: is it sound, does a watcher live, does anything arrive?"""

import os
from collections.abc import Iterator, Mapping
from datetime import datetime

import fermwatch
from fermwatch.clock import Clock
from fermwatch.commands.checking.checked import CheckLine, look, mend, ok
from fermwatch.config.load import Loaded
from fermwatch.contracts.store import Reader, SourceState, Store, WatcherStatus
from fermwatch.errors import FermwatchError
from fermwatch.model.telling import NotifierStatus
from fermwatch.text import clean

QUICK_S = 3.0  # as long as the whole file is looked through at most
_START = "Start it: sudo systemctl start fermwatch, or in a terminal of its own: fermwatch watch"


def database(store: Store, clock: Clock) -> Iterator[CheckLine]:
    """Whether it is well formed, as far as a few seconds allow."""
    if store.trace() is None:
        yield look("database", "there is none yet: the watcher makes it.")
        return
    ends_s = clock.monotonic_s() + QUICK_S
    try:
        store.check_sound(lambda: clock.monotonic_s() > ends_s)
    except FermwatchError as error:
        yield mend("database", error.message, error.hint)
    else:
        whole = clock.monotonic_s() <= ends_s
        yield ok("database", "it is sound." if whole else f"it is sound, as far as {QUICK_S:g} s went.")


def alive(store: Store, now: datetime) -> WatcherStatus | None:
    """The watcher's last sign of life, where it is of now."""
    try:
        with store.reader() as reader:
            status = reader.watcher()
    except FermwatchError:  # told by `database`
        return None
    held = store.is_held()
    if status is None or not status.awake(now, held=held):
        return None
    return status if held or _runs(status.pid) else None


def _runs(pid: int) -> bool:
    """Whether there is such a process: a watcher that was killed a moment ago gave signs of life until then."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OSError:  # another user's
        return True
    return True


def watcher(status: WatcherStatus | None) -> Iterator[CheckLine]:
    if status is None:
        yield look("watcher", "nobody watches.", _START)
        return
    if status.version != fermwatch.__version__:
        text = f"process {status.pid} watches, of version {clean(status.version, 20)}; this is {fermwatch.__version__}."
        yield look("watcher", text, "Restart it: sudo systemctl restart fermwatch")
    else:
        yield ok("watcher", f"process {status.pid} watches.")
    if status.refused_configuration:
        yield mend("watcher", f"it did not take up the configuration: {clean(status.refused_configuration, 300)}")
    if status.trouble:
        yield mend("watcher", f"it has trouble: {clean(status.trouble, 300)}")


def notifiers(store: Store, loaded: Loaded) -> Iterator[CheckLine]:
    """A line for each that is configured, by what it did of late: to try one would disturb somebody."""
    known: Mapping[str, NotifierStatus] = {}
    if loaded.config.notify and store.trace() is not None:
        try:
            with store.reader() as reader:
                known = {status.name: status for status in reader.notifiers()}
        except FermwatchError:  # told by `database`
            known = {}
    for one in loaded.config.notify:
        status, test = known.get(one.name), f"fermwatch notify test {one.name}"
        if status is not None and status.failing_since is not None:
            yield mend("notify", f"{one.name} carries nothing: {clean(status.detail, 200)}", f"Mend it, then: {test}")
        elif status is not None and status.told_at is not None:
            yield ok("notify", f"{one.name} told something last on {status.told_at:%Y-%m-%d %H:%M} UTC.")
        else:
            yield look("notify", f"{one.name} was not tried.", test)
    if not loaded.config.notify:
        yield look(
            "notify", "nobody is told of an alarm who does not look.", "Add a [[notify]]: docs/telling.md shows some."
        )


def sources(reader: Reader, loaded: Loaded, now: datetime) -> Iterator[CheckLine]:
    """As the watcher that lives says; its ports are its own."""
    known = {status.name: status for status in reader.sources()}
    for source in loaded.sources:
        status = known.get(source.name)
        if status is None:
            text = f"{source.name} is not watched yet."
            yield look("source", text, "Have the configuration read anew: sudo systemctl reload fermwatch")
        elif status.state is SourceState.CONNECTED:
            yield ok("source", f"{source.name} is connected: {clean(status.detail, 120)}.")
        else:
            yield mend("source", f"{source.name} is {status.state}: {clean(status.detail, 300)}")
    latest = reader.latest()
    series = {one.probe.slug: one.series for one in reader.series()}
    for probe in loaded.config.probe:
        last = latest.get(series.get(probe.id, -1))
        silent_after_s = probe.probe().silent_after_s
        if last is None:
            yield look("probe", f"{probe.id} was never heard.", "See what its source says: fermwatch status --json")
        elif (age_s := (now - last.at).total_seconds()) > silent_after_s:
            text = f"{probe.id} was heard {age_s / 60:.0f} min ago."
            yield mend("probe", text, "Is it powered, and in reach? Its name may have changed: fermwatch status --json")
        else:
            yield ok("probe", f"{probe.id} was heard {max(age_s, 0.0):.0f} s ago.")
