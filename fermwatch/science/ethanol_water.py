"""Density of ethanol-water mixtures, and % by mass against % by volume at 20 °C.

Source: OIML R 22 (1975), International Alcoholometric Tables, the same formula as Council Directive 76/766/EEC.
Copies circulate with a misprinted C[2][3]; the one here reproduces the printed tables to 0.005 kg/m³.
"""

from fermwatch.science.numeric import Number, derivative, newton, polynomial, within

_ROUNDING = 1e-9
_AT_20_C = (
    9.982012300e2,
    -1.929769495e2,
    3.891238958e2,
    -1.668103923e3,
    1.352215441e4,
    -8.829278388e4,
    3.062874042e5,
    -6.138381234e5,
    7.470172998e5,
    -5.478461354e5,
    2.234460334e5,
    -3.903285426e4,
)
ETHANOL_DENSITY_20 = sum(_AT_20_C)  # kg/m³, 789.24
_WATER = (0.0, -2.0618513e-1, -5.2682542e-3, 3.6130013e-5, -3.8957702e-7, 7.1693540e-9, -9.9739231e-11)
_CROSS = (  # row i: the coefficients in p = mass fraction of what multiplies (t - 20)^(i + 1)
    (
        0.0,
        1.693443461530087e-1,
        -1.046914743455169e1,
        7.196353469546523e1,
        -7.047478054272792e2,
        3.924090430035045e3,
        -1.210164659068747e4,
        2.248646550400788e4,
        -2.605562982188164e4,
        1.852373922069467e4,
        -7.420201433430137e3,
        1.285617841998974e3,
    ),
    (
        0.0,
        -1.193013005057010e-2,
        2.517399633803461e-1,
        -2.170575700536993,
        1.353034988843029e1,
        -5.029988758547014e1,
        1.096355666577570e2,
        -1.422753946421155e2,
        1.080435942856230e2,
        -4.414153236817392e1,
        7.442971530188783,
    ),
    (
        0.0,
        -6.802995733503803e-4,
        1.876837790289664e-2,
        -2.002561813734156e-1,
        1.022992966719220,
        -2.895696483903638,
        4.810060584300675,
        -4.672147440794683,
        2.458043105903461,
        -5.411227621436812e-1,
    ),
    (0.0, 4.075376675622027e-6, -8.763058573471110e-6, 6.515031360099368e-6, -1.515784836987210e-6),
    (0.0, -2.788074354782409e-8, 1.345612883493354e-8),
)
_VOLUME_PCT_BY_FRACTION = tuple(100.0 * a / ETHANOL_DENSITY_20 for a in (0.0, *_AT_20_C))
_VOLUME_PCT_SLOPE = derivative(_VOLUME_PCT_BY_FRACTION)


def density(abw_pct: Number, temperature_c: Number) -> Number:
    """Return kg/m³ of a mixture of `abw_pct` % ethanol by mass.

    Domain 0..100 % and -20..40 °C, OutOfDomain outside.
    """
    within(abw_pct, 0.0, 100.0 + _ROUNDING, quantity="ethanol", unit="% by mass")
    within(temperature_c, -20.0, 40.0, quantity="temperature", unit="°C")
    fraction, above_20 = abw_pct / 100.0, temperature_c - 20.0
    cross = 0.0 * above_20
    for row in reversed(_CROSS):
        cross = (cross + polynomial(row, fraction)) * above_20
    return polynomial(_AT_20_C, fraction) + polynomial(_WATER, above_20) + cross


def density_abv(abv_pct: Number, temperature_c: Number) -> Number:
    """Return kg/m³ of a mixture of `abv_pct` % ethanol by volume at 20 °C; domain as `density`."""
    return density(abv_to_abw(abv_pct), temperature_c)


def abw_to_abv(abw_pct: Number) -> Number:
    """Return % by volume at 20 °C of % by mass, in a mixture without extract; domain 0..100 %."""
    within(abw_pct, 0.0, 100.0 + _ROUNDING, quantity="ethanol", unit="% by mass")
    return polynomial(_VOLUME_PCT_BY_FRACTION, abw_pct / 100.0)


def abv_to_abw(abv_pct: Number) -> Number:
    """Return % by mass of % by volume at 20 °C: the exact inverse of `abw_to_abv`; domain 0..100 %."""
    within(abv_pct, 0.0, 100.0 + _ROUNDING, quantity="ethanol", unit="% by volume")

    def step(fraction: Number) -> tuple[Number, Number]:
        return (
            polynomial(_VOLUME_PCT_BY_FRACTION, fraction) - abv_pct,
            polynomial(_VOLUME_PCT_SLOPE, fraction),
        )

    return 100.0 * newton(abv_pct / (126.4 - 0.264 * abv_pct), step, steps=5)
