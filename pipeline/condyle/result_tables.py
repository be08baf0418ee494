"""The tables of a session's results, from the processed trials: pure functions, the same trials give the same rows."""

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import xarray as xr

from condyle.body_names import JOINT_ANGLES
from condyle.curve_table import accepted_of, curves_table, sources_of
from condyle.findings import Finding
from condyle.measure_dictionary import ANGLE_SUFFIXES, MEASURES, POINT_SUFFIXES, POINTS
from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.overridden import OVERRIDDEN

if TYPE_CHECKING:
    from condyle.session_result import SessionResult

MEASURES_COLUMNS = (
    *("participant", "session", "trial", "task", "condition", "side", "bout", "repetition"),
    *("measure", "value", "unit", "lower", "upper", OVERRIDDEN),
)
REPETITIONS_COLUMNS = (
    *("participant", "session", "trial", "side", "bout", "repetition", "start_s", "bottom_s", "end_s", "depth_mm"),
    *("direction", "cause", "explains", "confidence", "from_below", "findings", "valid", "planar_reading", "misread"),
)
CONTRIBUTIONS_COLUMNS = (
    *("participant", "session", "trial", "side", "bout", "repetition"),
    *("measure", "source", "value", "unit", "lower", "upper", OVERRIDDEN),
)
SUMMARY_COLUMNS = (
    *("participant", "session", "side", "task", "condition", "measure"),
    *("n", "mean", "sd", "median", "lower", "upper", OVERRIDDEN),
)
QUALITY_COLUMNS = (
    *("participant", "session", "trial", "subject", "check", "value", "limit", "unit", "verdict", "advice"),
)
_LATER = {  # columns of the repetitions that stages after `measures` give, where they run
    **{name: "" for name in ("direction", "cause", "explains", "from_below", "planar_reading", "misread")},
    "confidence": np.nan,
}


_GIVEN_BY = {
    "repetitions": ("repetitions", "curves"),
    "measures": ("measures", "summary"),
    "contributions": ("contributions",),
}


SUMMED = dict.fromkeys(("measures", "contributions"), ("value",))  # the sources of an account sum to a measure's change


def table_names(stages: Iterable[str]) -> list[str]:
    """The tables that a pipeline of these stages gives."""
    return [*(name for stage in stages for name in _GIVEN_BY.get(stage, ())), "quality"]


def tables_of(result: "SessionResult") -> dict[str, pd.DataFrame]:
    """Every table of a session by name; one that only a stage left out would fill is not among them."""
    trials = [done.trial for done in result.movements]
    tables: dict[str, Callable[[], pd.DataFrame]] = {
        "repetitions": lambda: repetitions_table(trials),
        "curves": lambda: curves_table(trials),
        "measures": lambda: measures_table(trials),
        "summary": lambda: summary_table(trials),
        "contributions": lambda: contributions_table(trials),
        "quality": lambda: quality_table(result.participant, result.session, result.findings),
    }
    return {name: tables[name]() for name in table_names(result.plan.pipeline.stage_names)}


def measures_table(trials: Iterable[xr.Dataset]) -> pd.DataFrame:
    """``measures.csv``: a row per repetition, side and measure; empty where the frame could not be seen.

    What a trial cannot give at all (no patella marker, no trunk) has no rows.
    """
    parts = [_measures_of(t) for t in trials if "measure_value" in t and t.sizes["repetition"]]
    return _joined(parts, MEASURES_COLUMNS)


def contributions_table(trials: Iterable[xr.Dataset]) -> pd.DataFrame:
    """``contributions.csv``: a row per repetition, side, account and source; the sources sum to the account's change.

    An account that a trial cannot give at all has no rows.
    """
    parts = [_contributions_of(t) for t in trials if "contribution" in t and t.sizes["repetition"]]
    return _joined(parts, CONTRIBUTIONS_COLUMNS)


