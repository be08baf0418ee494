"""Agreement over the whole repetition: bias and limits at every percent, and how alike the courses are."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from condyle.mechanics.agreement_repeated import limits_repeated
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.curve_agreement import multiple_correlation, simultaneous_band
from condyle.mechanics.resampling import cluster_draws
from condyle.overridden import Trial
from condyle.study.doubles import KEYS
from condyle.study.statistics import Estimate

Key = tuple[str, ...]
COLUMNS = (
    "planar",
    "reference",
    "task",
    "percent",
    "bias",
    "bias_lower",
    "bias_upper",
    "limit_lower",
    "limit_upper",
    "unit",
)


@dataclass(frozen=True)
class CurvePair:
    """The agreement of two courses in one task."""

    planar: str
    reference: str
    task: str
    percent: FloatArray
    bias: FloatArray
    band: FloatArray  # (f, 2) for the whole mean course
    limits: FloatArray  # (f, 2)
    repetitions: int
    participants: int
    estimates: tuple[Estimate, ...]
    trials: tuple[Trial, ...] = ()

    def table(self) -> pd.DataFrame:
        """The bands as rows."""
        about = {"planar": self.planar, "reference": self.reference, "task": self.task, "percent": self.percent}
        values = [self.bias, self.band[:, 0], self.band[:, 1], self.limits[:, 0], self.limits[:, 1]]
        return pd.DataFrame({**about, **dict(zip(COLUMNS[4:9], values, strict=True)), "unit": "deg"})[list(COLUMNS)]


def reference_courses(curves: pd.DataFrame, name: str) -> dict[Key, FloatArray]:
    """Courses (101) of one curve by participant, session, trial, side, repetition, task."""
    if name not in curves.columns:
        return {}
    out = {}
    for key, rows in curves.groupby([*KEYS, "task"], sort=False):
        values = rows.sort_values("percent")[name].to_numpy(dtype=float)
        if values.size == 101:
            out[tuple(map(str, key))] = values
    return out


def curve_agreement(
    planar: Mapping[Key, FloatArray],
    reference: Mapping[Key, FloatArray],
    names: tuple[str, str],
    draws: int,
    seed: int,
    level: float,
) -> list[CurvePair]:
    """One result a task, from the repetitions that have both courses without a hole."""
    both = [k for k in planar if k in reference and np.isfinite(planar[k]).all() and np.isfinite(reference[k]).all()]
    out = []
    for task in dict.fromkeys(key[5] for key in both):
        keys = [key for key in both if key[5] == task]
        person = pd.factorize(np.array([key[0] for key in keys]))[0]
        people = int(person.max()) + 1
        if people < 2 or len(keys) < 3:
            continue
        x, y = (np.stack([courses[key] for key in keys]) for courses in (planar, reference))
        difference = (x - y).T
        of_all = np.ones(people)
        several = len(keys) > people
        limits = limits_repeated(difference, person, of_all) if several else _plain(difference)
        mean = difference.mean(axis=1)
        counts = cluster_draws(people, min(draws, 1000), seed)
        weight = counts[:, person]
        replicates = (weight @ difference.T) / weight.sum(axis=1, keepdims=True)
        band = simultaneous_band(mean, replicates, level)
        likeness = _likeness(x, y, [(key[0], key[3]) for key in keys])
        trials = tuple(dict.fromkeys((key[0], key[1], key[2]) for key in keys))
        bands = (np.arange(101.0), mean, band, limits[:, 2:4])
        out.append(CurvePair(*names, task, *bands, len(keys), people, likeness, trials))
    return out


def _plain(difference: FloatArray) -> FloatArray:
    from condyle.mechanics.agreement import limits_of_agreement

    return limits_of_agreement(difference, np.ones(difference.shape[-1]))


def _likeness(x: FloatArray, y: FloatArray, leg: list[tuple[str, str]]) -> tuple[Estimate, ...]:
    """Coefficient of multiple correlation per leg: median and quartiles over the legs; undefined ones are counted."""
    codes = pd.factorize(pd.Index(leg, tupleize_cols=True))[0]
    out = []
    for name, offset in (("cmc", False), ("cmc_without_offset", True)):
        values = np.array(
            [
                float(multiple_correlation(np.stack([x[codes == c], y[codes == c]], axis=1), offset))
                for c in np.unique(codes)
            ]
        )
        known = values[np.isfinite(values)]
        low, middle, high = np.quantile(known, [0.25, 0.5, 0.75]) if known.size else (np.nan,) * 3
        lost = (
            f"; undefined for {values.size - known.size}, where the courses lie further apart than they move"
            if known.size < values.size
            else ""
        )
        note = f"median over {values.size} legs, lower and upper are quartiles{lost}"
        out.append(Estimate(name, float(middle), float(low), float(high), "quartiles over legs", "1", note))
    return tuple(out)
