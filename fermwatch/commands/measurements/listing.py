"""The measurements and events of a batch with their identities, and voiding one: nothing is ever edited."""

import argparse
from collections.abc import Iterator

from fermwatch.commands import sheet
from fermwatch.commands.asking import ask, report
from fermwatch.commands.confirming import confirmed
from fermwatch.commands.context import Context
from fermwatch.commands.site import Site, find_batch, open_site
from fermwatch.contracts.kept import Misread
from fermwatch.desk.prepared import Prepared
from fermwatch.errors import InputError
from fermwatch.model.batch import Event, GravityMeasurement
from fermwatch.requests.shapes import Voiding
from fermwatch.saying import for_programs, happened, words
from fermwatch.saying.happened import event_words, measurement_words

VOID_IT = "Void it? It stays in the history, and is judged on no longer."
SHORTEST = 4  # characters of an identity

Entry = Event | GravityMeasurement


def list_measurements(options: argparse.Namespace, context: Context, words_of_batch: str | None) -> int:
    with open_site(context) as site:
        batch = find_batch(site, words_of_batch)
        return _list(options, context, site, list(site.reader.measurements(batch.id, strict=False)))


def list_events(options: argparse.Namespace, context: Context, words_of_batch: str | None) -> int:
    with open_site(context) as site:
        batch = find_batch(site, words_of_batch)
        return _list(options, context, site, list(site.reader.events(batch.id, strict=False)))


def void(options: argparse.Namespace, context: Context, identity: str | None) -> int:
    """Void a measurement or an event, by its identity."""
    with open_site(context) as site:
        ready = prepared_void(options, site, identity)
    sheet.say(context, *(said for _, said in ready.rows), *ready.minded)
    if not confirmed(context, ready.question, yes=options.yes):
        return 1
    return report(context, ask(context, ready.asked), ready.done)


def prepared_void(options: argparse.Namespace, site: Site, identity: str | None) -> Prepared:
    """What would be voided. InputError where it is none, several, or voided already."""
    wanted = (identity or "").strip().upper()
    entries = {entry.id: entry for entry in _entries(site)}
    misread = {one.identity: one.why for one in _misread(site)}
    name = _meant(wanted, [*entries, *misread])
    asked, done = Voiding(name, options.reason or ""), f"Voided {name}."
    if name in misread:
        return Prepared((("entry", f"What cannot be read: {misread[name]}"),), asked, VOID_IT, done)
    found = entries[name]
    if found.voided:
        raise InputError(f"{found.id} is already voided.")
    said = f"{words.moment(found.at, site.now, site.voice)}: {_words(site, found)}"
    minded = (happened.without(found),)
    return Prepared((("entry", said),), asked, VOID_IT, done, minded=tuple(text for text in minded if text))


def _meant(wanted: str, known: list[str]) -> str:
    """The one identity that is this, or begins or ends so. InputError where it is none or several."""
    hint = "Their identities: fermwatch measure list BATCH, fermwatch note list BATCH"
    if not wanted:
        raise InputError("Void which one?", hint=hint)
    exact = [name for name in known if name.upper() == wanted]
    short = [name for name in known if name.upper().startswith(wanted) or name.upper().endswith(wanted)]
    found = exact or (short if len(wanted) >= SHORTEST else [])
    if not found:
        raise InputError(f"There is no measurement or event {wanted!r:.40}.", hint=hint)
    if len(found) > 1:
        raise InputError(f"Several are meant by {wanted!r:.40}.", hint=f"Say more of one: {', '.join(found[-6:])}.")
    return found[0]


def _list(options: argparse.Namespace, context: Context, site: Site, entries: list[Entry]) -> int:
    if options.json:
        plain = {
            "measurements": [for_programs.measurement(one) for one in entries if isinstance(one, GravityMeasurement)],
            "events": [for_programs.event(one) for one in entries if isinstance(one, Event)],
            "misread": for_programs.misreads(_misread(site)),
        }
        sheet.say_json(context, plain)
        return 0
    if not entries:
        sheet.say(context, "Nothing yet.")
    else:
        for entry in entries:
            pairs = [(words.moment(entry.at, site.now, site.voice), _words(site, entry)), ("", entry.id)]
            sheet.say(context, sheet.rows(pairs, sheet.width(context)))
    for one in _misread(site):
        remedy = "Update this fermwatch, or void it" if one.newer else "Void it, and enter it anew"
        said = f"This cannot be read, and its batch is not judged: {one.identity}: {one.why}. {remedy}."
        sheet.say(context, sheet.paragraph(said, sheet.width(context), mark="! "))
    return 0


def _misread(site: Site) -> list[Misread]:
    """What was said of batches, and cannot be read; other rows are no matter of theirs."""
    return [one for one in site.reader.misread() if one.what in {"measurement", "event"}]


def _entries(site: Site) -> Iterator[Entry]:
    for batch in site.reader.batches(ended=True):
        yield from site.reader.measurements(batch.id, strict=False)
        yield from site.reader.events(batch.id, strict=False)


def _words(site: Site, entry: Entry) -> str:
    if isinstance(entry, Event):
        return event_words(entry, site.now, site.voice)
    return measurement_words(entry, site.voice)
