"""How sure is a statistic, when repetitions belong to participants?"""

import numpy as np
from scipy.special import ndtr, ndtri

from condyle.mechanics.arrays import FloatArray, IntArray


def cluster_draws(clusters: int, draws: int, seed: int) -> FloatArray:
    """How often each participant is drawn in each bootstrap sample.

    A statistic of a sample is then the same formula with weights, for all samples at once; no pair leaves its person.

    clusters  : () [1] number of participants
    draws     : () [1] number of samples
    seed      : () [1] start of the random numbers
    returns   : (draws, clusters) [1] counts, each row sums to the number of participants
    undefined : no participant: an array without columns
    missing   : has none
    source    : cluster bootstrap, Davison & Hinkley 1997, Bootstrap Methods and their Application, 3.8
    """
    if clusters == 0:
        return np.zeros((draws, 0))
    counts = np.random.default_rng(seed).multinomial(clusters, np.full(clusters, 1 / clusters), size=draws)
    return counts.astype(float)


def jackknife_draws(clusters: int) -> FloatArray:
    """Weights that leave out one participant at a time.

    clusters  : () [1] number of participants
    returns   : (clusters, clusters) [1] ones, zeros on the diagonal
    undefined : nowhere
    missing   : has none
    source    : definition
    """
    return 1.0 - np.eye(clusters)


def bca_interval(value: FloatArray, replicates: FloatArray, jackknife: FloatArray, level: float = 0.95) -> FloatArray:
    """Bootstrap interval, corrected for bias and for a spread that changes with the value.

    value      : (...) [unit] statistic of the data
    replicates : (draws, ...) [unit] statistic of each bootstrap sample
    jackknife  : (clusters, ...) [unit] statistic without each participant
    level      : () [1] coverage
    returns    : (..., 2) [unit] lower and upper end
    undefined  : fewer than two participants, or a statistic undefined in the data or in over 5 % of the samples: NaN;
                 where the correction itself is undefined, the plain percentiles
    missing    : an undefined replicate is left out
    source     : Efron 1987, J Am Stat Assoc 82:171, with the participant as the unit left out
    """
    value, tail = np.asarray(value, dtype=float), (1 - level) / 2
    known = np.isfinite(replicates)
    enough = (known.mean(axis=0) >= 0.95) & np.isfinite(value) & (jackknife.shape[0] >= 2)
    share = (((replicates < value) & known).sum(axis=0) + 0.5 * (replicates == value).sum(axis=0)) / np.maximum(
        known.sum(axis=0), 1
    )
    inside = (share > 0) & (share < 1)
    shift = ndtri(np.where(inside, share, 0.5))
    mean = np.where(np.isfinite(jackknife), jackknife, 0).sum(axis=0) / np.maximum(
        np.isfinite(jackknife).sum(axis=0), 1
    )
    away = np.where(np.isfinite(jackknife), mean - jackknife, 0.0)
    spread = (away**2).sum(axis=0) ** 1.5
    skew = np.divide((away**3).sum(axis=0), 6 * spread, out=np.zeros_like(spread), where=spread > 0)
    ends = []
    for z in (ndtri(tail), ndtri(1 - tail)):
        shrink = 1 - skew * (shift + z)
        level_at = np.where(shrink > 0.1, ndtr(shift + (shift + z) / np.where(shrink > 0.1, shrink, 1.0)), ndtr(z))
        ends.append(_quantile(replicates, np.where(inside, level_at, ndtr(z))))
    return np.where(enough[..., None], np.stack(ends, axis=-1), np.nan)


def _quantile(replicates: FloatArray, level: FloatArray) -> FloatArray:
    ordered = np.sort(np.where(np.isfinite(replicates), replicates, np.nan), axis=0)  # NaN goes to the end
    last = np.maximum(np.isfinite(replicates).sum(axis=0) - 1, 0)
    place = np.clip(level * last, 0, last)
    below = np.floor(place).astype(np.int64)
    above = np.minimum(below + 1, last)
    low = np.take_along_axis(ordered, below[None], axis=0)[0]
    high = np.take_along_axis(ordered, above[None], axis=0)[0]
    return low + (high - low) * (place - below)  # type: ignore[no-any-return]


def share_interval(hit: FloatArray, cluster: IntArray, level: float = 0.95) -> FloatArray:
    """A share of repetitions with an interval that knows whose repetitions they are, also at 0 % and 100 %.

    hit       : (n) [1] 1 where it happened, else 0
    cluster   : (n) [1] participant of each, counted from 0
    level     : () [1] coverage
    returns   : (3) [1] share, lower, upper, within 0 .. 1
    undefined : no repetition: NaN; one participant: the share with NaN ends
    missing   : a NaN is left out
    source    : Wilson 1927, J Am Stat Assoc 22:209, on the effective number of repetitions (Kish 1965, Survey
                Sampling), between the number of participants and of repetitions; at 0 % and 100 %: participants (ours)
    """
    known = np.isfinite(hit)
    hit, (_, cluster) = hit[known], np.unique(cluster[known], return_inverse=True)
    n = hit.size
    if n == 0:
        return np.full(3, np.nan)
    people, share = int(cluster.max()) + 1, float(hit.mean())
    if people < 2:
        return np.array([share, np.nan, np.nan])
    effective = float(people)
    if 0 < share < 1:
        residual = np.bincount(cluster, weights=hit - share)
        variance = people / (people - 1) * float((residual**2).sum()) / n**2
        effective = float(np.clip(share * (1 - share) / variance, people, n)) if variance > 0 else float(n)
    z = float(ndtri((1 + level) / 2))
    middle = (share + z**2 / (2 * effective)) / (1 + z**2 / effective)
    half = z / (1 + z**2 / effective) * np.sqrt(share * (1 - share) / effective + z**2 / (4 * effective**2))
    return np.array([share, max(0.0, middle - half), min(1.0, middle + half)])
