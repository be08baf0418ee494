"""A row for each two sessions compared: what was found, in one line."""

from collections.abc import Iterable

import numpy as np
import pandas as pd

from condyle.body_names import CONTRACT_ANGLES, JOINT_ANGLES, SEGMENTS, SIDES
from condyle.repeatability.angle_tables import ABOUT, angles_table
from condyle.repeatability.pair import Pair
from condyle.repeatability.placing_tables import distances_table

COMPARED_COLUMNS = (
    *("participant", "first", "second", "tester_first", "tester_second", "landmarks", "spread", "moved"),
    *("turned_segment", "turned_about", "turned_deg", "shifted_angle", "shifted_side", "shifted_deg"),
    *("standing_changed", "distances_changed", "verdict"),
)


def summary_table(pairs: Iterable[Pair]) -> pd.DataFrame:
    """How many landmarks, how far apart, which moved; the axes turned and the angle shifted most; what is to be seen."""
    rows = []
    for pair in pairs:
        turn = np.abs(np.nan_to_num(pair.effects.turn))
        s, a = (int(i) for i in np.unravel_index(int(turn.argmax()), turn.shape))
        shift = np.abs(np.nan_to_num(pair.effects.angle[:, : len(CONTRACT_ANGLES)]))
        side, k = (int(i) for i in np.unravel_index(int(shift.argmax()), shift.shape))
        rows.append(
            (
                *pair.key.values(),
                *(pair.first.tester, pair.second.tester, len(pair.names), pair.found.scale),
                ";".join(pair.names[i] for i in pair.found.moved),
                *(SEGMENTS[s], ABOUT[a], float(pair.effects.turn[s, a])),
                *(JOINT_ANGLES[k], SIDES[side], float(pair.effects.angle[side, k])),
                *(_reviews(table([pair])) for table in (angles_table, distances_table)),
                "review" if pair.reviewed else "pass",
            )
        )
    return pd.DataFrame(rows, columns=list(COMPARED_COLUMNS))


def _reviews(table: pd.DataFrame) -> int:
    return int((table["verdict"] == "review").sum())
