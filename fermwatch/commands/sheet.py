"""Plain text for one screenful: labelled rows, tables and paragraphs, without colour."""

import json
import sys
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from fermwatch.commands.context import Context
from fermwatch.drawing.lines import cells, glued, unglued
from fermwatch.model.amounts import plain_data
from fermwatch.saying.voice import to_ascii

GAP = 2
LABEL = 15
LONG = 2000  # characters of what fermwatch itself has to say at a time
WIDEST = 100

Pairs = Sequence[tuple[str, str]]


def say(context: Context, *blocks: Sequence[str] | str) -> None:
    """Blocks of lines, an empty line between them; in ASCII where the terminal has no more."""
    texts = ["\n".join([block] if isinstance(block, str) else block) for block in blocks]
    text = "\n\n".join(text for text in texts if text)
    context.say(to_ascii(text) if context.ascii_only else text)


def tell(context: Context, text: str) -> None:
    """A sentence or two: one line in a pipe; on a terminal broken between words."""
    say(context, paragraph(text, width(context)) if sys.stdout.isatty() else text)


def say_json(context: Context, plain: Mapping[str, Any]) -> None:
    """A document of the `--json` format, in canonical units whatever the reader's; what a terminal would act on, or a
    line would break at, is escaped.
    """
    from fermwatch.saying.for_programs import document

    told = plain_data(document(plain))
    text = json.dumps(told, indent=2, ensure_ascii=context.ascii_only, allow_nan=False)
    context.say("".join(sign if sign == "\n" or sign.isprintable() else json.dumps(sign)[1:-1] for sign in text))


def width(context: Context) -> int:
    return max(40, min(context.width, WIDEST))


def paragraph(text: str, size: int, *, mark: str = "") -> list[str]:
    """The text broken between words; a mark hangs before its first line."""
    lines = textwrap.wrap(
        glued(text),
        size,
        initial_indent=mark,
        subsequent_indent=" " * len(mark),
        break_on_hyphens=False,
    )
    return [unglued(line) for line in lines]


def rows(pairs: Pairs, size: int, *, label: int = LABEL) -> list[str]:
    """`label  value`, the value hanging under itself where it is long; a pair without value is left out."""
    lines: list[str] = []
    for name, value in pairs:
        if value:
            hanging = paragraph(value, size - label - GAP)
            lines += [f"{name if not index else '':<{label + GAP}}{line}" for index, line in enumerate(hanging)]
    return lines


def table(
    header: Sequence[str],
    body: Sequence[Sequence[str]],
    *,
    left: int = 1,
    remarks: int = 0,
    size: int | None = None,
) -> list[str]:
    """Columns as wide as what stands in them: the first `left` and last `remarks` to the left, numbers right.

    size: cells that there are; where that is too much, the widest columns hang under themselves, broken between words.
    """
    numbers = range(left, len(header) - remarks)
    widths = [max(cells(row[column]) for row in (header, *body)) for column in range(len(header))]
    if size is not None:
        widths = _narrowed(widths, [_longest_word(column) for column in zip(header, *body, strict=True)], size)
    lines = []
    for row in (header, *body):
        hanging = [paragraph(text, widest) or [""] for text, widest in zip(row, widths, strict=True)]
        for number in range(max(map(len, hanging))):
            texts = [column[number] if number < len(column) else "" for column in hanging]
            padded = (
                _padded(text, widest, to_left=index not in numbers)
                for index, (text, widest) in enumerate(zip(texts, widths, strict=True))
            )
            lines.append((" " * GAP).join(padded).rstrip())
    return lines


def _longest_word(column: Sequence[str]) -> int:
    return max(cells(word) for text in column for word in glued(text).split(" "))


def _narrowed(widths: Sequence[int], least: Sequence[int], size: int) -> list[int]:
    """The widest column gives way first, a cell at a time, and none below its longest word."""
    narrowed = list(widths)
    for _ in range(sum(widths) + GAP * (len(widths) - 1) - size):
        giving = [index for index, widest in enumerate(narrowed) if widest > least[index]]
        if not giving:
            break
        narrowed[max(giving, key=narrowed.__getitem__)] -= 1
    return narrowed


def _padded(text: str, size: int, *, to_left: bool) -> str:
    blanks = " " * (size - cells(text))
    return text + blanks if to_left else blanks + text


def counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