def repetitions_table(trials: Iterable[xr.Dataset]) -> pd.DataFrame:
    """``repetitions.csv``: a row per repetition and side, with what later stages say about it."""
    parts = [_repetitions_of(t) for t in trials if "repetition_number" in t and t.sizes["repetition"]]
    return _joined(parts, REPETITIONS_COLUMNS)


def summary_table(trials: Iterable[xr.Dataset]) -> pd.DataFrame:
    """``summary.csv``: mean, SD and median over the valid repetitions of a side, task and condition.

    ``lower`` and ``upper`` are the means of the repetitions' own 95 % limits: a misplaced marker moves all repetitions
    of a session alike, so that their number does not narrow the interval. Empty where not computed.
    """
    kept = [(t, t.variables["repetition_valid"].values) for t in trials if "measure_value" in t]
    parts = [_measures_of(t, valid) for t, valid in kept if valid.any()]
    rows = _joined(parts, MEASURES_COLUMNS)
    if rows.empty:
        return pd.DataFrame({name: [] for name in SUMMARY_COLUMNS})
    keys = ["participant", "session", "side", "task", "condition", "measure"]
    groups = rows.groupby(keys, sort=False, dropna=False)
    out = groups["value"].agg(n="count", mean="mean", sd="std", median="median")
    out[["lower", "upper"]] = groups[["lower", "upper"]].mean()
    out[OVERRIDDEN] = ""
    if (rows[OVERRIDDEN] != "").any():
        rows[OVERRIDDEN] = (rows["trial"] + ": " + rows[OVERRIDDEN]).where(rows[OVERRIDDEN] != "", "")
        out[OVERRIDDEN] = rows.groupby(keys, sort=False, dropna=False)[OVERRIDDEN].agg(_each_once)
    return out.reset_index()[list(SUMMARY_COLUMNS)]


def _each_once(words: "pd.Series[str]") -> str:
    return "; ".join(dict.fromkeys(w for w in words if w))


def quality_table(participant: str, session: str, findings: Sequence[tuple[str, Finding]]) -> pd.DataFrame:
    """``quality.csv``: a row per finding, in the order in which the trials and their stages came."""
    return pd.DataFrame(
        {
            "participant": [participant] * len(findings),
            "session": [session] * len(findings),
            "trial": [trial for trial, _ in findings],
            "subject": [f.subject for _, f in findings],
            "check": [f.check for _, f in findings],
            "value": np.array([np.nan if f.value is None else f.value for _, f in findings], dtype=float),
            "limit": np.array([np.nan if f.limit is None else f.limit for _, f in findings], dtype=float),
            "unit": [f.unit for _, f in findings],
            "verdict": [f.verdict for _, f in findings],
            "advice": [f.advice for _, f in findings],
        }
    )[list(QUALITY_COLUMNS)]


def _joined(parts: list[dict[str, Any]], columns: Sequence[str]) -> pd.DataFrame:
    if not parts:
        return pd.DataFrame({name: [] for name in columns})
    return pd.DataFrame({name: np.concatenate([p[name] for p in parts]) for name in columns})


def _stems() -> dict[str, list[str]]:
    """What one marker or segment gives or takes away together: an angle's measures, a point's; the others alone."""
    stems = {angle: [f"{angle}_{s}" for s in ANGLE_SUFFIXES] for angle in JOINT_ANGLES}
    stems |= {f"path of {point}": [f"{point}_{s}" for s in POINT_SUFFIXES] for point in POINTS}
    grouped = {name for names in stems.values() for name in names}
    return stems | {name: [name] for name in MEASURES if name not in grouped}


_STEM = {name: k for k, names in enumerate(_stems().values()) for name in names}


def _given(trial: xr.Dataset, value: FloatArray) -> IntArray:
    """Columns of ``measure_value`` whose stem has at least one value in these rows."""
    stem = np.array([_STEM[str(n)] for n in trial.variables["measure"].values])
    some = ~np.isnan(value).all(axis=0)
    return np.flatnonzero(np.isin(stem, stem[some]))


