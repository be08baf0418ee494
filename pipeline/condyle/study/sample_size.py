"""How many participants would give the limits of agreement an interval of a wanted width?"""

import numpy as np
import pandas as pd

from condyle.mechanics.agreement import limits_of_agreement, pairs_for_limits
from condyle.mechanics.agreement_repeated import people_for_limits, within_and_between
from condyle.study.statistics import Sample

ONE_EACH = "n = 3 (z s / h)^2, from SE = sqrt(3 s^2 / n) (Bland & Altman 1986); s SD of differences, h half width"
REPEATED = (
    "smallest g with z sqrt(V / g + 1.96^2 2 (V^2 / (g - 1) + (1 - 1/m)^2 W^2 / (g (m - 1))) / (4 (B + W))) <= "
    "h; V = B + W/m, "
    "B and W variances of differences between and within participants, m pairs each (delta method on Bland & "
    "Altman 2007; ours)"
)
COLUMNS = ("half_width", "pairs_each", "participants", "formula")


def sample_sizes(sample: Sample, half_widths: tuple[float, ...], level: float) -> pd.DataFrame:
    """A row per wanted half width and number of pairs each; with one pair each from the plain SD."""
    difference = sample.planar - sample.reference
    rows = []
    if sample.one_each:
        sd = float(limits_of_agreement(difference, np.ones(sample.pairs))[1])
        rows = [(h, 1.0, pairs_for_limits(sd, h, level), ONE_EACH) for h in half_widths]
    elif sample.participants > 1:
        _, within, between, _, each = within_and_between(difference, sample.person, np.ones(sample.participants))
        total = float(np.sqrt(within + between))
        for h in half_widths:
            rows.append((h, 1.0, pairs_for_limits(total, h, level), ONE_EACH))
            for m in sorted({5.0, float(np.round(each))} - {1.0}):
                rows.append((h, m, people_for_limits(float(within), float(between), m, h, level), REPEATED))
    return pd.DataFrame(rows, columns=list(COLUMNS))
