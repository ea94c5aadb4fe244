"""`fermwatch init`: from an empty machine to a watcher that runs as a service, each command shown before it runs."""

import argparse
import subprocess
from collections.abc import Callable, Sequence
from dataclasses import replace

from fermwatch.commands import amounts, sheet
from fermwatch.commands.confirming import asked, at_a_terminal, confirmed
from fermwatch.commands.context import Context
from fermwatch.commands.installing.looking import look
from fermwatch.commands.installing.plan import (
    CONFIG,
    CommandStep,
    Machine,
    at_altitude,
    described,
    install,
    refuse,
    remove,
)
from fermwatch.config.locate import SYSTEM_STATE
from fermwatch.errors import FermwatchError, InputError
from fermwatch.text import clean

LOWEST_M = -450.0  # the Dead Sea's shore, and what the configuration takes
LIMIT_S = 300.0  # for one command; a copy onto a slow card takes its time
Runner = Callable[[CommandStep], None]


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.description = (
        "Makes the watcher a service of this machine: user, group, directories, a configuration and the systemd unit. "
        "Shows every command first, asks once, and does only what is missing."
    )
    parser.add_argument("--dry-run", action="store_true", help="show what would be done, and do nothing")
    parser.add_argument("--altitude", metavar="350m", help="above the sea, of the place; asked where it is not said")
    parser.add_argument("--yes", action="store_true", help="do it without asking")
    parser.add_argument("--remove", action="store_true", help="take it away again; readings and configuration stay")
    parser.add_argument(
        "--with-readings", action="store_true", help="with --remove: all readings, batches and the configuration go too"
    )


def run(options: argparse.Namespace, context: Context) -> int:
    return carry_out(options, context, look(context.environment), _run_command)


def carry_out(options: argparse.Namespace, context: Context, machine: Machine, runner: Runner) -> int:
    """Show, ask, do; the exit status. The first command that fails ends it, and the same again goes on from there."""
    if options.with_readings and not options.remove:
        raise InputError("--with-readings deletes, and belongs to --remove.", hint="Say both, or neither.")
    try:
        refuse(machine, removing=options.remove, again=_again(options))
    except FermwatchError as error:
        if not options.dry_run:
            raise
        sheet.say(context, sheet.paragraph(f"It would be refused here: {error}", 80), "")
    machine = machine if options.remove else _placed(machine, options)
    steps = remove(machine, with_readings=options.with_readings) if options.remove else install(machine)
    if not steps:
        context.say("Nothing is left to do." if not options.remove else "Nothing of it is here.")
        return 0
    sheet.say(context, [clean(line, 400) for line in described(steps)])
    if options.dry_run:
        context.say("\nNothing was done: this is what would be.")
        return 0
    if options.remove and options.with_readings:
        context.say(f"\nAll readings and batches in {SYSTEM_STATE} are deleted by this. Backups elsewhere stay.")
    if not confirmed(context, "\nDo all this?", yes=options.yes):
        return 1
    for step in steps:
        context.say(f"  {step.shown}")
        runner(step)
    sheet.say(context, *_afterwards(machine, options))
    return 0


def _placed(machine: Machine, options: argparse.Namespace) -> Machine:
    """With the altitude in the configuration to begin with, where one is written: asked once, as it is kept there."""
    said = options.altitude
    if said is not None and CONFIG in machine.files:
        raise InputError(f"--altitude is for a new configuration: {CONFIG} is there.", hint="Say altitude_m in it.")
    if CONFIG in machine.files or machine.own is not None:
        return machine
    if said is None and at_a_terminal() and not options.yes and not options.dry_run:
        said = asked("How high above the sea is the place? In thin air beer holds less CO2. As 350m or 1100ft [0 m]:")
        said = said or "0m"
    altitude_m = 0.0 if said is None else amounts.metres(said, what="--altitude")
    if altitude_m < LOWEST_M:
        raise InputError(f"--altitude: {altitude_m:.0f} m is below any shore.", hint="Say it as 350m or 1100ft.")
    return replace(machine, first_text=at_altitude(machine.first_text, altitude_m))


def _again(options: argparse.Namespace) -> str:
    flags = [flag for flag, said in (("--remove", options.remove), ("--with-readings", options.with_readings)) if said]
    return " ".join(["init", *flags])


def _afterwards(machine: Machine, options: argparse.Namespace) -> Sequence[Sequence[str]]:
    if options.remove:
        kept = "" if options.with_readings else f" Readings stay in {SYSTEM_STATE}, the configuration in {CONFIG}."
        return (sheet.paragraph(f"The watcher is gone.{kept}", 80),)
    lines = ["The watcher runs. Next:"]
    if machine.person:
        lines.append(f"  log out and in, {machine.person}, so that your new groups hold")
    if machine.own is not None and "/home/" in machine.first_text:
        lines.append(f"  {CONFIG} names files in a home, where no service may go: move them to {CONFIG.parent}")
    return (
        [
            *lines,
            "  sudo fermwatch listen --write /etc/fermwatch/fermwatch.toml    your probes",
            "  sudo systemctl reload fermwatch                                the watcher takes them up",
            "  fermwatch check                                                is everything right?",
            "  fermwatch units us                                             if you read °F and gallons: once",
            "  fermwatch instrument narrow hydrometer --water-check 1.001     yours by name, with its error: once",
            "  fermwatch                                                      the dashboard",
        ],
    )


def _run_command(step: CommandStep) -> None:
    """FermwatchError where it fails, with what it said."""
    try:
        done = subprocess.run(
            step.command,
            input=step.text or "",
            capture_output=True,
            text=True,
            errors="replace",
            timeout=LIMIT_S,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise FermwatchError(f"{step.shown}: {clean(str(error), 200)}.", hint=_AGAIN) from error
    if done.returncode != 0:
        said = clean(done.stderr.strip().splitlines()[-1] if done.stderr.strip() else f"status {done.returncode}", 300)
        raise FermwatchError(f"{step.shown}: {said}", hint=_AGAIN)


_AGAIN = "What was done before it stays. Mend it, and run the same again: it goes on from there."
