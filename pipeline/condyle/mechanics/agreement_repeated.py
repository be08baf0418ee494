"""How far apart are two ways of measuring, when each person gave several pairs?"""

import numpy as np
from scipy.special import ndtri

from condyle.mechanics.agreement import LIMIT
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.association import ratio


def within_and_between(difference: FloatArray, cluster: IntArray, cluster_weight: FloatArray) -> FloatArray:
    """Variance of differences within a person and between persons, by a one-way analysis of variance.

    difference     : (..., n) [unit] one measure minus the other
    cluster        : (n) [1] person of each pair, counted from 0
    cluster_weight : (..., g) [1] how often each person counts
    returns        : (..., 5) [unit, unit^2, unit^2, unit^2, 1] mean, variance within, variance between (0 where
                     negative), mean square between, lambda (pairs a person, in the sense of the method)
    undefined      : fewer than 2 persons: between NaN; no person with 2 pairs: within NaN
    missing        : a NaN makes it NaN
    source         : Bland & Altman 2007, J Biopharm Stat 17:571, section 3
    """
    people = cluster_weight.shape[-1]
    onto = (cluster[:, None] == np.arange(people)).astype(float)
    m = onto.sum(axis=0)
    mean = (difference @ onto) / np.where(m > 0, m, 1.0)
    inside = ((difference - mean[..., cluster]) ** 2) @ onto
    persons = np.asarray((cluster_weight * (m > 0)).sum(axis=-1))
    pairs = np.asarray((cluster_weight * m).sum(axis=-1))
    grand = ratio((cluster_weight * m * mean).sum(axis=-1), pairs)
    between = ratio((cluster_weight * m * (mean - grand[..., None]) ** 2).sum(axis=-1), persons - 1)
    within = ratio((cluster_weight * inside).sum(axis=-1), pairs - persons)
    size = ratio(pairs**2 - (cluster_weight * m**2).sum(axis=-1), (persons - 1) * pairs)
    of_persons = np.maximum(ratio(between - within, size), 0.0)
    parts = np.broadcast_arrays(grand, within, of_persons, between, size)
    return np.stack([np.asarray(part, dtype=float) for part in parts], axis=-1)


def limits_repeated(difference: FloatArray, cluster: IntArray, cluster_weight: FloatArray) -> FloatArray:
    """Bias, SD and limits of agreement for one pair of a new person, from several pairs a person.

    difference     : (..., n) [unit] one measure minus the other
    cluster        : (n) [1] person of each pair, counted from 0
    cluster_weight : (..., g) [1] how often each person counts
    returns        : (..., 4) [unit] bias, SD, lower limit, upper limit (bias -+ 1.96 SD)
    undefined      : fewer than 2 persons, or nobody with 2 pairs: SD and limits NaN
    missing        : a NaN makes it NaN
    source         : Bland & Altman 2007, section 3 (the true value may change between the pairs of a person)
    """
    parts = within_and_between(difference, cluster, cluster_weight)
    bias, sd = parts[..., 0], np.sqrt(parts[..., 1] + parts[..., 2])
    return np.stack([bias, sd, bias - LIMIT * sd, bias + LIMIT * sd], axis=-1)


def correlation_within(x: FloatArray, y: FloatArray, cluster: IntArray, cluster_weight: FloatArray) -> FloatArray:
    """Whether a person's repetitions with more of one measure have more of the other: persons' own means taken off.

    x              : (n) [unit] first measure
    y              : (n) [unit] second measure
    cluster        : (n) [1] person of each pair, counted from 0
    cluster_weight : (..., g) [1] how often each person counts
    returns        : (...) [1] -1 .. 1
    undefined      : no spread within persons: NaN
    missing        : a NaN makes it NaN
    source         : Bland & Altman 1995, BMJ 310:446
    """
    onto = (cluster[:, None] == np.arange(cluster_weight.shape[-1])).astype(float)
    m = np.maximum(onto.sum(axis=0), 1.0)
    a, b = (v - ((v @ onto) / m)[cluster] for v in (x, y))
    aa, bb, ab = (cluster_weight @ ((u * v) @ onto) for u, v in ((a, a), (b, b), (a, b)))
    tiny = 1e-12 * np.sqrt((x @ x) * (y @ y))  # what rounding leaves of constant repetitions is no spread
    return ratio(np.where(np.sqrt(aa * bb) > tiny, ab, np.nan), np.sqrt(aa * bb))


def people_for_limits(
    within: float, between: float, pairs_each: float, half_width: float, level: float = 0.95
) -> float:
    """How many persons, with several pairs each, give the limits of agreement an interval of a wanted width.

    within     : () [unit^2] variance of differences within a person
    between    : () [unit^2] variance of differences between persons
    pairs_each : () [1] pairs of each person
    half_width : () [unit] wanted half width of a limit's interval
    level      : () [1] coverage
    returns    : () [1] number of persons
    undefined  : a width of 0 or less: NaN
    missing    : a NaN makes it NaN
    source     : delta method on the moments of Bland & Altman 2007 (ours): Var(bias) = (B + W/m) / g;
                 Var(s^2) = 2 ((B + W/m)^2 / (g - 1) + (1 - 1/m)^2 W^2 / (g (m - 1))); Var(limit) = Var(bias) +
                 1.96^2 Var(s^2) / (4 s^2)
    """
    total, m = within + between, pairs_each
    if not np.isfinite(total) or not half_width > 0 or not total > 0:
        return float("nan")
    z = float(ndtri((1 + level) / 2))
    g = np.arange(2, 100_001, dtype=float)
    of_mean = between + within / m
    of_within = (1 - 1 / m) ** 2 * within**2 / (g * (m - 1)) if m > 1 else np.zeros_like(g)
    of_variance = 2 * (of_mean**2 / (g - 1) + of_within)
    half = z * np.sqrt(of_mean / g + LIMIT**2 * of_variance / (4 * total))
    enough = np.flatnonzero(half <= half_width)
    return float(g[enough[0]]) if enough.size else float("inf")
