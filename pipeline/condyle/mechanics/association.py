"""How closely do two measures follow one another?

Weights are counts: 1 for the data themselves, and how often a pair was drawn in a bootstrap sample.
"""

import numpy as np
from scipy.special import ndtri, stdtrit

from condyle.mechanics.arrays import FloatArray, IntArray


def ratio(above: FloatArray, below: FloatArray) -> FloatArray:
    """A quotient that is NaN where its denominator is not above 0.

    above     : (...) [unit] numerator
    below     : (...) [unit] denominator
    returns   : (...) [1] quotient
    undefined : denominator 0 or negative: NaN
    missing   : a NaN makes it NaN
    source    : definition
    """
    above, below = np.broadcast_arrays(np.asarray(above, dtype=float), np.asarray(below, dtype=float))
    out: FloatArray = np.full(above.shape, np.nan)
    np.divide(above, below, out=out, where=below > 0)
    return out


def moments(x: FloatArray, y: FloatArray, weight: FloatArray) -> FloatArray:
    """Number of pairs, means, sums of squares about the means and of products.

    x         : (..., n) [unit] first measure
    y         : (..., n) [unit] second measure
    weight    : (..., n) [1] how often each pair counts
    returns   : (6, ...) [1, unit, unit, unit^2, unit^2, unit^2] number, mean x, mean y, S_xx, S_yy, S_xy
    undefined : no pair: means NaN
    missing   : a NaN makes its moments NaN
    source    : definition; about the plain mean first, so that a large offset costs no digits
    """
    x0, y0 = (v.mean(axis=-1, keepdims=True) if v.shape[-1] else np.zeros((*v.shape[:-1], 1)) for v in (x, y))
    a, b = x - x0, y - y0
    number = weight.sum(axis=-1)
    safe = np.where(number > 0, number, np.nan)
    mean_a, mean_b = (np.einsum("...n,...n->...", weight, v) / safe for v in (a, b))
    xx = np.einsum("...n,...n->...", weight, a * a) - safe * mean_a**2
    yy = np.einsum("...n,...n->...", weight, b * b) - safe * mean_b**2
    xy = np.einsum("...n,...n->...", weight, a * b) - safe * mean_a * mean_b
    tiny_x, tiny_y = (1e-12 * (v**2).sum(axis=-1) for v in (x, y))  # what rounding leaves of a constant is no variance
    xx, yy = np.where(xx > tiny_x, xx, 0.0 * xx), np.where(yy > tiny_y, yy, 0.0 * yy)
    parts = np.broadcast_arrays(number, mean_a + x0[..., 0], mean_b + y0[..., 0], xx, yy, xy)
    return np.stack([np.asarray(part, dtype=float) for part in parts])


def pearson(x: FloatArray, y: FloatArray, weight: FloatArray) -> FloatArray:
    """Product-moment correlation.

    x         : (..., n) [unit] first measure
    y         : (..., n) [unit] second measure
    weight    : (..., n) [1] how often each pair counts
    returns   : (...) [1] -1 .. 1
    undefined : one measure constant: NaN
    missing   : a NaN makes it NaN
    source    : Pearson 1895
    """
    _, _, _, xx, yy, xy = moments(x, y, weight)
    return ratio(xy, np.sqrt(xx * yy))


def spearman(x: FloatArray, y: FloatArray, weight: FloatArray) -> FloatArray:
    """Rank correlation; ties share their mean rank, and a pair drawn twice is tied with itself.

    x         : (n) [unit] first measure
    y         : (n) [unit] second measure
    weight    : (..., n) [1] how often each pair counts
    returns   : (...) [1] -1 .. 1
    undefined : one measure constant: NaN
    missing   : a NaN makes it NaN
    source    : Spearman 1904; mid-ranks
    """
    if np.isnan(x).any() or np.isnan(y).any():
        return np.full(weight.shape[:-1], np.nan)
    return pearson(_mid_ranks(x, weight), _mid_ranks(y, weight), weight)


def _mid_ranks(values: FloatArray, weight: FloatArray) -> FloatArray:
    unique, place = np.unique(values, return_inverse=True)
    here = grouped(weight, place, unique.size)
    ranks: FloatArray = (np.cumsum(here, axis=-1) - here / 2)[..., place]
    return ranks


def grouped(weight: FloatArray, group: IntArray, groups: int) -> FloatArray:
    """Sums of weights over groups.

    weight    : (..., n) [1] how often each counts
    group     : (n) [1] group of each, counted from 0; none is empty
    groups    : () [1] number of groups
    returns   : (..., groups) [1] sums
    undefined : no group: empty
    missing   : a NaN makes its group NaN
    source    : definition
    """
    if groups == 0:
        return np.zeros((*weight.shape[:-1], 0))
    order = np.argsort(group, kind="stable")
    starts = np.searchsorted(group[order], np.arange(groups))
    return np.asarray(np.add.reduceat(weight[..., order], starts, axis=-1), dtype=float)


