"""Whether heat has an effect: a probe that fell out of its well reads plausible air while the belt goes on. Pure."""

from dataclasses import dataclass, replace

from fermwatch.control.thermostat import NEUTRAL_C, Felt
from fermwatch.model.degree import Output

WITHOUT_EFFECT_S = 45.0 * 60.0  # of heat: common practice, as is the rise
RISE_C = 0.2
ALIKE_C = 1.0  # beer and air: what is heated is warmer than its air
LONGEST_GAP_S = 120.0


@dataclass(frozen=True, slots=True)
class HeatEvidence:
    """heated_s: for how long there was heat since the beer was at `from_c`; alike_s: of that, while it read as its air.

    Only while the beer is colder than it should be: where heat just holds it, nothing rises. dropped: the heat stays
    off until a person looked and armed it anew.
    """

    heated_s: float = 0.0
    alike_s: float = 0.0
    from_c: float | None = None
    last_s: float | None = None
    dropped: bool = False


def heated(before: HeatEvidence, felt: Felt) -> HeatEvidence:
    """With what one more look shows."""
    if before.dropped:
        return before
    if felt.beer_c >= felt.target_c - NEUTRAL_C:
        return HeatEvidence(last_s=felt.now_s)
    dt_s = 0.0 if before.last_s is None else min(max(felt.now_s - before.last_s, 0.0), LONGEST_GAP_S)
    dt_s = dt_s if Output.HEAT in felt.on else 0.0
    alike = felt.air_c is not None and abs(felt.air_c - felt.beer_c) < ALIKE_C
    alike_s = before.alike_s + dt_s if alike else 0.0
    rose = before.from_c is None or felt.beer_c >= before.from_c + RISE_C
    after = HeatEvidence(
        0.0 if rose else before.heated_s + dt_s, alike_s, felt.beer_c if rose else before.from_c, felt.now_s
    )
    return replace(after, dropped=max(after.heated_s, after.alike_s) >= WITHOUT_EFFECT_S)
