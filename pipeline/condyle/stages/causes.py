"""Naming the cause of every repetition: which account it explains, under which heading, with which confidence."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from condyle.body_names import JOINT_ANGLES, SIDES
from condyle.files.limits import Limit
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.contributions import MODEL_MEASURES
from condyle.mechanics.heading import off_facing
from condyle.mechanics.posture import divided, turned
from condyle.mechanics.verdict import Named, VerdictLimits, interval, verdict, verdict_from_below
from condyle.stages.accounts import (
    ACCOUNTS,
    MEASURE_UNITS,
    SIGN,
    SOURCES_ABOVE,
    Leg,
    Row,
    above_table,
    repetition_rows,
)

Limits = Mapping[str, Limit]
ALREADY = "already at the start"
BY_HEADING = "the cause depends on the heading"
REBUILT = "the pelvis was rebuilt with the hip centres at the bottom"
NOT_GIVEN = "contributions not given at the bottom"
REMARKS = (ALREADY, BY_HEADING, REBUILT, NOT_GIVEN)
_KNEE_FLEXION = JOINT_ANGLES.index("knee_flexion")


@dataclass
class Causes:
    """What is said of each repetition (words, lists in the order of the repetitions)."""

    cause: list[str]
    explains: list[str]
    confidence: list[float]
    from_below: list[str]
    remarks: list[list[str]] = field(default_factory=list)


@dataclass
class Drawn:
    """Monte Carlo draws behind the accounts: what each draw makes of every repetition's bottom."""

    table: FloatArray  # (heading, draw, repetition, 6, source above), in the units of the tables
    below: FloatArray  # (draw, repetition, 2, 3 parts and the change)


def verdict_limits(limits: Limits, measure: str) -> VerdictLimits:
    """The rule's limits in the unit of a measure."""
    unit = MEASURE_UNITS[measure]
    return VerdictLimits(
        little=limits[f"little_{unit}"].value,
        least_part=limits[f"least_part_{unit}"].value,
        draws_share=limits["draws_percent"].value / 100.0,
        lead_share=limits["lead_percent"].value / 100.0,
        clear_share=limits["clear_percent"].value / 100.0,
        mixed_share=limits["mixed_percent"].value / 100.0,
        remainder=limits[f"remainder_{unit}"].value,
        remainder_share=limits["remainder_percent"].value / 100.0,
    )


def headings_to_try(trial: xr.Dataset, limits: Limits) -> dict[str, FloatArray]:
    """Way of telling straight ahead -> turn (bout,) [rad] from the heading in use; others only where they differ.

    The first is the heading in use itself; a bout in which the ways agree has a turn of 0 in all of them.
    """
    apart = np.maximum(*headings_apart(trial)) > limits["heading_apart_deg"].value
    starts = np.searchsorted(trial.variables["time"].values, trial.variables["bout_start_s"].values)
    own = trial.variables["heading_deg"].values[np.minimum(starts, trial.sizes["time"] - 1)]
    turns = {"chosen": np.zeros(len(own))}
    for way in ("at_start", "by_foot"):
        turn = (trial.variables[f"heading_{way}"].values - own + 180.0) % 360.0 - 180.0
        turn = np.where(apart & np.isfinite(turn), turn, 0.0)
        if np.abs(turn).max(initial=0.0) > 1e-6:
            turns[way] = np.deg2rad(turn)
    return turns


def headings_apart(trial: xr.Dataset) -> tuple[FloatArray, FloatArray]:
    """(bout,) [deg] How far pelvis and stance foot are apart, and how far the heading in use is off both; 0 if not known."""
    starts = np.searchsorted(trial.variables["time"].values, trial.variables["bout_start_s"].values)
    own = trial.variables["heading_deg"].values[np.minimum(starts, trial.sizes["time"] - 1)]
    told = np.stack([trial.variables[f"heading_{way}"].values for way in ("at_start", "by_foot")])
    off = np.rad2deg(off_facing(np.deg2rad(own), np.deg2rad(told)))
    return np.nan_to_num(np.abs(trial.variables["pelvis_over_foot"].values)), np.nan_to_num(off)


def bottom_tables(
    trial: xr.Dataset, legs: dict[str, Leg], turns: dict[str, FloatArray], least_shown: float
) -> FloatArray:
    """(heading, repetition, 6, source above): the accounts from above at the bottom, by every heading to try."""
    rows = repetition_rows(trial)
    out = np.full((len(turns), len(rows), 6, len(SOURCES_ABOVE)), np.nan)
    for side, leg in legs.items():
        mine = np.array([k for k, r in enumerate(rows) if r.side == side and r.bottom_seen], dtype=int)
        if not mine.size or not leg.known:
            continue
        bottom, start, bout = (np.array([getattr(rows[k], n) for k in mine]) for n in ("bottom", "start", "bout"))
        for h, turn in enumerate(turns.values()):
            by = -SIGN[side] * turn[bout]
            now, then = turned(leg.posture.at(bottom), by), turned(leg.posture.at(start), by)
            table = above_table(
                divided(now, then, leg.standing, leg.turned_standing[bout] + by, leg.thigh_vector, leg.shank_vector)
            )
            table[:, [0, 3]] = np.where((leg.shown[bottom] >= least_shown)[:, None, None], table[:, [0, 3]], np.nan)
            out[h, mine] = table
    return out


