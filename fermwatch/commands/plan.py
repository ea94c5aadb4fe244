"""`fermwatch plan`: temperatures one after another, each with what ends it; followed by itself, with or without a
controller.
"""

import argparse
from collections.abc import Callable, Sequence
from typing import NamedTuple

from fermwatch.commands import happenings, sheet
from fermwatch.commands.confirming import at_a_terminal, confirmed, refuse_doubted
from fermwatch.commands.context import Context
from fermwatch.commands.site import Site, find_batch, open_site
from fermwatch.commands.storing import store
from fermwatch.desk import planning
from fermwatch.desk.asking import new_id
from fermwatch.desk.happening import noted
from fermwatch.errors import InputError
from fermwatch.model.amounts import plain, temperature
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.plan import HOW, PlanProgress
from fermwatch.saying import for_programs, planned
from fermwatch.saying.planned import PlanView, view_of
from fermwatch.saying.regulating import next_by_hand, set_by_hand

BY_HAND = (
    "Set the controller, or the fridge, to {target} now: only a controller that was armed (fermwatch controller arm) "
    "is set by the plan. What to set later is told when it is time, as an alarm. A rest or crash of the plan counts "
    "as declared."
)


class PlanAct(NamedTuple):
    purpose: str
    run: Callable[[argparse.Namespace, Context], int]


def arguments(parser: argparse.ArgumentParser) -> Sequence[argparse.ArgumentParser]:
    """Gives back the parsers of its parts."""
    parts = parser.add_subparsers(dest="part", metavar="WHAT", title="what", required=True)
    made = {}
    for name, part in PARTS.items():
        made[name] = parts.add_parser(
            name, help=part.purpose, description=f"{part.purpose[0].upper()}{part.purpose[1:]}."
        )
        made[name].add_argument("batch", nargs="?", metavar="BATCH", help="identity, beginning of one, name, fermenter")
    for name in ("show", "preview"):
        made[name].add_argument("--json", action="store_true", help="as JSON")
    how = f"without it, what suits the yeast. {plain(HOW)}".replace("%", "%%")
    for name in ("preview", "use", "change"):
        made[name].add_argument("--steps", metavar="TEXT", help=how)
        made[name].add_argument("--name", default="", help="what you call it")
    for name in ("preview", "use"):
        help_from = "begin in this step; without it, in the first that the beer has not behind it"
        made[name].add_argument("--from", dest="number", type=int, metavar="STEP", help=help_from)
    made["use"].add_argument("--instead", action="store_true", help="in place of the plan that is under way")
    for name in ("use", "skip", "change"):
        made[name].add_argument("--although", default="", metavar="TEXT", help="why it may be made cold all the same")
    return tuple(made.values())


def run(options: argparse.Namespace, context: Context) -> int:
    return PARTS[options.part].run(options, context)


