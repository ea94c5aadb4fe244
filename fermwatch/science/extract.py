"""Extract, gravity and density: SG 20/20, °Plato (= °Brix of sucrose, % by mass) and kg/m³ at a temperature.

Sources: NBS Circular C440 (Bates 1942) by its published cubic; ICUMSA SPS-4 density of sucrose solutions (Bubnik et
al., Sugar Technologists Manual, 1995); Kell's water density (J. Chem. Eng. Data 20, 1975). Beers fermented below
1.000 are covered down to SG 0.990, where the cubic and ICUMSA still agree to 0.004 °P.
"""

from fermwatch.science.numeric import Number, derivative, like, newton, polynomial, within

SG_LOW, SG_HIGH = 0.990, 1.17874
PLATO_LOW, PLATO_HIGH = -2.62, 40.01
REFERENCE_C = 20.0
OLD_REFERENCE_C = 15.56  # 60 °F, the scale of many hydrometers
WATER_DENSITY_20 = 998.203  # kg/m³, the figure of the brewing literature

NBS_CUBIC = (-669.56218, 1262.7794, -775.68212, 182.46007)
NBS_SLOPE = derivative(NBS_CUBIC)

_KELL_NUMERATOR = (999.83952, 16.952577, -7.9905127e-3, -46.241757e-6, 105.84601e-9, -281.03006e-12)
_KELL_DENOMINATOR = (1.0, 16.887236e-3)

_ICUMSA = (  # row i: the coefficients in x = mass fraction of what multiplies ((t - 20)/100)^i
    (0.0, 385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890),
    (0.0, -46.2720, -7.1720, 1.1597, 5.1126, 17.5254),
    (0.0, 59.7712, 7.2491, 12.3630, -35.4791),
    (0.0, -47.2207, -21.6977, 27.6301),
    (0.0, 18.3184, 12.3081),
)
_ICUMSA_SLOPE = tuple(derivative(row) for row in _ICUMSA)


def sg_to_plato(gravity_sg: Number) -> Number:
    """Return °Plato of an apparent SG 20/20 (NBS cubic; 0.005 °P to 40 °P).

    Domain 0.990..1.17874, OutOfDomain outside. Water reads -0.005, which a display may show as 0.
    """
    hint = f"Did you mean {gravity_sg / 1000.0:.3f}?" if _is_thousandfold(gravity_sg) else ""
    within(gravity_sg, SG_LOW, SG_HIGH, quantity="gravity", unit="SG", hint=hint)
    return polynomial(NBS_CUBIC, gravity_sg)


def plato_to_sg(plato: Number) -> Number:
    """Return the apparent SG 20/20 of °Plato: the NBS cubic solved, so the exact inverse of `sg_to_plato`.

    Domain -2.62..40.01 °P, OutOfDomain outside.
    """
    within(plato, PLATO_LOW, PLATO_HIGH, quantity="extract", unit="°P")
    start = 1.0 + plato / (258.6 - 0.87955 * plato)

    def step(gravity_sg: Number) -> tuple[Number, Number]:
        return polynomial(NBS_CUBIC, gravity_sg) - plato, polynomial(NBS_SLOPE, gravity_sg)

    return newton(start, step, steps=3)


def water_density(temperature_c: Number) -> Number:
    """Return the density of air-free water at 1 atm, kg/m³ (Kell 1975; 0.005 kg/m³ of IAPWS-95 to 40 °C).

    Domain 0..100 °C, OutOfDomain outside.
    """
    within(temperature_c, 0.0, 100.0, quantity="temperature", unit="°C")
    return polynomial(_KELL_NUMERATOR, temperature_c) / polynomial(_KELL_DENOMINATOR, temperature_c)


def sucrose_density(mass_pct: Number, temperature_c: Number) -> Number:
    """Return the density of a sucrose solution (stands for wort), kg/m³ in vacuum (ICUMSA SPS-4).

    Domain 0..85 % by mass and 0..100 °C; as an agreed continuation -3..0 %, for beers below 1.000.
    """
    within(mass_pct, -3.0, 85.0, quantity="extract", unit="% by mass")
    return water_density(temperature_c) + _by_temperature(_ICUMSA, mass_pct, temperature_c)


def relative_density(mass_pct: Number, temperature_c: Number, reference_c: float = REFERENCE_C) -> Number:
    """Return the solution's density at one temperature over water's at another: SG t/t0."""
    return sucrose_density(mass_pct, temperature_c) / water_density(reference_c)


def mass_pct_from_density(density_kg_m3: Number, temperature_c: Number) -> Number:
    """Return the extract, % by mass, of a solution of this density: `sucrose_density` solved for composition.

    Domain: what lies between -3 and 85 % and 0..100 °C, OutOfDomain outside.
    """
    excess = density_kg_m3 - water_density(temperature_c)
    within(excess, -25.0, 500.0, quantity="density above water's", unit="kg/m³")

    def step(mass_pct: Number) -> tuple[Number, Number]:
        residual = _by_temperature(_ICUMSA, mass_pct, temperature_c) - excess
        return residual, _by_temperature(_ICUMSA_SLOPE, mass_pct, temperature_c) / 100.0

    solved = newton(0.2532 * excess - 6.4e-5 * excess * excess, step, steps=5)
    rounding = 1e-6
    return within(solved, -3.0 - rounding, 85.0 + rounding, quantity="extract", unit="% by mass")


def sg_between_scales(gravity_sg: Number, from_c: float, to_c: float) -> Number:
    """Carry a gravity from one scale to another, SG from_c/from_c to SG to_c/to_c, for the same solution.

    A hydrometer of 15.56 °C reads 1.04017 where one of 20 °C reads 1.03998: 0.05 °P at 10 °P.
    """
    mass_pct = mass_pct_from_density(gravity_sg * water_density(from_c), like(from_c, gravity_sg))
    return relative_density(mass_pct, like(to_c, gravity_sg), to_c)


def apparent_from_vacuum_sg(gravity_sg: Number) -> Number:
    """Return the SG weighed in air (the scale of the °Plato tables) of a true SG: 1e-4 more at 20 °P."""
    return gravity_sg + 0.0012036 * (gravity_sg - 1.0)


def _by_temperature(rows: tuple[tuple[float, ...], ...], mass_pct: Number, temperature_c: Number) -> Number:
    fraction = mass_pct / 100.0
    centered = (temperature_c - 20.0) / 100.0
    total = polynomial(rows[-1], fraction)
    for row in reversed(rows[:-1]):
        total = total * centered + polynomial(row, fraction)
    return total


def _is_thousandfold(gravity_sg: object) -> bool:
    return isinstance(gravity_sg, (int, float)) and SG_LOW <= gravity_sg / 1000.0 <= SG_HIGH
