"""The page of the alarms: a line a cause, the one under the cursor with its evidence and what to do."""

from dataclasses import dataclass

from fermwatch.contracts.feed import Snapshot
from fermwatch.contracts.store import JournalEntry
from fermwatch.drawing.lines import EMPTY, GAP, Line, Span, cut_line, merge, width, wrap
from fermwatch.drawing.page import CURSOR, Drawn, Sheet, showable
from fermwatch.model.finding import Alarm
from fermwatch.saying import alarm_list, quiet, told_of, watch, words
from fermwatch.saying.alarm_list import Listed
from fermwatch.saying.facts import AlarmFacts, alarm_facts
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice

WIDEST = 110
WHOLE = 40  # rows: the page scrolls
MARK = 3
LATELY = 12  # entries of the journal
OF_ONE = 6
WHEN = 17
NARROW = 50


@dataclass(frozen=True, slots=True)
class AlarmStory:
    """picked: the rule and subject under the cursor. more: whether its history is shown too."""

    groups: tuple[Listed, ...]
    entries: tuple[JournalEntry, ...]
    picked: Alarm | None = None
    more: bool = False


@dataclass(frozen=True, slots=True)
class Hand:
    """What the page is drawn with."""

    snapshot: Snapshot
    voice: Voice
    size: int
    sheet: Sheet


def draw(story: AlarmStory, snapshot: Snapshot, sheet: Sheet) -> Drawn:
    voice = sheet.voice(snapshot)
    hand = Hand(snapshot, voice, min(max(sheet.width - CURSOR - 1, 16), WIDEST), sheet)
    lines: list[Line] = []
    owners: list[int] = []

    def put(rows: list[Line], owner: int = -1) -> None:
        lines.extend(rows)
        owners.extend([owner] * len(rows))

    if not snapshot.watched:
        said = watch.watcher_words(snapshot, voice)
        put([*_wrapped(f"{said.mark} {said.text}", hand, said.ink), EMPTY])
    if not story.groups:
        put([(Span(alarm_list.NONE_STANDS),), EMPTY])
    number, picked = 0, -1
    for group in story.groups:
        put([(Span(group.standing.value, Ink.FAINT),)])
        for alarm in group.alarms:
            here = alarm == story.picked
            picked = number if here else picked
            put(_alarm(alarm, story, hand, here=here), number)
            number += 1
        put([EMPTY])
    if not snapshot.notifiers:
        put([*_wrapped(told_of.NO_WAY, hand, Ink.FAINT), EMPTY])
    put(_lately(story, hand))
    marked = [_marked(line, hand, picked=0 <= picked == owner) for line, owner in zip(lines, owners, strict=True)]
    shown = showable([cut_line(line, sheet.width, voice.ellipsis) for line in marked], sheet)
    return Drawn(tuple(shown), tuple(owners), picked)


def _marked(line: Line, hand: Hand, *, picked: bool) -> Line:
    return (Span((hand.sheet.glyphs.cursor if picked else "").ljust(CURSOR), Ink.PICK), *line)


def _wrapped(text: str, hand: Hand, ink: Ink = Ink.PLAIN, indent: int = 0) -> list[Line]:
    return [(Span(" " * indent), Span(row, ink)) for row in wrap(text, hand.size - indent, WHOLE)]


def _alarm(alarm: Alarm, story: AlarmStory, hand: Hand, *, here: bool) -> list[Line]:
    now, voice = hand.snapshot.now, hand.voice
    facts = alarm_facts(alarm, now, voice)
    rows = _line(alarm, facts, hand)
    if not here:
        return rows
    rows += _wrapped(facts.statement, hand, facts.ink, MARK)
    if facts.remedy:
        rows += _wrapped(facts.remedy, hand, Ink.STRONG, MARK)
    if alarm.is_quiet:
        rows += _wrapped(quiet.STILL_JUDGED, hand, Ink.FAINT, MARK)
    rows += _wrapped(
        told_of.words_of(alarm, hand.snapshot.told, hand.snapshot.notifiers, now, voice), hand, Ink.FAINT, MARK
    )
    if story.more:
        rows += _wrapped(alarm_list.history(alarm, now, voice), hand, Ink.FAINT, MARK)
        of_one = [one for one in story.entries if one.subject == alarm.subject and _is_of(one, alarm)]
        rows += [(Span(" " * MARK), *line) for one in of_one[:OF_ONE] for line in _entry(one, hand, MARK, named=False)]
    return rows


def _is_of(entry: JournalEntry, alarm: Alarm) -> bool:
    return entry.text.startswith(f"{alarm.rule} ")


def _line(alarm: Alarm, facts: AlarmFacts, hand: Hand) -> list[Line]:
    """Its mark, where it is, what in few words, and since when: on a narrow sheet on a line of its own."""
    mark = (quiet.MARK if alarm.is_quiet else facts.mark).ljust(MARK)
    what = f"{alarm_list.where(alarm.subject, hand.snapshot, hand.voice)}: {facts.brief}"
    left: Line = (Span(mark, facts.ink), Span(what, Ink.STRONG if facts.ink is Ink.PLAIN else facts.ink))
    state = facts.state
    gap = hand.size - width(left) - len(state)
    if gap >= GAP:
        return [merge((*left, Span(" " * gap), Span(state, Ink.FAINT)))]
    first, *rest = wrap(what, hand.size - MARK, WHOLE) or [""]
    rows: list[Line] = [(left[0], Span(first, left[1].ink))]
    rows += [(Span(" " * MARK), Span(row, left[1].ink)) for row in rest]
    return [*rows, *_wrapped(state, hand, Ink.FAINT, MARK)]


def _lately(story: AlarmStory, hand: Hand) -> list[Line]:
    """What was raised, grew graver and ended, the newest first."""
    if not story.entries:
        return []
    rows: list[Line] = [(Span("Lately", Ink.FAINT),)]
    for one in story.entries[:LATELY]:
        rows += _entry(one, hand, 0, named=True)
    return rows


def _entry(entry: JournalEntry, hand: Hand, indent: int, *, named: bool) -> list[Line]:
    when = words.moment(entry.at, hand.snapshot.now, hand.voice)
    place = f"{alarm_list.where(entry.subject, hand.snapshot, hand.voice)}: " if named else ""
    said = f"{place}{alarm_list.entry_words(entry, hand.voice)}"
    size = hand.size - indent
    if size < NARROW:
        return [(Span(when, Ink.FAINT),), *((Span(f"  {row}", Ink.FAINT),) for row in wrap(said, size - 2, WHOLE))]
    return [
        (Span((when if not place_ else "").ljust(WHEN), Ink.FAINT), Span(row, Ink.FAINT))
        for place_, row in enumerate(wrap(said, size - WHEN, WHOLE))
    ]
