"""Plans for a kind of yeast (common practice): a beginning that people make their own."""

from fermwatch.model.plan import Plan, PlanStep, Until
from fermwatch.model.yeast import Yeast

RISE_C = 2.0
REST_C = 17.0
CRASH = PlanStep(2.0, Until(days=2.0))
HOT_FROM_C = 28.0  # where a farmhouse yeast begins that likes what others die of
TESTED = Until(steady=True, tested=True)


def usual_plan(yeast: Yeast) -> Plan:
    """What suits it, inside its own range but for a rest."""
    if yeast.bottom_fermenting:
        return _lager(yeast)
    if yeast.temperature_low_c >= HOT_FROM_C:
        return Plan((PlanStep(_into(yeast, 0.5), Until(steady=True)),), "hot-farmhouse")
    if yeast.diastatic:
        return _rising(yeast)
    return _ale(yeast)


def _ale(yeast: Yeast) -> Plan:
    """Cool at first, when most of the flavour is made; warmer for its end, tested, then cold."""
    target_c = _into(yeast, 1 / 3)
    warmer_c = min(target_c + RISE_C, max(yeast.temperature_high_c, target_c))
    return Plan((PlanStep(target_c, Until(way=0.6)), PlanStep(warmer_c, TESTED, 1.0), CRASH), "ale")


def _lager(yeast: Yeast) -> Plan:
    """A rest at 16 to 18 °C from 60 to 70 % of the way, at least three days; then cold by 2 °C a day."""
    rest_c = max(min(REST_C, yeast.temperature_high_c + 6.0), yeast.temperature_high_c)
    rest = PlanStep(rest_c, Until(steady=True, tested=True, days=3.0), RISE_C)
    cold = PlanStep(CRASH.target_c, CRASH.until, 2.0)
    return Plan((PlanStep(_into(yeast, 0.5), Until(way=0.65)), rest, cold), "lager")


def _rising(yeast: Yeast) -> Plan:
    """It goes on for weeks after it seems done: it is kept warm, and never made cold by a plan."""
    begin = PlanStep(_into(yeast, 0.3), Until(days=2.0))
    return Plan((begin, PlanStep(_into(yeast, 0.8), Until(steady=True, told=True), 1.0)), "rising")


def _into(yeast: Yeast, share: float) -> float:
    """So far into the yeast's range, to half a degree."""
    low_c, high_c = yeast.temperature_low_c, yeast.temperature_high_c
    return min(max(round((low_c + share * (high_c - low_c)) * 2) / 2, low_c), high_c)
