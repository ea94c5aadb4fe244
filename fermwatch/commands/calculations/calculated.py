"""What a calculation answers: labelled rows, a short table, remarks and cautions; and the same figures as JSON."""

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from fermwatch.commands import sheet
from fermwatch.saying.voice import Voice

LABEL = 22


@dataclass(frozen=True, slots=True)
class Calculated:
    """figures: the numbers with their units in the names, always metric. header, body: of a table."""

    figures: Mapping[str, Any]
    pairs: Sequence[tuple[str, str]] = ()
    header: Sequence[str] = ()
    body: Sequence[Sequence[str]] = ()
    remarks: Sequence[str] = ()
    cautions: Sequence[str] = field(default=())

    def blocks(self, size: int, voice: Voice) -> list[list[str]]:
        """Lines of at most `size` characters, in blocks."""
        pairs = [(label, voice.text(value, sheet.LONG)) for label, value in self.pairs]
        remarks = (voice.text(text, sheet.LONG) for text in self.remarks)
        cautions = (voice.text(text, sheet.LONG) for text in self.cautions)
        return [
            sheet.rows(pairs, size, label=LABEL),
            sheet.table(self.header, self.body) if self.body else [],
            [line for text in remarks for line in sheet.paragraph(text, size)],
            [line for text in cautions for line in sheet.paragraph(text, size, mark="! ")],
        ]


def is_us(options: argparse.Namespace) -> bool:
    return bool(options.reader.fahrenheit)


def rounded(value: float, places: int = 4) -> float:
    """For JSON: without digits that mean nothing, and without a negative zero."""
    return round(value, places) + 0.0
