"""`fermwatch health`: how probes, sources, watcher, store and the ways to people do, each with its remedy."""

import argparse

from fermwatch.commands import sheet
from fermwatch.commands.context import Context
from fermwatch.commands.mistaken import feed_of
from fermwatch.contracts.feed import HealthAnswer, HealthQuery
from fermwatch.saying import for_programs
from fermwatch.saying.health import Trouble, health
from fermwatch.saying.voice import Voice, zone_of


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="as JSON")


def run(options: argparse.Namespace, context: Context) -> int:
    feed, now = feed_of(context), context.clock.now()
    try:
        snapshot, answer = feed.snapshot(now), feed.answer(HealthQuery(), now)
    finally:
        feed.close()
    if options.json:
        said = health(snapshot, answer if isinstance(answer, HealthAnswer) else None, Voice())
        sheet.say_json(context, {"watched": snapshot.watched, **for_programs.health(said)})
        return 0
    voice = Voice(context.units, context.ascii_only, zone_of(snapshot.timezone))
    size = sheet.width(context)
    said = health(snapshot, answer if isinstance(answer, HealthAnswer) else None, voice)
    troubles = [line for one in said.troubles for line in _told(one, size)]
    groups = [[name.upper(), *sheet.rows(rows, size)] for name, rows in said.groups]
    sheet.say(context, said.headline, troubles, *groups)
    return 0


def _told(one: Trouble, size: int) -> list[str]:
    mark = f"{one.mark:<3}" if one.mark else "   "
    rows = sheet.paragraph(one.text, size, mark=mark)
    return [*rows, *(sheet.paragraph(one.remedy, size, mark="   ") if one.remedy else [])]
