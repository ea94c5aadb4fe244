"""What a text command sees of the site: the store's reader, the deciding instant, and how to speak of both."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

from fermwatch.commands.context import Context
from fermwatch.contracts.store import Reader, deciding_now
from fermwatch.errors import InputError
from fermwatch.model.amounts import typed_gravity
from fermwatch.model.batch import Batch
from fermwatch.saying.voice import Voice, zone_of
from fermwatch.text import in_quotes

SHORTEST_PREFIX = 4


@dataclass(frozen=True, slots=True)
class Site:
    """now: the watcher's, which in the demo runs fast, carried on by the time gone by since its last sign of life."""

    reader: Reader
    voice: Voice
    now: datetime


@contextmanager
def open_site(context: Context) -> Iterator[Site]:
    """The site's store for the length of one command. Raises what Store.reader does."""
    with context.open_store().reader() as reader:
        _, timezone = reader.site()
        now = deciding_now(reader.watcher(), context.clock.now())
        yield Site(reader, Voice(context.units, context.ascii_only, zone_of(timezone)), now)


def open_command(vessel: str = "SLUG") -> str:
    """How a batch is opened, as an example to be typed."""
    return f"fermwatch batch open NAME --vessel {vessel} --og {typed_gravity(1.052)} --yeast clean-ale"


def find_batch(site: Site, words: str | None) -> Batch:
    """The batch of an identity, the beginning of one, a name or a fermenter; the only open one where nothing is said.

    A fermenter means the beer that is in it; an empty one, the packaged beer that was. Open batches go before ended
    ones. InputError, naming those that there are, where none or several are meant.
    """
    batches = site.reader.batches(ended=True)
    still_open = [batch for batch in batches if batch.ended_at is None]
    if words is None:
        return _only(_fermenting_first(still_open), still_open, "a batch")
    for among in (still_open, list(batches)):
        for found in _matches(among, words.strip()):
            if found:
                return _only(found, found, words)
    if any(vessel.slug.casefold() == words.strip().casefold() for vessel in site.reader.vessels()):
        slug = words.strip()
        raise InputError(f"The fermenter {slug} holds no open batch.", hint=f"Open one in it: {open_command(slug)}")
    return _only([], still_open, words)


def _matches(batches: list[Batch], words: str) -> Iterator[list[Batch]]:
    said = words.casefold()
    yield [batch for batch in batches if batch.id.casefold() == said]
    yield _fermenting_first([batch for batch in batches if batch.name.casefold() == said])
    yield _fermenting_first([batch for batch in batches if batch.vessel.casefold() == said])
    if len(said) >= SHORTEST_PREFIX:
        yield [batch for batch in batches if batch.id.casefold().startswith(said)]


def _fermenting_first(batches: list[Batch]) -> list[Batch]:
    return [batch for batch in batches if batch.in_fermenter] or batches


def _named(batches: list[Batch]) -> str:
    """In quotes, as they are typed; of those with one name the identity, which alone tells them apart."""
    names = [batch.name for batch in batches]
    return ", ".join(in_quotes(one.name) if names.count(one.name) == 1 else one.id for one in batches[-6:])


def _only(found: list[Batch], known: list[Batch], words: str) -> Batch:
    if len(found) == 1:
        return found[0]
    if len(found) > 1 and all(batch.in_package for batch in found):
        where = "any fermenter" if words == "a batch" else found[0].vessel
        raise InputError(f"No beer is in {where}.", hint=f"A packaged one is meant by its name: {_named(found)}.")
    there = ", ".join(f"{batch.name} ({batch.vessel}, {batch.id})" for batch in known[-6:])
    if not found and not known:
        missing = "There is no open batch." if words == "a batch" else f"There is no batch {words!r:.60}."
        raise InputError(missing, hint=f"Open one: {open_command()}")
    what = f"Several batches are meant by {words!r:.60}." if found else f"There is no batch {words!r:.60}."
    raise InputError("Several batches are open: say which." if words == "a batch" else what, hint=f"There is: {there}.")