def _repeated(trial: xr.Dataset, names: Sequence[str], count: int) -> dict[str, Any]:
    return {name: np.full(count, str(trial.attrs.get(name, "")), dtype=object) for name in names}


def _measures_of(trial: xr.Dataset, kept: BoolArray | slice = slice(None)) -> dict[str, Any]:
    value = trial.variables["measure_value"].values[kept]
    given = _given(trial, value)
    value = value[:, given]
    rows, columns = value.shape
    empty = np.full_like(value, np.nan)
    limits = {
        name: trial.variables[f"measure_{name}"].values[kept][:, given] if f"measure_{name}" in trial else empty
        for name in ("lower", "upper")
    }
    return {
        **_repeated(trial, ("participant", "session", "trial", "task", "condition"), value.size),
        "side": np.repeat(trial.variables["repetition_side"].values[kept].astype(object), columns),
        "bout": np.repeat(trial.variables["repetition_bout"].values[kept], columns),
        "repetition": np.repeat(trial.variables["repetition_number"].values[kept], columns),
        "measure": np.tile(trial.variables["measure"].values[given].astype(object), rows),
        "value": value.ravel() + 0.0,
        "unit": np.tile(trial.variables["measure_unit"].values[given].astype(object), rows),
        **{name: limit.ravel() + 0.0 for name, limit in limits.items()},
        OVERRIDDEN: np.full(value.size, accepted_of(trial), dtype=object),
    }


def _contributions_of(trial: xr.Dataset) -> dict[str, Any]:
    accounts, sources = (trial.variables[n].values.astype(object) for n in ("account", "source"))
    value = trial.variables["contribution"].values
    given = ~np.isnan(value).all(axis=(0, 2))
    kept = np.array([[str(s) in sources_of(str(a)) for s in sources] for a in accounts]) & given[:, None]
    account, source = np.nonzero(kept)
    value = value[:, account, source]
    rows, columns = value.shape
    limits = {
        name: trial.variables[f"contribution_{name}"].values[:, account, source]
        if f"contribution_{name}" in trial
        else np.full_like(value, np.nan)
        for name in ("lower", "upper")
    }
    return {
        **_repeated(trial, ("participant", "session", "trial"), value.size),
        "side": np.repeat(trial.variables["repetition_side"].values.astype(object), columns),
        "bout": np.repeat(trial.variables["repetition_bout"].values, columns),
        "repetition": np.repeat(trial.variables["repetition_number"].values, columns),
        "measure": np.tile(accounts[account], rows),
        "source": np.tile(sources[source], rows),
        "value": value.ravel() + 0.0,
        "unit": np.tile(trial.variables["account_unit"].values.astype(object)[account], rows),
        **{name: limit.ravel() + 0.0 for name, limit in limits.items()},
        OVERRIDDEN: np.full(value.size, accepted_of(trial), dtype=object),
    }


def _repetitions_of(trial: xr.Dataset) -> dict[str, Any]:
    count = trial.sizes["repetition"]
    names = [str(n) for n in trial.variables["measure"].values] if "measure_value" in trial else []
    depth = trial.variables["measure_value"].values[:, names.index("depth")] if names else np.full(count, np.nan)
    later = {}
    for column, empty in _LATER.items():
        given = (
            trial.variables[f"repetition_{column}"].values if f"repetition_{column}" in trial else np.full(count, empty)
        )
        later[column] = given.astype(object) if given.dtype.kind == "U" else given
    return {
        **_repeated(trial, ("participant", "session", "trial"), count),
        "side": trial.variables["repetition_side"].values.astype(object),
        "bout": trial.variables["repetition_bout"].values,
        "repetition": trial.variables["repetition_number"].values,
        **{name: trial.variables[f"repetition_{name}"].values for name in ("start_s", "bottom_s", "end_s")},
        "depth_mm": depth + 0.0,
        **later,
        "findings": trial.variables["repetition_findings"].values.astype(object),
        "valid": trial.variables["repetition_valid"].values,
    }
