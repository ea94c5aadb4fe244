"""`fermwatch alarms`: what needs somebody now, what was seen, what is quiet on purpose, and what there was."""

import argparse

from fermwatch.commands import sheet
from fermwatch.commands.alarm_choice import named
from fermwatch.commands.context import Context
from fermwatch.commands.mistaken import feed_of
from fermwatch.commands.site import Site, open_site
from fermwatch.saying import alarm_list, for_programs, told_of
from fermwatch.saying.alarm_list import Listed
from fermwatch.saying.facts import alarm_facts
from fermwatch.saying.watch import watcher_words
from fermwatch.saying.words import moment

JOURNAL_LINES = 40


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--journal", action="store_true", help="what was raised, escalated and cleared, newest first")
    parser.add_argument("--json", action="store_true", help="every alarm with its state, as JSON")


def run(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        if options.json:
            told = site.reader.told()
            alarms = [for_programs.alarm(alarm, told) for alarm in site.reader.alarms() if alarm.occurrence > 0]
            misread = for_programs.misreads(site.reader.misread())
            sheet.say_json(context, {"alarms": alarms, "misread": misread})
        elif options.journal:
            sheet.say(context, _journal(site) or ["Nothing is in the journal of alarms yet."])
        else:
            sheet.say(context, *_unwatched(context, site), *_now(site, sheet.width(context)))
    return 0


def _unwatched(context: Context, site: Site) -> list[list[str]]:
    """Where nobody watches, no alarm can come: that goes before all."""
    feed = feed_of(context)
    try:
        snapshot = feed.snapshot(context.clock.now())
    finally:
        feed.close()
    said = watcher_words(snapshot, site.voice).text
    return [] if snapshot.watched else [sheet.paragraph(f"{said[0].upper()}{said[1:]}.", sheet.width(context))]


def _now(site: Site, width: int) -> list[list[str]]:
    groups = alarm_list.listed(site.reader.alarms(), site.now)
    blocks = [_listed(group, site, width) for group in groups] or [[alarm_list.NONE_STANDS]]
    return blocks if site.reader.notifiers() else [*blocks, sheet.paragraph(told_of.NO_WAY, width)]


def _listed(group: Listed, site: Site, width: int) -> list[str]:
    lines = [group.standing.value]
    told, notifiers = site.reader.told(), [one.name for one in site.reader.notifiers()]
    for alarm in group.alarms:
        facts = alarm_facts(alarm, site.now, site.voice)
        name = f"  {alarm.rule} {named(site, alarm.subject)}"
        lines.append(f"{name} ({alarm.severity}, {facts.state})")
        lines += sheet.paragraph(facts.statement, width, mark="    ")
        if alarm.remedy and alarm.stands:
            lines += sheet.paragraph(facts.remedy, width, mark="    ")
        if by := told_of.words_of(alarm, told, notifiers, site.now, site.voice):
            lines += sheet.paragraph(by, width, mark="    ")
    return lines


def _journal(site: Site) -> list[str]:
    entries = site.reader.journal(limit=JOURNAL_LINES, kind="alarm")
    return [
        f"{moment(entry.at, site.now, site.voice):<16}  {named(site, entry.subject):<14}  {site.voice.text(entry.text)}"
        for entry in entries
    ]
