"""Everything known of one fermenter, with the evidence for each statement, as lines to be scrolled through."""

from dataclasses import replace

from fermwatch.brewing.attenuation import expected
from fermwatch.contracts.feed import Lane, Snapshot
from fermwatch.drawing.lanes import Pen, alarm_lines, instruments, joined_words
from fermwatch.drawing.lines import EMPTY, Line, Span, cut_line, wrap
from fermwatch.drawing.packages import beer_lines
from fermwatch.drawing.page import CURSOR, Sheet, showable
from fermwatch.drawing.probe_list import probe_lines
from fermwatch.model.amounts import volume
from fermwatch.model.batch import Batch, Event
from fermwatch.model.finding import Alarm, Evidence
from fermwatch.model.judgement import Judgement
from fermwatch.saying import words
from fermwatch.saying.facts import LaneFacts, alarm_facts, lane_facts, worth_showing
from fermwatch.saying.ink import Ink
from fermwatch.saying.judged import further_reasons, of_phase_alone
from fermwatch.saying.voice import Voice

WIDEST = 120
WHOLE = 40  # rows: the page scrolls, so that nothing is cut


def lane_lines(lane: Lane, snapshot: Snapshot, sheet: Sheet) -> list[Line]:
    voice = sheet.voice(snapshot)
    size = min(max(sheet.width - CURSOR - 1, 20), WIDEST)
    pen = Pen(voice, sheet.glyphs, snapshot.now, size)
    facts = lane_facts(lane, snapshot.now, voice)
    lines = [
        _title(facts),
        EMPTY,
        *_alarms(lane, pen),
        *instruments(facts, pen),
        *_section("judgement", _judgement(lane.judgement, facts, pen)),
        *_section("controller", _controllers(facts, pen)),
        *_section("probes", probe_lines(lane.probes, pen.now, pen.voice)),
        *_section("batch", _batch(lane.batch, lane.events, pen)),
        *_section("packaged out of it", _packaged(lane, snapshot, pen)),
        *_section("measured by hand", _measurements(lane, pen)),
    ]
    return showable([cut_line((Span(" " * CURSOR), *line), sheet.width, voice.ellipsis) for line in lines], sheet)


def _title(facts: LaneFacts) -> Line:
    about = "  ".join(part for part in (facts.batch, facts.day) if part)
    return Span(facts.name, Ink.STRONG), Span(f"  {about}")


def _section(name: str, lines: list[Line]) -> list[Line]:
    return [EMPTY, (Span(name, Ink.FAINT),), *lines] if lines else []


def _alarms(lane: Lane, pen: Pen) -> list[Line]:
    quiet = [alarm for alarm in lane.alarms if alarm.stands_quietly]
    shown = [*worth_showing(lane.alarms), *quiet]
    lines: list[Line] = []
    for alarm in shown:
        lines += alarm_lines(alarm_facts(alarm, pen.now, pen.voice), pen, WHOLE)
        lines += _history(alarm, pen)
    return [*lines, EMPTY] if lines else []


def _history(alarm: Alarm, pen: Pen) -> list[Line]:
    parts = [f"rule {alarm.rule}"]
    if alarm.occurrence > 1:
        parts.append(f"raised {alarm.occurrence} times")
    if alarm.acknowledged_at is not None:
        by = alarm.acknowledged_by or "somebody"
        parts.append(f"seen by {by} {words.moment(alarm.acknowledged_at, pen.now, pen.voice)}")
    return [(Span(f"   {pen.voice.text(', '.join(parts))}", Ink.FAINT),)]