def concordance(x: FloatArray, y: FloatArray, weight: FloatArray) -> FloatArray:
    """Lin's concordance: how close the pairs lie to the line of equality.

    x         : (..., n) [unit] first measure
    y         : (..., n) [unit] second measure
    weight    : (..., n) [1] how often each pair counts
    returns   : (...) [1] -1 .. 1
    undefined : both constant and equal: NaN
    missing   : a NaN makes it NaN
    source    : Lin 1989, Biometrics 45:255 (variances divided by n)
    """
    number, mean_x, mean_y, xx, yy, xy = moments(x, y, weight)
    return ratio(2 * xy, xx + yy + number * (mean_x - mean_y) ** 2)


def concordance_interval(x: FloatArray, y: FloatArray, level: float = 0.95) -> FloatArray:
    """Interval of Lin's concordance for pairs that do not depend on one another.

    x         : (n) [unit] first measure
    y         : (n) [unit] second measure
    level     : () [1] coverage
    returns   : (2) [1] lower and upper end
    undefined : fewer than 3 pairs, no correlation, or perfect agreement: NaN
    missing   : a NaN makes it NaN
    source    : Lin 1989, variance of the z-transform with the correction of 2000 (Biometrics 56:324)
    """
    ones = np.ones(x.shape)
    n, r, c = x.size, float(pearson(x, y, ones)), float(concordance(x, y, ones))
    if n < 3 or not np.isfinite(r * c) or r == 0 or abs(c) >= 1 - 1e-12:
        return np.full(2, np.nan)
    _, mean_x, mean_y, xx, yy, _ = moments(x, y, ones)
    u2 = float((mean_x - mean_y) ** 2 / np.sqrt(xx * yy / n**2))
    rest = 1 - c**2
    variance = (1 - r**2) * c**2 / (rest * r**2) + 2 * c**3 * (1 - c) * u2 / (r * rest**2)
    variance = (variance - c**4 * u2**2 / (2 * r**2 * rest**2)) / (n - 2)
    half = float(ndtri((1 + level) / 2)) * np.sqrt(max(variance, 0.0))
    return np.asarray(np.tanh(np.arctanh(c) + np.array([-half, half])), dtype=float)


def correlation_interval(r: float, n: int, ranks: bool = False, level: float = 0.95) -> FloatArray:
    """Interval of a correlation for pairs that do not depend on one another.

    r         : () [1] correlation
    n         : () [1] number of pairs
    ranks     : () [1] whether it is Spearman's
    level     : () [1] coverage
    returns   : (2) [1] lower and upper end
    undefined : fewer than 4 pairs, or |r| = 1: NaN
    missing   : a NaN makes it NaN
    source    : Fisher 1921; for ranks Bonett & Wright 2000, Psychometrika 65:23
    """
    if n < 4 or not np.isfinite(r) or abs(r) >= 1 - 1e-12:
        return np.full(2, np.nan)
    spread = np.sqrt((1 + r**2 / 2 if ranks else 1.0) / (n - 3))
    half = float(ndtri((1 + level) / 2)) * spread
    return np.asarray(np.tanh(np.arctanh(r) + np.array([-half, half])), dtype=float)


def line(x: FloatArray, y: FloatArray, weight: FloatArray) -> FloatArray:
    """The least-squares line that predicts y from x.

    x         : (..., n) [unit_x] what is known
    y         : (..., n) [unit_y] what is predicted
    weight    : (..., n) [1] how often each pair counts
    returns   : (..., 3) [unit_y/unit_x, unit_y, unit_y] slope, intercept, SD about the line (n - 2)
    undefined : x constant: NaN; two pairs or fewer: SD NaN
    missing   : a NaN makes it NaN
    source    : definition
    """
    number, mean_x, mean_y, xx, yy, xy = moments(x, y, weight)
    slope = ratio(xy, xx)
    about = np.maximum(yy - slope * xy, 0.0)
    sd = np.sqrt(ratio(np.where(np.isnan(slope), np.nan, about), np.maximum(number - 2, 0)))
    return np.stack([slope, mean_y - slope * mean_x, sd], axis=-1)


def prediction_half_width(x: FloatArray, y: FloatArray, at: FloatArray, people: int, level: float = 0.95) -> FloatArray:
    """How far a new person's value may lie from the line, at given values of x.

    x         : (n) [unit_x] what is known
    y         : (n) [unit_y] what is predicted
    at        : (m) [unit_x] where to predict
    people    : () [1] number of participants: they, not the repetitions, give the degrees of freedom
    level     : () [1] coverage
    returns   : (m) [unit_y] half the width of the prediction interval
    undefined : x constant, fewer than 3 participants: NaN
    missing   : a NaN makes it NaN
    source    : the textbook formula where each person has one pair; else participants instead of pairs as degrees of
                freedom and as number behind the line (ours)
    """
    ones = np.ones(x.shape)
    number, mean_x, _, xx, _, _ = moments(x, y, ones)
    if people < 3 or not xx > 0:
        return np.full(np.shape(at), np.nan)
    sd = float(line(x, y, ones)[2])
    scale = number / people  # repetitions of one person are taken as one piece of knowledge on where the line lies
    t = float(stdtrit(people - 2, (1 + level) / 2))
    return np.asarray(t * sd * np.sqrt(1 + scale * (1 / number + (at - mean_x) ** 2 / xx)))
