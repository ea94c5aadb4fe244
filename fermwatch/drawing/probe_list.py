"""Every probe of a fermenter on a row of its own: what it says, how fresh that is, and where it comes from."""

from datetime import datetime

from fermwatch.contracts.feed import Freshness, ProbeView
from fermwatch.drawing.lines import Line, Span
from fermwatch.saying import words
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice


def probe_lines(probes: tuple[ProbeView, ...], now: datetime, voice: Voice) -> list[Line]:
    return [_probe(view, now, voice) for view in probes] or [(Span("none: name one in fermwatch.toml"),)]


def _probe(view: ProbeView, now: datetime, voice: Voice) -> Line:
    value = "-" if view.value is None else voice.quantity(view.probe.quantity, view.value)
    live = view.freshness is Freshness.LIVE and not view.flagged
    freshness = voice.text(words.freshness(view))
    about = voice.dot.join(
        voice.text(part) for part in (view.probe.slug, f"from {view.probe.source}", view.probe.placement) if part
    )
    mark = "  " if live else "! "
    return (
        Span(f"{mark}{words.QUANTITY_WORDS[view.probe.quantity]:<10}", Ink.PLAIN if live else Ink.WARNING),
        Span(f"{value:>9}  ", Ink.STRONG if live else Ink.FAINT),
        Span(f"{freshness:<16}  ", Ink.FAINT if live else Ink.WARNING),
        Span(about, Ink.FAINT),
        Span("" if live or view.at is None else f"{voice.dot}heard {words.moment(view.at, now, voice)}"),
    )
