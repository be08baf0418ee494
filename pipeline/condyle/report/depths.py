"""How deep were the repetitions behind a mean? Depth drives FPPA, so unlike depths are told with the mean."""

import math
from typing import NamedTuple

import numpy as np
import pandas as pd

from condyle.report.legs import NOTHING, Estimate, Leg
from condyle.report.words import number

EQUAL_DEPTH_DEG = 5.0  # knee flexion at the bottom; beyond it only what is read at 60 degrees is compared


class Depths(NamedTuple):
    """Knee flexion at the bottom of the repetitions that count: least, most, and how far the bouts' means are apart [deg]."""

    least: float
    most: float
    between: float

    @property
    def unlike(self) -> bool:
        """Whether repetitions of one mean differ by more than may be compared bottom with bottom."""
        return self.most - self.least > EQUAL_DEPTH_DEG

    @property
    def pooled(self) -> bool:
        """Whether squats of unlike depth, from several bouts or trials, make one mean."""
        return self.between > EQUAL_DEPTH_DEG


def depths_of(leg: Leg) -> Depths:
    """The depths of a leg's repetitions; NaN where none was measured."""
    rows = _counted(leg, "knee_flexion_at_bottom")
    if not len(rows):
        return Depths(math.nan, math.nan, math.nan)
    means = rows.groupby(["trial", "bout"])["value"].mean()
    return Depths(float(rows["value"].min()), float(rows["value"].max()), float(means.max() - means.min()))


def to_60(leg: Leg, angle: str) -> Estimate:
    """Change of an angle from the start to 60 degrees of knee flexion: equal depth, in every repetition that reaches it."""
    start, there = (_counted(leg, f"{angle}_{end}") for end in ("at_start", "at_60_knee_flexion"))
    both = start.merge(there, on=["trial", "repetition"], suffixes=("_start", "_there"))
    if not len(both):
        return NOTHING
    change = float((both["value_there"] - both["value_start"]).mean())
    return Estimate(change, np.nan, np.nan, np.nan, len(both))


def pooled_words(leg: Leg) -> str:
    """A sentence on a mean over squats of unlike depth from several bouts or trials; empty where there is none such."""
    depths = depths_of(leg)
    if not depths.pooled:
        return ""
    reached, count = len(_counted(leg, "knee_flexion_at_60_knee_flexion")), len(leg.valid)
    return (
        f"The {leg.side} leg's repetitions come from squats of unlike depth ({number(depths.least, 0)} to "
        f"{number(depths.most, 0)} degrees of knee flexion at the bottom); {reached} of {count} reach 60 degrees."
    )


def _counted(leg: Leg, measure: str) -> pd.DataFrame:
    """The rows of a measure that have a value, of the repetitions that count."""
    rows = leg.values(measure)
    if not len(rows):
        return pd.DataFrame({name: [] for name in ("trial", "bout", "repetition", "value")})
    rows = rows[np.isfinite(rows["value"].to_numpy(dtype=float))]
    counted: pd.DataFrame = rows.merge(leg.valid[["trial", "repetition"]], on=["trial", "repetition"])
    return counted