def _judgement(judgement: Judgement | None, facts: LaneFacts, pen: Pen) -> list[Line]:
    lines = joined_words(replace(facts, planned=""), pen)
    for told in (facts.planned, facts.step_sentence):
        lines += [(Span(text),) for text in wrap(told, pen.width, WHOLE, pen.voice.ellipsis)]
    lines += [(Span(text, Ink.FAINT),) for text in wrap(facts.gravity_remark, pen.width, WHOLE, pen.voice.ellipsis)]
    if judgement is None:
        return lines
    if judgement.forecast is not None and facts.ending is not None and facts.ending.most_sg is not None:
        end = f"ends at {pen.voice.gravity(facts.ending.most_sg)}, most likely between "
        lines.append((Span(end + pen.voice.gravity_range(facts.ending.low_sg, facts.ending.high_sg)),))
        if judgement.forecast.rests_on:
            lines.append((Span(f"counted in: {pen.voice.text(judgement.forecast.rests_on)}", Ink.FAINT),))
        lines += [(Span(f"not known: {pen.voice.text(gap)}", Ink.FAINT),) for gap in judgement.forecast.cannot_know]
    if judgement.phase is not None:
        lines += _evidence(of_phase_alone(judgement), pen)
    if judgement.verdict is not None:
        for reason in further_reasons(judgement.verdict, pen.voice):
            said = wrap(f"- {reason}", pen.width - 2, WHOLE, pen.voice.ellipsis)
            lines += [(Span(text if row == 0 else f"  {text}"),) for row, text in enumerate(said)]
        lines += _evidence(judgement.verdict.evidence, pen)
    return lines


def _evidence(evidence: tuple[Evidence, ...], pen: Pen) -> list[Line]:
    lines: list[Line] = []
    for gate in evidence:
        said = f"{pen.voice.text(gate.name)}: {pen.voice.text(gate.statement)}"
        mark = "met      " if gate.met else "not met  "
        for row, text in enumerate(wrap(said, pen.width - len(mark), WHOLE, pen.voice.ellipsis)):
            lines.append((Span(mark if row == 0 else " " * len(mark), Ink.FAINT), Span(text)))
    return lines


def _controllers(facts: LaneFacts, pen: Pen) -> list[Line]:
    said = (wrap(f"{one.mark} {one.text}".strip(), pen.width, WHOLE, pen.voice.ellipsis) for one in facts.controllers)
    return [(Span(text),) for rows in said for text in rows]


def _batch(batch: Batch | None, events: tuple[Event, ...], pen: Pen) -> list[Line]:
    if batch is None:
        return [(Span("none: open one with `fermwatch batch open`"),)]
    voice, yeast = pen.voice, batch.yeast
    expectation = expected(batch, events)
    low, high = expectation.ends_sg
    dash = "-" if voice.ascii else "–"
    attenuation = f"apparent attenuation {expectation.low:.0%}{dash}{expectation.high:.0%}"
    attenuation += f": should end at {voice.gravity_range(low, high)}"
    rows = [
        f"{voice.text(volume(batch.volume_l))} pitched {words.moment(batch.pitched_at, pen.now, voice)}",
        f"original gravity {voice.gravity(batch.original_sg)}, {batch.original_origin.value}",
        f"{voice.text(yeast.name)}, {voice.temperature_range(yeast.temperature_low_c, yeast.temperature_high_c)}",
        attenuation,
    ]
    if batch.package is not None:
        rows.append(f"meant for {voice.text(batch.package.kind)} at {batch.package.volumes:g} volumes of CO2")
    if batch.notes:
        rows.append(voice.text(batch.notes))
    return [(Span(text),) for row in rows for text in wrap(row, pen.width, WHOLE, voice.ellipsis)]


def _packaged(lane: Lane, snapshot: Snapshot, pen: Pen) -> list[Line]:
    """The beers that were in it and stand in their packages, with what concerns them."""
    out_of_it = (one for one in snapshot.in_package if one.batch.vessel == lane.vessel.slug)
    return [line for one in out_of_it for line in beer_lines(one, pen)]


def _measurements(lane: Lane, pen: Pen) -> list[Line]:
    voice: Voice = pen.voice
    taken = sorted((m for m in lane.measurements if not m.voided), key=lambda m: m.at, reverse=True)
    return [
        (
            Span(f"{words.moment(one.at, pen.now, voice):<18}"),
            Span(voice.gravity(one.gravity_sg), Ink.STRONG),
            Span(f" {voice.gravity_spread(one.sd_points)}  {one.instrument.value}", Ink.FAINT),
        )
        for one in taken[:10]
    ]