def named_causes(
    tables: FloatArray, below: FloatArray, explain: str, limits: Limits, drawn: Drawn | None = None
) -> Causes:
    """The verdict of every repetition.

    ``tables`` (heading, repetition, 6, source above) point values, ``below`` (repetition, 2, 4): three parts and the
    remainder. A cause stands only where it stands under every heading; where the posture was there before the squat, it
    is the cause of the change from standing.
    """
    count, k = tables.shape[1], MODEL_MEASURES.index(explain)
    rule = verdict_limits(limits, explain)
    already_limit = limits[f"already_there_{MEASURE_UNITS[explain]}"].value
    remarks: list[list[str]] = [[] for _ in range(count)]
    verdicts: list[tuple[Named, NDArray[np.bool_]]] = []
    for h in range(len(tables)):
        draws = None if drawn is None else drawn.table[h]
        already = _already_there(tables[h], draws, k, already_limit)
        both = [
            _verdict_of(tables[h][:, k + step], None if draws is None else draws[:, :, k + step], rule)
            for step in (0, 3)
        ]
        verdicts.append((_chosen(already, *both), already))
    first, already = verdicts[0]
    word, confidence = first.word.copy(), first.confidence.copy()
    for other, _ in verdicts[1:]:
        apart = other.word != word
        for r in np.flatnonzero(apart & (word != "not_separable")):
            remarks[r].append(BY_HEADING)
        word = np.where(apart, "not_separable", word)
        confidence = np.where(apart, np.nan, np.fmin(confidence, other.confidence))
    for r in np.flatnonzero(already):
        remarks[r].append(ALREADY)
    for r in np.flatnonzero(~np.isfinite(tables[0][:, k]).all(axis=-1)):
        remarks[r].append(NOT_GIVEN)
    explains = np.where(already, ACCOUNTS[k + 3], ACCOUNTS[k])
    drawn_below = (None, None) if drawn is None else _below_draws(drawn.below)
    parts = np.moveaxis(below[..., :3], 0, -1)
    from_below = verdict_from_below(
        np.moveaxis(below.sum(axis=-1), 0, -1),
        parts,
        np.moveaxis(below[..., 3], 0, -1),
        verdict_limits(limits, "fppa"),
        *drawn_below,
    )
    return Causes(word.tolist(), explains.tolist(), confidence.tolist(), from_below.tolist(), remarks)


def open_where_rebuilt(
    trial: xr.Dataset, rows: list[Row], table: FloatArray, explain: str, causes: Causes, limits: Limits
) -> None:
    """Without draws: on a pelvis rebuilt with the hip centres, a cause stands only on a lead that clears the repair's error.

    Changes ``causes``. With draws the repair's error is one of the errors drawn.
    """
    error = float(trial.attrs.get("pelvis_repair_error_deg_2", 0.0))
    needed = rebuilt_factor(explain, limits).value * error
    for k in remark_rebuilt(trial, rows, causes):
        account = ACCOUNTS.index(causes.explains[k])
        parts = table[k, account, 1:7]
        lead = abs(parts[:2].sum() - parts[2:].sum())
        if causes.cause[k] not in ("none", "not_separable") and not lead >= needed:
            causes.cause[k] = "not_separable"


def rebuilt_factor(explain: str, limits: Limits) -> Limit:
    """By how much of a measure, in its unit, a lead must clear every degree of the pelvis repair's error."""
    return limits["rebuilt_pelvis_mm_per_deg" if MEASURE_UNITS[explain] == "mm" else "rebuilt_pelvis_factor"]


def leave_shallow_open(trial: xr.Dataset, rows: list[Row], causes: Causes, limits: Limits) -> None:
    """A squat too shallow to judge is not judged, with draws or without; the finding beside it says why. Changes ``causes``."""
    angle = trial.variables["angle"].values
    for k, row in enumerate(rows):
        if angle[row.bottom, SIDES.index(row.side), _KNEE_FLEXION] < limits["shallow_deg"].value:
            causes.cause[k], causes.confidence[k] = "not_separable", float("nan")
            if causes.from_below[k] != "not_measured":
                causes.from_below[k] = "not_separable"


def remark_rebuilt(trial: xr.Dataset, rows: list[Row], causes: Causes) -> list[int]:
    """Say which repetitions had their pelvis rebuilt with the hip centres at the bottom; their places."""
    rung = trial.variables["pelvis_rung"].values if "pelvis_rung" in trial else np.zeros(trial.sizes["time"])
    found = [k for k, row in enumerate(rows) if rung[row.bottom] == 2]
    for k in found:
        causes.remarks[k].append(REBUILT)
    return found


def _verdict_of(table: FloatArray, draws: FloatArray | None, rule: VerdictLimits) -> Named:
    change, parts, remainder = _split(table)
    if draws is None:
        return verdict(change, parts, remainder, rule)
    drawn_change, drawn_parts, _ = _split(draws)
    return verdict(change, parts, remainder, rule, drawn_change, drawn_parts)


def _split(table: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Change, six parts and remainder from (..., source above)."""
    return table.sum(axis=-1), np.moveaxis(table[..., 1:7], -1, 0), table[..., 7]


def _already_there(table: FloatArray, draws: FloatArray | None, k: int, limit: float) -> NDArray[np.bool_]:
    """Where the base from the start less the base from standing lies beyond the limit, with its whole interval."""
    difference = table[:, k, 0] - table[:, k + 3, 0]
    if draws is None:
        return np.asarray(np.abs(difference) > limit)
    low, high = interval(draws[:, :, k, 0] - draws[:, :, k + 3, 0])
    return np.asarray((low > limit) | (high < -limit))


def _chosen(already: NDArray[np.bool_], from_start: Named, from_standing: Named) -> Named:
    return Named(
        np.where(already, from_standing.word, from_start.word),
        np.where(already, from_standing.confidence, from_start.confidence),
    )


def _below_draws(below: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(2, draw, repetition) change and (2, 3, draw, repetition) parts from (draw, repetition, 2, 4)."""
    return np.moveaxis(below[..., 3], -1, 0), np.moveaxis(below[..., :3], (-2, -1), (0, 1))
