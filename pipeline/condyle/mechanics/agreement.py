"""How far apart are two ways of measuring the same thing?"""

import numpy as np
from scipy.special import chdtri, ndtri, stdtrit

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.association import line, moments, ratio

LIMIT = 1.96  # SDs between the bias and a limit of agreement


def limits_of_agreement(difference: FloatArray, weight: FloatArray) -> FloatArray:
    """Bias, SD and limits of agreement of differences.

    difference : (..., n) [unit] one measure minus the other
    weight     : (..., n) [1] how often each pair counts
    returns    : (..., 4) [unit] bias, SD (n - 1), lower limit, upper limit (bias -+ 1.96 SD)
    undefined  : fewer than 2 pairs: SD and limits NaN
    missing    : a NaN makes it NaN
    source     : Bland & Altman 1986, Lancet 327:307
    """
    number, bias, _, squares, _, _ = moments(difference, difference, weight)
    sd = np.sqrt(ratio(squares, number - 1))
    return np.stack([bias, sd, bias - LIMIT * sd, bias + LIMIT * sd], axis=-1)


def rmse(difference: FloatArray, weight: FloatArray) -> FloatArray:
    """Root mean square of differences.

    difference : (..., n) [unit] one measure minus the other
    weight     : (..., n) [1] how often each pair counts
    returns    : (...) [unit] at least 0
    undefined  : no pair: NaN
    missing    : a NaN makes it NaN
    source     : definition
    """
    square: FloatArray = np.einsum("...n,...n->...", weight, difference**2)
    return np.sqrt(ratio(square, weight.sum(axis=-1)))


def proportional_bias(difference: FloatArray, mean: FloatArray, weight: FloatArray) -> FloatArray:
    """How the difference grows with the size of what is measured.

    difference : (..., n) [unit] one measure minus the other
    mean       : (..., n) [unit] mean of both
    weight     : (..., n) [1] how often each pair counts
    returns    : (..., 3) [1, unit, unit] slope, intercept, SD about the line
    undefined  : all means equal: NaN
    missing    : a NaN makes it NaN
    source     : Bland & Altman 1999, Stat Methods Med Res 8:135, section 3.2
    """
    return line(mean, difference, weight)


def limits_intervals(sd: float, bias: float, n: int, level: float = 0.95) -> FloatArray:
    """Intervals of bias, SD and limits for pairs that do not depend on one another.

    sd        : () [unit] SD of the differences
    bias      : () [unit] mean of the differences
    n         : () [1] number of pairs
    level     : () [1] coverage
    returns   : (4, 2) [unit] lower and upper end for bias, SD, lower limit, upper limit
    undefined : fewer than 2 pairs: NaN
    missing   : a NaN makes it NaN
    source    : Bland & Altman 1986: t with standard errors s / sqrt(n) and sqrt(3 s^2 / n); SD from chi-square
    """
    if n < 2 or not np.isfinite(sd):
        return np.full((4, 2), np.nan)
    t = float(stdtrit(n - 1, (1 + level) / 2))
    of_bias, of_limit = t * sd / np.sqrt(n), t * sd * np.sqrt(3 / n)
    chi = np.array([chdtri(n - 1, (1 - level) / 2), chdtri(n - 1, (1 + level) / 2)])
    low, high = bias - LIMIT * sd, bias + LIMIT * sd
    return np.array(
        [
            [bias - of_bias, bias + of_bias],
            list(sd * np.sqrt((n - 1) / chi)),
            [low - of_limit, low + of_limit],
            [high - of_limit, high + of_limit],
        ]
    )


def pairs_for_limits(sd: float, half_width: float, level: float = 0.95) -> float:
    """How many independent pairs give the limits of agreement an interval of a wanted width.

    sd         : () [unit] SD of the differences
    half_width : () [unit] wanted half width of a limit's interval
    level      : () [1] coverage
    returns    : () [1] the smallest whole number n with z sqrt(3 s^2 / n) <= half width
    undefined  : a width of 0 or less: NaN
    missing    : a NaN makes it NaN
    source     : Bland & Altman 1986 (standard error sqrt(3 s^2 / n)), solved for n, with the normal quantile
    """
    if not np.isfinite(sd) or not half_width > 0:
        return float("nan")
    z = float(ndtri((1 + level) / 2))
    return float(max(2.0, np.ceil(3 * (z * sd / half_width) ** 2 - 1e-9)))
