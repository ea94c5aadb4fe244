"""Batches in figures: a line each, and two side by side."""

from fermwatch.contracts.feed import Snapshot
from fermwatch.contracts.figures import BatchFigures
from fermwatch.drawing.labelled import labelled
from fermwatch.drawing.lines import EMPTY, GAP, Line, Span, cells, cut, cut_line, wrap
from fermwatch.drawing.page import CURSOR, Drawn, Sheet, showable
from fermwatch.model import amounts
from fermwatch.saying import words
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice
from fermwatch.science.alcohol import abv_from_gravity

LABEL = 14
NARROW = 60  # cells: below, a batch has its name and its gravities alone
UNKNOWN = "-"
MARK = "*"  # what another is to be laid beside


def draw(batches: tuple[BatchFigures, ...], snapshot: Snapshot, sheet: Sheet, picked: int, marked: str) -> Drawn:
    """A line each. picked: the number under the cursor. marked: the batch that another is to be laid beside."""
    voice = sheet.voice(snapshot)
    rows = [_columns(one, voice, narrow=sheet.width < NARROW) for one in batches]
    widths = [max(cells(row[column]) for row in rows) for column in range(1, len(rows[0]))]
    name = max(sheet.width - CURSOR - 2 - sum(widths) - GAP * len(widths), 8)
    lines: list[Line] = [(Span(" " * CURSOR), Span("every batch, the newest first", Ink.FAINT)), EMPTY]
    owners = [-1, -1]
    for number, (one, row) in enumerate(zip(batches, rows, strict=True)):
        cursor = sheet.glyphs.cursor if number == picked else " "
        called = cut(row[0], name, voice.ellipsis)
        rest = (" " * GAP).join(
            f"{text}{' ' * (size - cells(text))}" for text, size in zip(row[1:], widths, strict=True)
        )
        mark = MARK if one.batch.id == marked else " "
        pad = " " * (name - cells(called) + GAP)
        ink = Ink.PLAIN if one.batch.ended_at is None else Ink.FAINT
        lines.append((Span(f"{cursor}{mark}", Ink.PICK), Span(called, Ink.STRONG), Span(f"{pad}{rest}", ink)))
        owners.append(number)
    beside = "* is marked: n or p to another, then v lays them side by side" if marked else "v lays two side by side"
    told = [EMPTY, *((Span(" " * CURSOR), Span(part, Ink.FAINT)) for part in wrap(beside, sheet.width - CURSOR - 1))]
    lines += told
    owners += [-1] * len(told)
    shown = showable([cut_line(line, sheet.width, voice.ellipsis) for line in lines], sheet)
    return Drawn(tuple(shown), tuple(owners), picked)


def _columns(one: BatchFigures, voice: Voice, *, narrow: bool) -> list[str]:
    local = voice.local(one.batch.pitched_at)
    came = f"{_gravity(one.batch.original_sg, voice)} {_gravity(one.last_sg, voice)}"
    if narrow:
        return [voice.text(one.batch.name, 60), came]
    return [
        voice.text(one.batch.name, 60),
        f"{local.day} {local:%b %Y}",
        came,
        _share(one.attenuation),
        voice.text(_where(one), 20),
    ]


def _where(one: BatchFigures) -> str:
    if one.batch.ended_at is not None:
        return "ended"
    return "in its package" if one.batch.packaged_at is not None else one.batch.vessel


def _gravity(gravity_sg: float | None, voice: Voice) -> str:
    return UNKNOWN if gravity_sg is None else voice.gravity(gravity_sg)


def _share(share: float | None) -> str:
    return UNKNOWN if share is None else f"{max(share, 0.0):.0%}"


def beside(batches: tuple[BatchFigures, ...], snapshot: Snapshot, sheet: Sheet) -> Drawn:
    """Two in two columns; where there is no room for them, a row each."""
    voice = sheet.voice(snapshot)
    told = [_figures(one, voice) for one in batches]
    size = (sheet.width - CURSOR - LABEL - GAP) // 2
    lines: list[Line] = []
    if size >= len("1.052 by hydrometer") and len(told) == 2:
        for (label, first), (_, second) in zip(*told, strict=True):
            parts = [wrap(text, size, 4) or [""] for text in (first, second)]
            ink = Ink.STRONG if label == "" else Ink.PLAIN
            for row in range(max(map(len, parts))):
                left, right = (part[row] if row < len(part) else "" for part in parts)
                pad = " " * (size - cells(left) + GAP)
                lines.append(
                    (Span(f"{label if not row else '':<{LABEL}}", Ink.FAINT), Span(f"{left}{pad}{right}", ink))
                )
    else:
        for one in told:
            lines += [(Span(one[0][1], Ink.STRONG),), *labelled(one[1:], sheet.width - CURSOR - 1), EMPTY]
    shown = showable([cut_line((Span(" " * CURSOR), *line), sheet.width, voice.ellipsis) for line in lines], sheet)
    return Drawn(tuple(shown), (-1,) * len(shown))


def _figures(one: BatchFigures, voice: Voice) -> list[tuple[str, str]]:
    batch, yeast = one.batch, one.batch.yeast
    local = voice.local(batch.pitched_at)
    alcohol = None if one.last_sg is None else abv_from_gravity(batch.original_sg, one.last_sg)
    return [
        ("", voice.text(batch.name, 60)),
        ("pitched", f"{local.day} {local:%b %Y}"),
        ("yeast", voice.text(yeast.name, 60)),
        ("its range", voice.temperature_range(yeast.temperature_low_c, yeast.temperature_high_c)),
        ("volume", voice.text(amounts.volume(batch.volume_l))),
        ("original", _gravity(batch.original_sg, voice)),
        ("last", _gravity(one.last_sg, voice)),
        ("attenuation", _share(one.attenuation)),
        ("alcohol", UNKNOWN if alcohol is None or alcohol < 0.0 else f"{alcohol:.1f} % by volume"),
        ("finished", UNKNOWN if one.days_to_end is None else f"after {words.days(one.days_to_end)}"),
        ("warmest", UNKNOWN if one.warmest_c is None else voice.temperature(one.warmest_c)),
        ("alarms", UNKNOWN if one.alarms is None else f"{one.alarms}"),
    ]
