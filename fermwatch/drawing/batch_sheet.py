"""The page of one batch: what was pitched, how it goes in its package, and what people did and measured."""

from collections.abc import Iterable
from dataclasses import dataclass

from fermwatch.contracts.feed import InPackage, Snapshot
from fermwatch.drawing.labelled import NARROW, labelled
from fermwatch.drawing.lines import EMPTY, Line, Span, cut_line, wrap
from fermwatch.drawing.page import CURSOR, Drawn, Sheet, showable
from fermwatch.model.batch import Batch, Event, GravityMeasurement
from fermwatch.saying import happened, in_package, label, pitched, words
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice

WIDEST = 120
WHOLE = 40  # rows: the page scrolls

Entry = GravityMeasurement | Event


@dataclass(frozen=True, slots=True)
class BatchStory:
    """All that is known of a batch. doubts: what stands against what was said of it, a sentence or two each.

    entries: the newest first.
    """

    batch: Batch
    events: tuple[Event, ...]
    entries: tuple[Entry, ...]
    doubts: tuple[str, ...] = ()
    packaged: InPackage | None = None


def entries_of(measurements: Iterable[GravityMeasurement], events: Iterable[Event]) -> tuple[Entry, ...]:
    """What people did and measured, the newest first; of one instant, what was entered last."""
    return tuple(sorted((*measurements, *events), key=lambda one: (one.at, one.id), reverse=True))


def draw(story: BatchStory, snapshot: Snapshot, sheet: Sheet, picked: int) -> Drawn:
    """picked: the number of an entry, -1 for none."""
    voice = sheet.voice(snapshot)
    size = min(max(sheet.width - CURSOR - 1, 20), WIDEST)
    top = [_title(story.batch, voice), EMPTY, *_facts(story, snapshot, voice, size)]
    head = [EMPTY, (Span("done and measured, the newest first", Ink.FAINT),)]
    if not story.entries:
        head.append((Span("Nothing yet. Measure or note something: i"),))
    lines, owners = [*top, *head], [-1] * (len(top) + len(head))
    for number, entry in enumerate(story.entries):
        rows = _entry(entry, snapshot, voice, size)
        lines += rows
        owners += [number] * len(rows)
    marked = [_marked(line, sheet, picked=0 <= picked == owner) for line, owner in zip(lines, owners, strict=True)]
    shown = showable([cut_line(line, sheet.width, voice.ellipsis) for line in marked], sheet)
    return Drawn(tuple(shown), tuple(owners), picked)


def _title(batch: Batch, voice: Voice) -> Line:
    where = "" if batch.in_fermenter else "in its package" if batch.in_package else "ended"
    return Span(voice.text(batch.name, 80), Ink.STRONG), Span(f"  {where or voice.text(batch.vessel, 40)}")


def _marked(line: Line, sheet: Sheet, *, picked: bool) -> Line:
    return (Span(sheet.glyphs.cursor.ljust(CURSOR), Ink.PICK) if picked else Span(" " * CURSOR), *line)


def _facts(story: BatchStory, snapshot: Snapshot, voice: Voice, size: int) -> list[Line]:
    now = snapshot.now
    lines: list[Line] = []
    if story.packaged is not None:
        lines += labelled(in_package.rows(story.packaged, now, voice), size)
    lines += labelled(pitched.in_short(story.batch, now, voice, story.events), size)
    minded = [("mind" if not place else "", voice.text(text, 1000)) for place, text in enumerate(story.doubts)]
    lines += labelled(minded, size, Ink.ADVICE)
    if story.packaged is not None:
        said = label.lines(story.packaged, now, voice)
        lines += [EMPTY, *labelled([("label" if not place else "", text) for place, text in enumerate(said)], size)]
    return lines


def _entry(entry: Entry, snapshot: Snapshot, voice: Voice, size: int) -> list[Line]:
    """When, and what; what was voided is faint, and says so."""
    now = snapshot.now
    said = entry_words(entry, snapshot, voice)
    when, ink = words.moment(entry.at, now, voice), Ink.FAINT if entry.voided else Ink.PLAIN
    indent = 17 if size >= NARROW else 2
    if indent < len(when):
        return [
            (Span(when, Ink.FAINT),),
            *((Span(f"{'':<{indent}}{part}", ink),) for part in wrap(said, size - indent, WHOLE)),
        ]
    parts = wrap(said, size - indent, WHOLE) or [""]
    return [
        (Span(f"{when if not row else '':<{indent}}", Ink.FAINT), Span(part, ink)) for row, part in enumerate(parts)
    ]


def entry_words(entry: Entry, snapshot: Snapshot, voice: Voice) -> str:
    """What was done or measured, in words; quantities in the reader's units."""
    if isinstance(entry, GravityMeasurement):
        return voice.text(happened.measurement_words(entry, voice), 1000)
    return voice.text(happened.event_words(entry, snapshot.now, voice), 1000)
