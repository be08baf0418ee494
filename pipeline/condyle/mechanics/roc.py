"""How well does a cut-off on one measure find who lies beyond a cut-off on another?

A case is called where the score is at least the threshold; one that falls with the condition has its sign turned first.
"""

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.association import grouped, ratio


def area(score: FloatArray, positive: BoolArray, weight: FloatArray) -> FloatArray:
    """Area under the ROC curve: how often a positive scores above a negative, ties half.

    score     : (n) [unit] what is thresholded
    positive  : (n) [1] who has the condition
    weight    : (..., n) [1] how often each counts
    returns   : (...) [1] 0 .. 1
    undefined : no positive or no negative: NaN
    missing   : a NaN makes it NaN
    source    : Hanley & McNeil 1982, Radiology 143:29
    """
    if np.isnan(score).any():
        return np.full(weight.shape[:-1], np.nan)
    unique, place = np.unique(score, return_inverse=True)
    with_it, without = (grouped(weight * who, place, unique.size) for who in (positive, ~positive))
    below = np.cumsum(without, axis=-1) - without / 2
    return ratio((with_it * below).sum(axis=-1), with_it.sum(axis=-1) * without.sum(axis=-1))


def thresholds(score: FloatArray, at_most: int = 200) -> FloatArray:
    """Candidate thresholds: between neighbouring scores, and one beyond the largest.

    score     : (n) [unit] what is thresholded
    at_most   : () [1] with more scores than this, the candidates are spread evenly over them
    returns   : (t) [unit] ascending; the first calls everybody, the last nobody
    undefined : no score: empty
    missing   : a NaN is left out
    source    : ours
    """
    unique = np.unique(score[np.isfinite(score)])
    if unique.size == 0:
        return unique
    step = max(1e-9, 1e-6 * float(np.ptp(unique)))
    middle = (unique[1:] + unique[:-1]) / 2
    if middle.size > at_most:
        middle = middle[np.unique(np.linspace(0, middle.size - 1, at_most).round().astype(int))]
    return np.concatenate([[unique[0] - step], middle, [unique[-1] + step]])


def operating_points(score: FloatArray, positive: BoolArray, threshold: FloatArray, weight: FloatArray) -> FloatArray:
    """Sensitivity and specificity at thresholds.

    score     : (n) [unit] what is thresholded
    positive  : (n) [1] who has the condition
    threshold : (t) [unit] a case is called at or above it
    weight    : (..., n) [1] how often each counts
    returns   : (..., t, 2) [1] sensitivity, specificity
    undefined : no positive: sensitivity NaN; no negative: specificity NaN
    missing   : a NaN score is never called
    source    : definition
    """
    called = (score[:, None] >= threshold).astype(float)
    with_it, without = weight * positive, weight * ~positive
    found = ratio(with_it @ called, with_it.sum(axis=-1, keepdims=True))
    spared = ratio(without @ (1 - called), without.sum(axis=-1, keepdims=True))
    return np.stack([found, spared], axis=-1)


def likelihood_ratios(point: FloatArray) -> FloatArray:
    """By how much a call, and no call, changes the odds of the condition.

    point     : (..., 2) [1] sensitivity, specificity
    returns   : (..., 2) [1] positive and negative likelihood ratio
    undefined : a denominator of 0: inf, or NaN where the numerator is 0 too
    missing   : a NaN stays NaN
    source    : definition
    """
    sensitivity, specificity = point[..., 0], point[..., 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.stack([sensitivity / (1 - specificity), (1 - sensitivity) / specificity], axis=-1)


def best_threshold(points: FloatArray) -> FloatArray:
    """Which threshold has the largest Youden index, sensitivity + specificity - 1; the lowest of equals.

    points    : (..., t, 2) [1] sensitivity, specificity
    returns   : (...) [1] index of the threshold
    undefined : no positive or no negative: 0
    missing   : a NaN is never the best
    source    : Youden 1950, Cancer 3:32
    """
    index = points.sum(axis=-1)
    return np.asarray(np.argmax(np.where(np.isnan(index), -np.inf, index), axis=-1).astype(float), dtype=float)


def optimism(points: FloatArray, draws: FloatArray) -> FloatArray:
    """By how much the best threshold flatters itself, because it was chosen on the people it is judged on.

    points    : (t, 2) [1] sensitivity, specificity in the data
    draws     : (b, t, 2) [1] the same in bootstrap samples
    returns   : (2) [1] mean over the samples of: at the sample's own best threshold, in the sample minus in the data
    undefined : a sample without positives or negatives is left out; none left: NaN
    missing   : as undefined
    source    : Efron 1983, J Am Stat Assoc 78:316; Harrell et al. 1996, Stat Med 15:361
    """
    sound = np.isfinite(draws).all(axis=(-2, -1))
    if not sound.any():
        return np.full(2, np.nan)
    draws = draws[sound]
    own = best_threshold(draws).astype(int)
    apparent = draws[np.arange(draws.shape[0]), own]
    return np.asarray((apparent - points[own]).mean(axis=0))
