"""What was prepared is shown, asked about and handed to the watcher."""

import argparse

from fermwatch.commands import sheet
from fermwatch.commands.asking import ask, report
from fermwatch.commands.confirming import confirmed, refuse_doubted
from fermwatch.commands.context import Context
from fermwatch.desk.prepared import Prepared


def store(options: argparse.Namespace, context: Context, prepared: Prepared, *, remedy: str = "") -> int:
    """The exit status. remedy: what to look at where a verdict stands against it."""
    size = sheet.width(context)
    minded = [line for text in prepared.minded for line in sheet.paragraph(text, size, mark="! ")]
    sheet.say(context, sheet.rows(prepared.rows, size), minded, sheet.paragraph(prepared.to_do, size, mark="> "))
    if prepared.against:
        refuse_doubted(
            prepared.against,
            yes=options.yes,
            despite=options.although_not_safe,
            option="--although-not-safe",
            remedy=remedy,
        )
    if prepared.doubts:
        refuse_doubted(prepared.doubts, yes=options.yes, despite=options.even_so, option="--even-so")
    if prepared.question and not confirmed(context, prepared.question, yes=options.yes):
        return 1
    done = f"{prepared.done.removesuffix('.')}, as {prepared.identity}."
    return report(context, ask(context, prepared.asked), done)
