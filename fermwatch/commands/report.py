"""`fermwatch report`: a batch on one page of HTML, for a screen and for paper."""

import argparse
import sys
from pathlib import Path

from fermwatch.commands import sheet
from fermwatch.commands.context import Context
from fermwatch.commands.site import find_batch, open_site
from fermwatch.commands.writing import refuse_what_is_there, written
from fermwatch.report.batch_page import batch_page
from fermwatch.report.story import read_story


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.epilog = "The page needs nothing beside it, and prints on A4. Ended batches have theirs too."
    parser.add_argument("batch", metavar="BATCH", help="identity, beginning of one, name or fermenter")
    parser.add_argument("file", nargs="?", type=Path, metavar="FILE.html", help="where to (standard output)")
    parser.add_argument("--overwrite", action="store_true", help="also over an earlier one")


def run(options: argparse.Namespace, context: Context) -> int:
    if options.file is not None:
        refuse_what_is_there([options.file], overwrite=options.overwrite)
    with open_site(context) as site:
        batch = find_batch(site, options.batch)
        story = read_story(site.reader, batch, site.now)
        page = batch_page(story, site.voice)
    if options.file is None:
        sys.stdout.write(page)
        return 0
    with written(options.file) as out:
        out.write(page)
    sheet.tell(context, f"{batch.name} on one page: {options.file}")
    return 0
