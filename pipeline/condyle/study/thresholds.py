"""How well does a planar cut-off find the repetitions that lie beyond a stated 3D cut-off?"""

from dataclasses import dataclass

import numpy as np

from condyle.mechanics import roc
from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.study.settings import CutoffSetting
from condyle.study.statistics import Estimate, Sample, bootstrapped


@dataclass(frozen=True)
class Roc:
    """What the ROC figure needs."""

    threshold: FloatArray
    points: FloatArray  # (t, 2) sensitivity, specificity
    best: int
    given: FloatArray | None  # sensitivity, specificity at the screen's own cut-off
    words: str


OPTIMISM_DRAWS = 500  # bootstrap samples over which the optimism of the best threshold is averaged, at most (ours)


def threshold_statistics(
    sample: Sample,
    cutoff: CutoffSetting,
    screen: CutoffSetting | None,
    runs: str,
    draws: int,
    seed: int,
    level: float,
) -> tuple[list[Estimate], Roc | None, str]:
    """ROC of the planar value against the reference's cut-off: estimates, curve, and a sentence where there is none."""
    marked = sample.reference < cutoff.value if cutoff.beyond == "below" else sample.reference > cutoff.value
    count = int(marked.sum())
    which = f"{cutoff.measure} {'below' if cutoff.beyond == 'below' else 'above'} {cutoff.value:g} ({cutoff.source})"
    if count == 0 or count == marked.size:
        every = "every" if count else "no"
        return [], None, f"there is no ROC: {every} repetition has {which}; another cut-off is stated with --cutoff"
    # called where the planar value lies on the marked side: above, unless the two run opposite or 'marked' is below
    falls = (runs == "opposite") != (cutoff.beyond == "below")
    sign = -1.0 if falls else 1.0
    score = sign * sample.planar
    cut = roc.thresholds(score)
    points = roc.operating_points(score, marked, cut, np.ones(sample.pairs))
    best = int(roc.best_threshold(points))
    own = None if screen is None else sign * screen.value
    note = (
        f"marked: {which}; {count} of {marked.size} repetitions; called where the planar value is "
        f"{'at most' if falls else 'at least'}"
    )

    def all_of_it(weight: FloatArray, _people: FloatArray) -> dict[str, FloatArray]:
        out = {"auc": roc.area(score, marked, weight)}
        for label, at in (("best", cut[best]), ("given", own)):
            if at is not None:
                out |= _at(score, marked, float(at), weight, label)
        return out

    estimates = [
        Estimate(
            name, value, low, high, "cluster bootstrap, BCa, by participant" if np.isfinite(low) else "", "1", note
        )
        for name, (value, low, high) in bootstrapped(all_of_it, sample.person, draws, seed, level).items()
    ]
    estimates += _corrected(sample, score, marked, cut, points, best, draws, seed, note)
    estimates.append(Estimate("cutoff_reference", cutoff.value, unit="of the reference", note=cutoff.source))
    estimates.append(
        Estimate("threshold_best", sign * float(cut[best]), unit="of the planar measure", note="largest Youden index")
    )
    given = None
    if own is not None and screen is not None:
        estimates.append(Estimate("threshold_given", screen.value, unit="of the planar measure", note=screen.source))
        given = roc.operating_points(score, marked, np.array([own]), np.ones(sample.pairs))[0]
    return estimates, Roc(sign * cut, points, best, given, which), ""


def _at(
    score: FloatArray, marked: BoolArray, threshold: float, weight: FloatArray, label: str
) -> dict[str, FloatArray]:
    point = roc.operating_points(score, marked, np.array([threshold]), weight)[..., 0, :]
    ratios = roc.likelihood_ratios(point)
    return {
        f"sensitivity_{label}": point[..., 0],
        f"specificity_{label}": point[..., 1],
        f"likelihood_ratio_positive_{label}": ratios[..., 0],
        f"likelihood_ratio_negative_{label}": ratios[..., 1],
    }


def _corrected(
    sample: Sample,
    score: FloatArray,
    marked: BoolArray,
    cut: FloatArray,
    points: FloatArray,
    best: int,
    draws: int,
    seed: int,
    note: str,
) -> list[Estimate]:
    """Sensitivity and specificity of the best threshold, less what it gained by being chosen on these participants."""
    if sample.participants < 2:
        return []
    from condyle.mechanics.resampling import cluster_draws

    counts = cluster_draws(sample.participants, min(draws, OPTIMISM_DRAWS), seed)
    replicates = roc.operating_points(score, marked, cut, counts[:, sample.person])
    less = roc.optimism(points, replicates)
    corrected = np.clip(points[best] - less, 0.0, 1.0)
    ratios = roc.likelihood_ratios(corrected)
    names = ("sensitivity", "specificity", "likelihood_ratio_positive", "likelihood_ratio_negative")
    words = f"optimism {less[0]:.3f} and {less[1]:.3f} taken off by bootstrap; {note}"
    values = (*corrected, *ratios)
    return [Estimate(f"{n}_best_corrected", float(v), unit="1", note=words) for n, v in zip(names, values, strict=True)]