def _show(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        batch = find_batch(site, options.batch)
        progress = planning.in_force(site.reader, batch, site.now)
        _tell(context, site, batch, progress, options)
        by_hand = not any(one.vessel == batch.vessel for one in site.reader.controllers())
        if by_hand and batch.in_fermenter and not options.json:
            _tell_by_hand(context, site, batch)
    return 0


def _tell_by_hand(context: Context, site: Site, batch: Batch) -> None:
    """Nothing switches it but a person: what to set, and what comes next."""
    view = view_of(batch, site.reader.judgement(batch.id), site.reader.events(batch.id, strict=False), site.now)
    target_c = None if view is None else view.progress.set_point_c(site.now)
    if view is not None and target_c is not None:
        said = f"{set_by_hand(target_c, site.voice)} {next_by_hand(view, site.now, site.voice)}".rstrip()
        sheet.say(context, ["", *sheet.paragraph(said, sheet.width(context))])


def _preview(options: argparse.Namespace, context: Context) -> int:
    """What a plan would come to, without beginning it."""
    with open_site(context) as site:
        batch = find_batch(site, options.batch)
        plan = planning.plan_for(batch, options.steps, options.name)
        _tell(context, site, batch, planning.begun(site.reader, batch, plan, options.number, site.now), options)
    return 0


def _use(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        batch = find_batch(site, options.batch)
        planning.check_follows(batch)
        plan = planning.plan_for(batch, options.steps, options.name)
        progress = planning.begun(site.reader, batch, plan, options.number, site.now)
        _tell(context, site, batch, progress, options)
        target = site.voice.text(temperature(progress.set_point_c(site.now) or 0.0))
        sheet.say(context, ["", *sheet.paragraph(BY_HAND.format(target=target), sheet.width(context)), ""])
        if not _takes_the_place(context, site, batch, instead=options.instead):
            return 1
        return _store(context, site, batch, progress, options.although)


def _takes_the_place(context: Context, site: Site, batch: Batch, *, instead: bool) -> bool:
    """Whether it may begin: of the plan that it would replace a person is told, and asked."""
    view = view_of(batch, site.reader.judgement(batch.id), site.reader.events(batch.id, strict=False), site.now)
    if planning.under_way(site.reader, batch, site.now) is None or view is None:
        return True
    name, said = site.voice.text(batch.name), planned.plan_words(view, site.now, site.voice)
    told = f"{name} follows a plan already, which this one would take the place of: {said}."
    change = f"To keep it, do nothing; to give it other steps where it is: fermwatch plan change {batch.vessel}"
    if instead or at_a_terminal():
        sheet.say(context, sheet.paragraph(told, sheet.width(context), mark="! "))
        if not instead:
            sheet.say(context, [*sheet.paragraph(change, sheet.width(context)), ""])
    else:
        raise InputError(f"Nothing was stored. {told}", hint=f"Meant? Add --instead. {change}")
    return confirmed(context, "Begin this one in its place?", yes=instead)


def _change(options: argparse.Namespace, context: Context) -> int:
    """Other steps for a plan that is under way."""
    if options.steps is None:
        raise InputError("With what steps?", hint=HOW)
    with open_site(context) as site:
        batch = find_batch(site, options.batch)
        plan = planning.plan_for(batch, options.steps, options.name)
        progress = planning.edited(site.reader, batch, plan, site.now)
        return _store(context, site, batch, progress, options.although)


def _skip(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        batch = find_batch(site, options.batch)
        return _store(context, site, batch, planning.skipped(site.reader, batch, site.now), options.although)


def _hold(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        batch = find_batch(site, options.batch)
        return _store(context, site, batch, planning.held(site.reader, batch, site.now, held=True), "")


def _resume(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        batch = find_batch(site, options.batch)
        return _store(context, site, batch, planning.held(site.reader, batch, site.now, held=False), "")


def _stop(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        batch = find_batch(site, options.batch)
        planning.in_force(site.reader, batch, site.now)
        event = Event(new_id(context.clock.now()), site.now, EventKind.PLAN, {"stopped": True})
        options = argparse.Namespace(yes=True, even_so=True)
        return store(options, context, happenings.prepared(site, noted(site.reader, batch, event, site.now)))


def _store(context: Context, site: Site, batch: Batch, progress: PlanProgress, although: str) -> int:
    """Hand it to the watcher; what speaks against its step is refused unless a person says why it may be."""
    progress = planning.reasoned(site.reader, batch, progress, although)
    event = planning.event_of(progress, new_id(context.clock.now()), site.now)
    doubts = [site.voice.text(doubt) for doubt in planning.doubts(site.reader, batch, event)]
    refuse_doubted(doubts, yes=True, despite=bool(although), option='--although "WHY"', beside="")
    cautions = tuple(planning.cautions(site.reader, batch, event, site.now))
    found = noted(site.reader, batch, event, site.now, cautions)
    return store(argparse.Namespace(yes=True, even_so=True), context, happenings.prepared(site, found))


def _tell(context: Context, site: Site, batch: Batch, progress: PlanProgress, options: argparse.Namespace) -> None:
    """Its steps with what ends each, and when each begins as far as anything tells."""
    judgement = site.reader.judgement(batch.id)
    view = view_of(batch, judgement, site.reader.events(batch.id, strict=False), site.now, progress)
    if view is None:
        raise ValueError("a plan was given")
    if getattr(options, "json", False):
        plain = for_programs.plan(view, tuple(planned.ahead(view, site.now)), planned.over_at(view, site.now), site.now)
        sheet.say_json(context, {"batch": for_programs.batch(batch), "plan": plain})
        return
    title = f"{site.voice.text(batch.name)}: {planned.plan_words(view, site.now, site.voice)}."
    begins = ""
    if not progress.id and options.number is None and progress.number:
        begins = f"It begins in step {progress.number + 1}: what ends the one before is met already."
    size = sheet.width(context)
    sheet.say(context, sheet.paragraph(f"{title} {begins}".rstrip(), size), _table(view, site, size))


def _table(view: PlanView, site: Site, size: int) -> list[str]:
    rows = [(str(one.number), one.text, one.when) for one in planned.steps_said(view, site.now, site.voice)]
    over = planned.over_at(view, site.now)
    if over is not None:
        rows.append(("", "over", planned.when_words(over, site.now, site.voice)))
    return sheet.table(("STEP", "SET POINT, AND WHAT ENDS IT", "BEGINS"), rows, left=3, size=size)


PARTS = {
    "show": PlanAct("the plan in force: its steps, where it is, what it waits for, what comes when", _show),
    "preview": PlanAct("what a plan would come to by the forecast, without beginning it", _preview),
    "use": PlanAct("begin a plan", _use),
    "change": PlanAct("other steps for the plan under way", _change),
    "skip": PlanAct("let the next step begin now", _skip),
    "hold": PlanAct("stay in the step that it is in", _hold),
    "resume": PlanAct("let a held plan go on", _resume),
    "stop": PlanAct("give the plan up; a rest or crash that is in force stays declared", _stop),
}
