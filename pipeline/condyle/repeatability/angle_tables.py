"""What another placing does to angles: tables of turned segment axes, moved joint centres and standing angles."""

from collections.abc import Iterable

import numpy as np
import pandas as pd

from condyle.body_names import JOINT_ANGLES, JOINTS, SEGMENTS, SIDES
from condyle.files.limits import load_limits
from condyle.repeatability.pair import Pair

AXES_COLUMNS = (
    *("participant", "first", "second", "segment", "about", "turned_deg", "lower_deg", "upper_deg"),
    *("palpation_deg", "limit_deg", "verdict"),
)
ANGLE_COLUMNS = (
    *("participant", "first", "second", "side", "angle", "first_deg", "second_deg", "change_deg"),
    *("by_axes_deg", "palpation_deg", "limit_deg", "verdict"),
)
CENTRE_COLUMNS = (
    *("participant", "first", "second", "joint", "anterior_mm", "superior_mm", "right_mm", "distance_mm"),
    *("limit_mm", "verdict"),
)
ABOUT = ("anterior", "superior", "right")
_BY_DEFINITION = 1e-6  # the standing pelvis faces straight ahead in every session


def axes_table(pairs: Iterable[Pair]) -> pd.DataFrame:
    """How far the axes of each segment are turned against the first session's; review where that is sure and matters."""
    limit = load_limits("sessions_compared")["axes_review"].value
    rows = []
    for pair in pairs:
        for s, segment in enumerate(SEGMENTS):
            for a, about in enumerate(ABOUT):
                turn, within = float(pair.effects.turn[s, a]), float(pair.turn_within[s, a])
                if np.isnan(turn):
                    continue
                matters = abs(turn) > limit and abs(turn) > within
                numbers = (turn, turn - within, turn + within, float(pair.explained.turn[s, a]), limit)
                rows.append((*pair.key.values(), segment, about, *numbers, "review" if matters else "pass"))
    return _worst_first(pd.DataFrame(rows, columns=list(AXES_COLUMNS)), "turned_deg")


def centres_table(pairs: Iterable[Pair]) -> pd.DataFrame:
    """How far each joint centre lies, on its bone, from where the first session had it; worst first."""
    rows = []
    for pair in pairs:
        for joint, shift, limit in zip(JOINTS, pair.effects.joint, pair.explained.joint, strict=True):
            if np.isfinite(shift).all():
                distance = float(np.linalg.norm(shift))
                verdict = "review" if distance > limit else "pass"
                rows.append((*pair.key.values(), joint, *map(float, shift), distance, float(limit), verdict))
    return _worst_first(pd.DataFrame(rows, columns=list(CENTRE_COLUMNS)), "distance_mm")


def angles_table(pairs: Iterable[Pair]) -> pd.DataFrame:
    """Every standing angle in either session, and how much of the change the turned axes alone make."""
    limit = load_limits("sessions_compared")["standing_review"].value
    rows = []
    for pair in pairs:
        before, after = pair.first.standing.angle, pair.second.standing.angle
        for s, side in enumerate(SIDES):
            for k, angle in enumerate(JOINT_ANGLES):
                first, second = float(before[s, k]), float(after[s, k])
                change = second - first
                if np.isnan(change) or max(abs(first), abs(second)) < _BY_DEFINITION:
                    continue
                numbers = (
                    first,
                    second,
                    change,
                    float(pair.effects.angle[s, k]),
                    float(pair.explained.angle[s, k]),
                    limit,
                )
                verdict = "review" if abs(change) > limit else "pass"
                rows.append((*pair.key.values(), side, angle, *numbers, verdict))
    return _worst_first(pd.DataFrame(rows, columns=list(ANGLE_COLUMNS)), "change_deg")


def _worst_first(table: pd.DataFrame, column: str) -> pd.DataFrame:
    reviewed = (table["verdict"] != "review").to_numpy()
    order = np.lexsort((-table[column].abs().to_numpy(dtype=float), reviewed))
    return table.iloc[order].reset_index(drop=True)
