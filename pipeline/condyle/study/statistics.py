"""Every statistic of one pair of measures in one task, with its interval and the name of the formula behind it."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from condyle.mechanics import agreement, agreement_repeated, association, reliability
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.resampling import bca_interval, cluster_draws, jackknife_draws

BOOTSTRAP = "cluster bootstrap, BCa, by participant"
_CHUNK = 4_000_000  # numbers in one block of weights


@dataclass(frozen=True)
class Sample:
    """Paired values of one pair in one task; ``person`` numbers the participants from 0."""

    planar: FloatArray
    reference: FloatArray
    person: IntArray

    @property
    def pairs(self) -> int:
        """Number of pairs."""
        return int(self.planar.size)

    @property
    def participants(self) -> int:
        """Number of participants."""
        return int(self.person.max()) + 1 if self.person.size else 0

    @property
    def one_each(self) -> bool:
        """Whether every participant gave exactly one pair, so that the published formulas hold."""
        return self.pairs == self.participants


@dataclass(frozen=True)
class Estimate:
    """One row of agreement.csv."""

    statistic: str
    value: float
    lower: float = float("nan")
    upper: float = float("nan")
    interval: str = ""
    unit: str = ""
    note: str = ""


Statistics = Callable[[FloatArray, FloatArray], dict[str, FloatArray]]


def bootstrapped(
    statistics: Statistics, person: IntArray, draws: int, seed: int, level: float
) -> dict[str, tuple[float, float, float]]:
    """Value and BCa interval of each statistic; ``statistics`` takes weights of pairs and of participants."""
    people = int(person.max()) + 1
    plain = statistics(np.ones(person.size), np.ones(people))
    if people < 2:
        return {name: (float(value), np.nan, np.nan) for name, value in plain.items()}
    replicates = _in_chunks(statistics, person, cluster_draws(people, draws, seed))
    jackknife = _in_chunks(statistics, person, jackknife_draws(people))
    out = {}
    for name, value in plain.items():
        low, high = bca_interval(np.asarray(value), replicates[name], jackknife[name], level)
        out[name] = (float(value), float(low), float(high))
    return out


def _in_chunks(statistics: Statistics, person: IntArray, weights: FloatArray) -> dict[str, FloatArray]:
    size = max(1, _CHUNK // max(1, person.size))
    blocks = [weights[i : i + size] for i in range(0, len(weights), size)]
    parts = [statistics(block[:, person], block) for block in blocks]
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def pair_statistics(sample: Sample, unit: str, draws: int, seed: int, level: float) -> list[Estimate]:
    """Agreement, reliability and association of a pair whose values have one unit."""
    x, y, person = sample.planar, sample.reference, sample.person
    difference, mean, score = x - y, (x + y) / 2, np.stack([x, y], axis=1)

    def plain(weight: FloatArray, _people: FloatArray) -> dict[str, FloatArray]:
        limits = agreement.limits_of_agreement(difference, weight)
        squares = reliability.mean_squares(score, weight)
        icc, sem = reliability.intraclass(squares, 2), reliability.standard_error(squares, 2)
        growing = agreement.proportional_bias(difference, mean, weight)
        return {
            **_named(("bias", "sd_difference", "limit_lower", "limit_upper"), limits),
            "rmse": agreement.rmse(difference, weight),
            "proportional_bias": growing[..., 0],
            "concordance": association.concordance(x, y, weight),
            **_named(("icc_2_1", "icc_3_1"), icc[..., 1:]),
            **_named(("sem", "sem_agreement"), sem),
            **_named(("mdc95", "mdc95_agreement"), reliability.minimal_change(sem)),
        }

    def repeated(_weight: FloatArray, people: FloatArray) -> dict[str, FloatArray]:
        limits = agreement_repeated.limits_repeated(difference, person, people)
        parts = agreement_repeated.within_and_between(difference, person, people)
        names = ("bias_repeated", "sd_difference_repeated", "limit_lower_repeated", "limit_upper_repeated")
        spread = {"sd_within_repeated": np.sqrt(parts[..., 1]), "sd_between_repeated": np.sqrt(parts[..., 2])}
        return {**_named(names, limits), **spread}

    out = _estimates(plain, sample, draws, seed, level, _formulas(sample, level) if sample.one_each else {})
    if not sample.one_each:
        out += _estimates(repeated, sample, draws, seed, level, {})
    return [_with_unit(e, "1" if e.statistic in _PURE else unit) for e in out]


_PURE = {"proportional_bias", "concordance", "icc_2_1", "icc_3_1"}


def association_statistics(
    sample: Sample, units: tuple[str, str], draws: int, seed: int, level: float
) -> list[Estimate]:
    """Correlations, and the line that predicts the reference from the planar value."""
    x, y, person = sample.planar, sample.reference, sample.person

    def both(weight: FloatArray, people: FloatArray) -> dict[str, FloatArray]:
        fit = association.line(x, y, weight)
        out = {"pearson_r": association.pearson(x, y, weight), "spearman_rho": association.spearman(x, y, weight)}
        if not sample.one_each:
            out["pearson_r_repeated"] = agreement_repeated.correlation_within(x, y, person, people)
        return {**out, **_named(("slope", "intercept", "residual_sd"), fit)}

    formulas: dict[str, tuple[FloatArray, str]] = {}
    if sample.one_each:
        ones = np.ones(x.size)
        for name, r, ranks in (("pearson_r", association.pearson, False), ("spearman_rho", association.spearman, True)):
            words = "Bonett & Wright 2000" if ranks else "Fisher 1921"
            formulas[name] = association.correlation_interval(float(r(x, y, ones)), x.size, ranks, level), words
    out = _estimates(both, sample, draws, seed, level, formulas)
    half = association.prediction_half_width(x, y, np.array([x.mean()]), sample.participants, level)[0]
    words = "half the width of the prediction interval at the planar mean, for a new participant"
    out.append(Estimate("prediction_half_width", float(half), note=words))
    own = {"pearson_r": "1", "spearman_rho": "1", "pearson_r_repeated": "1", "slope": f"{units[1]}/{units[0]}"}
    return [_with_unit(e, own.get(e.statistic, units[1])) for e in out]


def _formulas(sample: Sample, level: float) -> dict[str, tuple[FloatArray, str]]:
    """The published intervals for pairs that do not depend on one another."""
    x, y, n = sample.planar, sample.reference, sample.pairs
    bias, sd, _, _ = agreement.limits_of_agreement(x - y, np.ones(n))
    ends = agreement.limits_intervals(float(sd), float(bias), n, level)
    squares = reliability.mean_squares(np.stack([x, y], axis=1), np.ones(n))
    icc = reliability.intraclass_intervals(squares, 2, level)
    sem = ends[1] / np.sqrt(2)  # with two methods the error's mean square is half the variance of the differences
    bland, shrout = "Bland & Altman 1986", "Shrout & Fleiss 1979; McGraw & Wong 1996"
    return {
        "bias": (ends[0], f"{bland}, t with s / sqrt(n)"),
        "sd_difference": (ends[1], "chi-square"),
        "limit_lower": (ends[2], f"{bland}, t with sqrt(3 s^2 / n)"),
        "limit_upper": (ends[3], f"{bland}, t with sqrt(3 s^2 / n)"),
        "concordance": (association.concordance_interval(x, y, level), "Lin 1989 with the correction of 2000"),
        "icc_2_1": (icc[1], shrout),
        "icc_3_1": (icc[2], shrout),
        "sem": (sem, "chi-square"),
        "mdc95": (reliability.minimal_change(sem), "chi-square"),
    }


def _estimates(
    statistics: Statistics,
    sample: Sample,
    draws: int,
    seed: int,
    level: float,
    formulas: dict[str, tuple[FloatArray, str]],
) -> list[Estimate]:
    out = []
    for name, (value, low, high) in bootstrapped(statistics, sample.person, draws, seed, level).items():
        words = BOOTSTRAP
        if name in formulas:
            (low, high), words = (float(end) for end in formulas[name][0]), formulas[name][1]
        known = bool(np.isfinite(low) and np.isfinite(high))
        out.append(Estimate(name, value, low, high, words if known else ""))
    return out


def _named(names: tuple[str, ...], values: FloatArray) -> dict[str, FloatArray]:
    return {name: values[..., i] for i, name in enumerate(names)}


def _with_unit(estimate: Estimate, unit: str) -> Estimate:
    return replace(estimate, unit=unit)
