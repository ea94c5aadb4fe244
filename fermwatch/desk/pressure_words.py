"""What is said of CO2, pressure and chance, wherever a package is reckoned."""

from fermwatch.science.carbonation import ResidualCo2
from fermwatch.science.pressure_risk import PressureRisk

CHANCE = "The chance is that a bottle exceeds its limit, not that it bursts: a scratched one may burst below it."
AIR = "CO2 from a cylinder fills a closed room: ventilate it, and keep your head out of a chest freezer."
PAST_SIX = "may pass 6 volumes, beyond any package"


def chance_words(risk: PressureRisk) -> str:
    chance = risk.chance_over_limit
    if chance < 0.0001:
        return "below 0.01 %"
    if chance > 0.99:
        return "above 99 %"
    return f"{chance:.0%}".replace("%", " %") if chance > 0.1 else f"{100.0 * chance:.2g} %"


def held_words(held: ResidualCo2) -> str:
    """What beer holds before the sugar."""
    return f"{held.low:.2f} to {held.high:.2f} volumes, sugar reckoned on {held.middle:.2f}"
