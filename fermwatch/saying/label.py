"""What to write on a bottle or a keg, so that whoever finds it in a year knows what it is and how to treat it."""

from datetime import datetime

from fermwatch.brewing import too_early
from fermwatch.contracts.feed import InPackage
from fermwatch.model import amounts
from fermwatch.saying.in_package import date_words
from fermwatch.saying.voice import Voice
from fermwatch.science.alcohol import abv_from_gravity


def lines(one: InPackage, now: datetime, voice: Voice) -> list[str]:
    """A line each, as they would stand on it."""
    packaging, known, local = one.packaging, one.conditioning, voice.local(one.packaging.at)
    filled = f"{'kegged' if packaging.in_keg else 'bottled'} {local.day} {local:%b %Y}"
    holds = "" if packaging.volumes is None else f"{packaging.volumes:g} volumes"
    told = [
        voice.text(one.batch.name, 60),
        voice.dot.join(part for part in (_alcohol(one), filled, holds) if part),
    ]
    if known.peril is not None or too_early.is_so(packaging):
        return [*told, voice.text(f"May be too full. Keep near {too_early.NEAR_ZERO}; open cold, away from the face.")]
    if packaging.storage_c is not None:
        told.append(voice.text(f"Store below {amounts.temperature(packaging.storage_c, None)}."))
    if known.open_at is not None and known.open_at > now:
        told.append(f"Open no earlier than {date_words(known.open_at, now, voice).removeprefix('on ')}.")
    if known.best_until is not None:
        best = voice.local(known.best_until)
        told.append(f"Best until about {best.day} {best:%b %Y}.")
    return told


def _alcohol(one: InPackage) -> str:
    trend = one.judgement.trend if one.judgement is not None else None
    if trend is None:
        return ""
    last_sg = trend.gravity_sg if trend.measured_sg is None else trend.measured_sg
    return (
        f"{abv_from_gravity(one.batch.original_sg, last_sg):.1f} % alcohol" if last_sg < one.batch.original_sg else ""
    )
