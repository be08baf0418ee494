"""``condyle check ROOT``: landmarks, standing angles and axes of a participant's sessions against the first one."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from condyle.errors import DataError, UsageError
from condyle.files.atomic import writable_or_raise, write_text
from condyle.files.limits import load_limits
from condyle.files.tables import write_csv
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.replacement import axes_offset, placed_differently
from condyle.repeatability.gathering import Gathered, gather
from condyle.repeatability.picture import draw
from condyle.repeatability.reliability_table import reliability_table
from condyle.vocabulary import JOINTS

LANDMARK_COLUMNS = (
    *("participant", "first", "second", "tester_first", "tester_second", "segment", "landmark"),
    *("anterior_mm", "superior_mm", "right_mm", "distance_mm", "limit_mm", "verdict"),
)
AXES_COLUMNS = (
    *("participant", "first", "second", "segment", "about_anterior_deg", "about_superior_deg", "about_right_deg"),
)
_A_START = 5  # ours: from fewer people the error itself is hardly known
_WORDS = (("forward", "back"), ("up", "down"), ("right", "left"))


@dataclass(frozen=True)
class Comparison:
    """What comparing sessions gave: three tables, and a sentence for each session that could not be used."""

    landmarks: pd.DataFrame
    axes: pd.DataFrame
    reliability: pd.DataFrame
    refused: tuple[str, ...]


def compare_sessions(root: Path) -> Comparison:
    """Compare each participant's sessions below ``root``; raises where there is nothing to compare."""
    sessions, refused = gather(root)
    if not sessions:
        raise DataError(f"no session below {root} could be compared.")
    people = [g.participant for g in sessions]
    if len(set(people)) == len(people):
        raise UsageError(f"no participant below {root} has two sessions to compare; give the folder that holds them.")
    return Comparison(landmarks_table(sessions), axes_table(sessions), reliability_table(sessions), tuple(refused))


def sentences_of(found: Comparison) -> list[str]:
    """What differs, one line each: landmarks beyond palpation, then the repeatability of changes and standing angles."""
    out = list(found.refused)
    for row in found.landmarks[found.landmarks["verdict"] == "review"].to_dict("records"):
        against = f"{row['participant']} {row['second']} against {row['first']}"
        out.append(f"review {against}: {row['landmark']} placed {_direction(row)}")
    table = found.reliability
    for row in table[table["measure"].str.endswith(("_change", "_travel", "_standing"))].to_dict("records"):
        out.append(
            f"{row['measure']}: SEM {row['sem_mean']:.2f}, minimal detectable change {row['mdc95_mean']:.2f} {row['unit']} "
            f"for the mean of {row['repetitions']:.0f}, {row['mdc95_single']:.2f} for one ({_basis(row)})"
        )
    return out


def _basis(row: Mapping[Hashable, Any]) -> str:
    people = int(row["participants"])
    few = "; too few to know the error well" if people < _A_START else ""
    return f"n = {people} participant{'' if people == 1 else 's'}, {int(row['sessions'])} sessions{few}"


def write_comparison(found: Comparison, folder: Path) -> list[Path]:
    """Write the tables, the picture and the lab's repeatability into a folder."""
    place = writable_or_raise(folder)
    tables = {"landmarks": found.landmarks, "axes": found.axes, "repeatability": found.reliability}
    for name, table in tables.items():
        write_csv(place / f"{name}.csv", table)
    write_text(place / "repeatability.yaml", repeatability_yaml(found.reliability))
    draw(found.landmarks, place / "landmarks.svg")
    return [*(place / f"{name}.csv" for name in tables), place / "repeatability.yaml", place / "landmarks.svg"]


def _pairs(sessions: list[Gathered]) -> list[tuple[Gathered, Gathered]]:
    """Each session of a participant against their first."""
    first: dict[str, Gathered] = {}
    out = []
    for g in sorted(sessions, key=lambda g: (g.participant, g.session)):
        if g.participant in first:
            out.append((first[g.participant], g))
        first.setdefault(g.participant, g)
    return out


def landmarks_table(sessions: list[Gathered]) -> pd.DataFrame:
    """How far each landmark lies from where the participant's first session had it, told by the others of its segment."""
    sd = {name: limit.value for name, limit in load_limits("uncertainty").items()}
    rows = []
    for first, second in _pairs(sessions):
        for segment, points in first.points.items():
            names = [n for n in points if n in second.points.get(segment, {})]
            if len(names) < 4:
                continue
            moved = placed_differently(_stack(points, names), _stack(second.points[segment], names))
            for name, shift in zip(names, moved, strict=True):
                if name in JOINTS or np.isnan(shift).any():
                    continue
                other = bool(first.tester and second.tester and first.tester != second.tester)
                limit = _limit(sd, name) * (sd["examiner_factor"] if other else 1.0)
                distance = float(np.linalg.norm(shift))
                key = (first.participant, first.session, second.session, first.tester, second.tester, segment, name)
                rows.append((*key, *map(float, shift), distance, limit, "review" if distance > limit else "pass"))
    table = pd.DataFrame(rows, columns=list(LANDMARK_COLUMNS))
    return table.sort_values("distance_mm", ascending=False, kind="stable", ignore_index=True)


def _limit(sd: dict[str, float], landmark: str) -> float:
    """Beyond what palpation spreads: 1.96 sqrt(2) times the SD of an axis, in the two directions of the skin."""
    bare = landmark.removesuffix("_r").removesuffix("_l")
    return float(1.96 * np.sqrt(2.0) * np.sqrt(2.0) * sd[f"{bare}_mm"])


def axes_table(sessions: list[Gathered]) -> pd.DataFrame:
    """How far the axes of hip (pelvis, thigh) and knee (thigh, shank) are turned against the first session's."""
    rows = []
    for first, second in _pairs(sessions):
        for segment, points in first.points.items():
            names = [n for n in points if n in second.points.get(segment, {})]
            if len(names) >= 4:
                turn = axes_offset(_stack(points, names), _stack(second.points[segment], names))
                rows.append((first.participant, first.session, second.session, segment, *map(float, turn)))
    return pd.DataFrame(rows, columns=list(AXES_COLUMNS))


def _stack(points: dict[str, FloatArray], names: list[str]) -> FloatArray:
    return np.array([points[n] for n in names])


def _direction(row: Mapping[Hashable, Any]) -> str:
    shift = [float(row[f"{n}_mm"]) for n in ("anterior", "superior", "right")]
    words = [f"{abs(v):.0f} mm {w[0] if v > 0 else w[1]}" for v, w in zip(shift, _WORDS, strict=True) if abs(v) >= 1.0]
    return f"{', '.join(words)} (limit {row['limit_mm']:.0f} mm)"


def repeatability_yaml(table: pd.DataFrame) -> str:
    """The lab's own repeatability, as a file that a report reads: copy it to configs/repeatability.yaml."""
    lines = [
        "# Written by condyle check from repeat sessions of this lab; the minimal detectable change is 1.96 sqrt(2) SEM.\n"
    ]
    for row in table.to_dict("records"):
        if np.isfinite(row["sem_mean"]) and np.isfinite(row["sem_single"]):
            lines.append(
                f"{row['task']}.{row['measure']}: {{unit: {row['unit']!r}, sem_mean: {row['sem_mean']:.4g}, "
                f"repetitions: {row['repetitions']:.3g}, sem_single: {row['sem_single']:.4g}, "
                f"participants: {row['participants']}, sessions: {row['sessions']}}}\n"
            )
    return "".join(lines)
