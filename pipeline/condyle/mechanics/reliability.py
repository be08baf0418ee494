"""How much of the spread lies between the targets, and how much between those who judged them?"""

import numpy as np
from scipy.special import fdtri

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.association import ratio


def mean_squares(score: FloatArray, weight: FloatArray) -> FloatArray:
    """Mean squares of a two-way analysis of variance, one score a cell.

    score     : (n, k) [unit] n targets by k judges
    weight    : (..., n) [1] how often each target counts
    returns   : (..., 5) [unit^2, unit^2, unit^2, unit^2, 1] between targets, between judges, error, within targets,
                number of targets
    undefined : fewer than 2 targets or judges: NaN
    missing   : a NaN makes it NaN
    source    : Shrout & Fleiss 1979, Psychol Bull 86:420, table 1
    """
    k = score.shape[-1]
    score = score - score.mean() if score.size else score
    n = weight.sum(axis=-1)
    safe = np.where(n > 1, n, np.nan)
    row = score.mean(axis=1)
    judge = (weight @ score) / safe[..., None]
    grand = judge.mean(axis=-1)
    total = weight @ (score**2).sum(axis=1) - safe * k * grand**2
    rows = k * (weight @ row**2 - safe * grand**2)
    judges = safe * ((judge - grand[..., None]) ** 2).sum(axis=-1)
    rows, error = np.maximum(rows, 0.0), np.maximum(total - rows - judges, 0.0)
    of_error = error / ((safe - 1) * (k - 1)) if k > 1 else np.full_like(safe, np.nan)
    of_judges = judges / (k - 1) if k > 1 else np.full_like(safe, np.nan)
    within = (judges + error) / (safe * (k - 1)) if k > 1 else np.full_like(safe, np.nan)
    return np.stack([rows / (safe - 1), of_judges, of_error, within, safe], axis=-1)


def intraclass(squares: FloatArray, judges: int) -> FloatArray:
    """Intraclass correlations of a single judge.

    squares   : (..., 5) [unit^2] as mean_squares returns them
    judges    : () [1] number of judges
    returns   : (..., 3) [1] ICC(1,1), ICC(2,1) absolute agreement, ICC(3,1) consistency; at most 1
    undefined : no spread at all: NaN
    missing   : a NaN makes it NaN
    source    : Shrout & Fleiss 1979
    """
    between, of_judges, error, within, n = np.moveaxis(squares, -1, 0)
    k = judges
    one = ratio(between - within, between + (k - 1) * within)
    two = ratio(between - error, between + (k - 1) * error + k * (of_judges - error) / n)
    three = ratio(between - error, between + (k - 1) * error)
    return np.stack([one, two, three], axis=-1)


def intraclass_intervals(squares: FloatArray, judges: int, level: float = 0.95) -> FloatArray:
    """Intervals of the intraclass correlations, for targets that do not depend on one another.

    squares   : (5) [unit^2] as mean_squares returns them
    judges    : () [1] number of judges
    level     : () [1] coverage
    returns   : (3, 2) [1] lower and upper end for ICC(1,1), ICC(2,1), ICC(3,1)
    undefined : no spread between targets or no error: NaN
    missing   : a NaN makes it NaN
    source    : Shrout & Fleiss 1979; ICC(2,1) as McGraw & Wong 1996, Psychol Methods 1:30, table 7
    """
    between, of_judges, error, within, n = (float(v) for v in squares)
    k, p = judges, (1 + level) / 2
    if not np.isfinite(between) or not (between > 0 and error > 0 and within > 0):
        return np.full((3, 2), np.nan)
    f1, f3 = between / within, between / error
    low1, high1 = f1 / fdtri(n - 1, n * (k - 1), p), f1 * fdtri(n * (k - 1), n - 1, p)
    low3, high3 = f3 / fdtri(n - 1, (n - 1) * (k - 1), p), f3 * fdtri((n - 1) * (k - 1), n - 1, p)
    two = float(intraclass(squares, k)[1])
    a = k * two / (n * (1 - two))
    b = 1 + k * two * (n - 1) / (n * (1 - two))
    v = (a * of_judges + b * error) ** 2 / ((a * of_judges) ** 2 / (k - 1) + (b * error) ** 2 / ((n - 1) * (k - 1)))
    f_low, f_high = fdtri(n - 1, v, p), fdtri(v, n - 1, p)
    shared = k * of_judges + (k * n - k - n) * error
    low2 = n * (between - f_low * error) / (f_low * shared + n * between)
    high2 = n * (f_high * between - error) / (shared + n * f_high * between)
    return np.array(
        [
            [(low1 - 1) / (low1 + k - 1), (high1 - 1) / (high1 + k - 1)],
            [low2, high2],
            [(low3 - 1) / (low3 + k - 1), (high3 - 1) / (high3 + k - 1)],
        ]
    )


def standard_error(squares: FloatArray, judges: int) -> FloatArray:
    """Standard error of one measurement: what remains beside the target's own value.

    squares   : (..., 5) [unit^2] as mean_squares returns them
    judges    : () [1] number of judges
    returns   : (..., 2) [unit] consistency (sqrt of the error's mean square), agreement (with the judges' variance)
    undefined : fewer than 2 targets or judges: NaN
    missing   : a NaN makes it NaN
    source    : McGraw & Wong 1996; Weir 2005, J Strength Cond Res 19:231; a negative
                variance of the judges counts as 0
    """
    _, of_judges, error, _, n = np.moveaxis(squares, -1, 0)
    between_judges = np.maximum((of_judges - error) / n, 0.0)
    return np.stack([np.sqrt(error), np.sqrt(error + between_judges)], axis=-1)


def minimal_change(sem: FloatArray) -> FloatArray:
    """The smallest change of one person that measurement error alone does not explain, at 95 %.

    sem       : (...) [unit] standard error of measurement
    returns   : (...) [unit] 1.96 sqrt(2) SEM
    undefined : nowhere
    missing   : a NaN stays NaN
    source    : Weir 2005
    """
    return np.asarray(1.96 * np.sqrt(2.0) * sem, dtype=float)


def kappa(table: FloatArray) -> FloatArray:
    """Agreement of two readings into the same categories, beyond chance.

    table     : (..., c, c) [1] counts, first reading by second
    returns   : (...) [1] at most 1
    undefined : an empty table, or both readings always the same single category: NaN
    missing   : a NaN makes it NaN
    source    : Cohen 1960, Educ Psychol Meas 20:37
    """
    number = table.sum(axis=(-2, -1))
    safe = np.where(number > 0, number, np.nan)
    seen = np.trace(table, axis1=-2, axis2=-1) / safe
    chance = (table.sum(axis=-1) * table.sum(axis=-2)).sum(axis=-1) / safe**2
    return ratio(seen - chance, np.where(np.abs(1 - chance) > 1e-12, 1 - chance, 0.0))
