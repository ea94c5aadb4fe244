"""Extract, gravity and density: SG 20/20, °Plato (= °Brix of sucrose, % by mass) and kg/m³ at a temperature.

Sources: NBS Circular C440 (Bates 1942) by its published cubic; ICUMSA SPS-4 density of sucrose solutions (Bubnik et
al., Sugar Technologists Manual, 1995); Kell's water density (J. Chem. Eng. Data 20, 1975). Beers fermented below
1.000 are covered down to SG 0.990, where the cubic and ICUMSA still agree to 0.004 °P.
"""

from fermwatch.science.numeric import Number, beside, derivative, newton, polynomial, sqrt, within

SG_LOW, SG_HIGH = 0.990, 1.17874
PLATO_LOW, PLATO_HIGH = -2.62, 40.01
REFERENCE_C = 20.0
OLD_REFERENCE_C = 15.56  # 60 °F, the scale of many hydrometers
WATER_DENSITY_20 = 998.203  # kg/m³, the figure of the brewing literature

NBS_CUBIC = (-669.56218, 1262.7794, -775.68212, 182.46007)
NBS_SLOPE = derivative(NBS_CUBIC)

_KELL_NUMERATOR = (999.83952, 16.952577, -7.9905127e-3, -46.241757e-6, 105.84601e-9, -281.03006e-12)
_KELL_DENOMINATOR = (1.0, 16.887236e-3)

_ICUMSA = (  # row k: the coefficients in (t - 20)/100 of what multiplies the k-th power of the mass fraction, from 1
    (385.1761, -46.2720, 59.7712, -47.2207, 18.3184),
    (135.3705, -7.1720, 7.2491, -21.6977, 12.3081),
    (40.9299, 1.1597, 12.3630, 27.6301),
    (-3.9643, 5.1126, -35.4791),
    (13.4853, 17.5254),
    (-17.2890, 0.0),
)


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

    return newton(start, step, steps=2)


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
    fraction = mass_pct / 100.0
    return water_density(temperature_c) + fraction * polynomial(_icumsa_at(temperature_c), fraction)


def relative_density(mass_pct: Number, temperature_c: Number, reference_c: float = REFERENCE_C) -> Number:
    """Return the solution's density at one temperature over water's at another: SG t/t0."""
    return sucrose_density(mass_pct, temperature_c) / water_density(reference_c)


def mass_pct_from_density(density_kg_m3: Number, temperature_c: Number) -> Number:
    """Return the extract, % by mass, of a solution of this density: `sucrose_density` solved for composition.

    Domain: what lies between -3 and 50 % and 0..100 °C, OutOfDomain outside.
    """
    excess = density_kg_m3 - water_density(temperature_c)
    within(excess, -25.0, 250.0, quantity="density above water's", unit="kg/m³")
    coefficients = _icumsa_at(temperature_c)
    slope_coefficients = [power * coefficient for power, coefficient in enumerate(coefficients, start=1)]

    def step(fraction: Number) -> tuple[Number, Number]:
        residual = fraction * polynomial(coefficients, fraction) - excess
        return residual, polynomial(slope_coefficients, fraction)

    first, second, third = coefficients[:3]
    root = sqrt(first * first + 4.0 * second * excess)
    by_quadratic = 2.0 * excess / (first + root)
    by_cubic = by_quadratic - third * by_quadratic * by_quadratic * by_quadratic / root
    solved = 100.0 * newton(by_cubic, step, steps=2)
    rounding = 1e-6
    return within(solved, -3.0 - rounding, 50.0 + rounding, quantity="extract", unit="% by mass")


def sg_between_scales(gravity_sg: Number, from_c: float, to_c: float) -> Number:
    """Carry a gravity from one scale to another, SG from_c/from_c to SG to_c/to_c, for the same solution.

    A hydrometer of 15.56 °C reads 1.04017 where one of 20 °C reads 1.03998: 0.05 °P at 10 °P.
    """
    mass_pct = mass_pct_from_density(gravity_sg * water_density(from_c), beside(from_c, gravity_sg))
    return relative_density(mass_pct, beside(to_c, gravity_sg), to_c)


def apparent_from_vacuum_sg(gravity_sg: Number) -> Number:
    """Return the SG weighed in air (the scale of the °Plato tables) of a true SG: 1e-4 more at 20 °P."""
    return gravity_sg + 0.0012036 * (gravity_sg - 1.0)


def _icumsa_at(temperature_c: Number) -> list[Number]:
    centered = (temperature_c - 20.0) / 100.0
    return [polynomial(row, centered) for row in _ICUMSA]


def _is_thousandfold(gravity_sg: object) -> bool:
    return isinstance(gravity_sg, (int, float)) and SG_LOW <= gravity_sg / 1000.0 <= SG_HIGH
