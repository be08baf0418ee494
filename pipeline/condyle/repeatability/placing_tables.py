"""Tables of sessions laid on each other: landmarks, distances between them, and a row for each pair."""

from collections.abc import Iterable
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd
from scipy.stats import norm

from condyle.body_names import LANDMARK_SEGMENT, SIDES
from condyle.files.limits import load_limits
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.bone_alignment import spread
from condyle.repeatability.pair import Pair
from condyle.repeatability.palpation import NORMAL_95, leg_lengths

LANDMARK_COLUMNS = (
    *("participant", "first", "second", "tester_first", "tester_second", "segment", "landmark"),
    *("anterior_mm", "superior_mm", "right_mm", "distance_mm", "limit_mm", "directions", "or_else", "verdict"),
)
DISTANCE_COLUMNS = (
    *("participant", "first", "second", "segment", "from", "to", "first_mm", "second_mm", "change_mm", "limit_mm"),
    "verdict",
)
_WORST = {"review": 0, "not told": 1, "pass": 2}


def landmarks_table(pairs: Iterable[Pair]) -> pd.DataFrame:
    """How far each landmark lies from where all others put it, worst first."""
    rows = [row for pair in pairs for row in _landmarks(pair)]
    table = pd.DataFrame(rows, columns=list(LANDMARK_COLUMNS))
    share = (table["distance_mm"] / table["limit_mm"]).fillna(0.0).astype(float)
    order = np.lexsort((-share.to_numpy(), table["verdict"].map(_WORST).to_numpy(dtype=float)))
    return table.iloc[order].reset_index(drop=True)


def _landmarks(pair: Pair) -> list[dict[str, Any]]:
    found = pair.found
    out = []
    for k, name in enumerate(pair.names):
        moved = k in found.moved
        told = found.told.directions[k] > 0
        shift = pair.displacement[k] if told else np.full(3, np.nan)
        out.append(
            {
                **pair.key,
                "tester_first": pair.first.tester,
                "tester_second": pair.second.tester,
                "segment": LANDMARK_SEGMENT[name],
                "landmark": name,
                **dict(zip(("anterior_mm", "superior_mm", "right_mm"), map(float, shift), strict=True)),
                "distance_mm": float(np.linalg.norm(shift)),
                "limit_mm": float(pair.limit[k]) if told else np.nan,
                "directions": int(found.told.directions[k]),
                "or_else": ";".join(pair.names[j] for j in found.or_else.get(k, {})),
                "verdict": "review" if moved else "pass" if told else "not told",
            }
        )
    return out


def distances_table(pairs: Iterable[Pair]) -> pd.DataFrame:
    """Distances between the landmarks of a segment, and thigh and shank length, in either session; worst first."""
    rows = [row for pair in pairs for row in _distances(pair)]
    table = pd.DataFrame(rows, columns=list(DISTANCE_COLUMNS))
    share = (table["change_mm"].abs() / table["limit_mm"]).fillna(0.0).astype(float)
    return table.iloc[np.argsort(-share.to_numpy(), kind="stable")].reset_index(drop=True)


def _distances(pair: Pair) -> list[dict[str, Any]]:
    one, other = pair.first.standing, pair.second.standing
    variance = spread(pair.two, 1.0)
    found: list[tuple[str, str, str, float, float, float]] = []
    for i, j in combinations(range(len(pair.names)), 2):
        if pair.two.bone[i] != pair.two.bone[j]:
            continue
        along = pair.two.first[j] - pair.two.first[i]
        length = float(np.linalg.norm(along))
        later = float(np.linalg.norm(pair.two.second[j] - pair.two.second[i]))
        sd = _sd_along(along / max(length, 1.0), variance[i] + variance[j])
        found.append((LANDMARK_SEGMENT[pair.names[i]], pair.names[i], pair.names[j], length, later, sd))
    before, after = leg_lengths(one.joint), leg_lengths(other.joint)
    for s, side in enumerate(SIDES):
        for k, (segment, above, below) in enumerate((("thigh", "hip", "knee"), ("shank", "knee", "ankle"))):
            t = f"_{side[0]}"
            sd = float(pair.explained.leg[s, k]) / NORMAL_95
            found.append((segment + t, above + t, below + t, float(before[s, k]), float(after[s, k]), sd))
    known = [f for f in found if np.isfinite(f[3:]).all()]
    share = load_limits("sessions_compared")["false_alarm_share"].value
    beyond = norm.isf((1.0 - (1.0 - share) ** (1.0 / max(len(known), 1))) / 2.0)
    out = []
    for segment, a, b, length, later, sd in known:
        changed = abs(later - length) > beyond * sd
        values = dict(zip(DISTANCE_COLUMNS[3:6], (segment, a, b), strict=True))
        numbers = {"first_mm": length, "second_mm": later, "change_mm": later - length, "limit_mm": beyond * sd}
        out.append({**pair.key, **values, **numbers, "verdict": "review" if changed else "pass"})
    return out


def _sd_along(direction: FloatArray, covariance: FloatArray) -> float:
    return float(np.sqrt(direction @ covariance @ direction))
