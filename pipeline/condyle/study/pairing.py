"""Which planar value belongs to which reference value? Every row ends with a status; none is dropped without a word."""

import numpy as np
import pandas as pd

from condyle.study.doubles import KEYS
from condyle.study.one_unit import settle
from condyle.study.unmatched import reasons
from condyle.unit_conversion import unit_name

PAIRED = "paired"
PAIR_COLUMNS = (
    *("planar", "reference", *KEYS, "task", "condition"),
    *("planar_value", "planar_unit", "reference_value", "reference_unit", "status", "reason"),
)


def match(
    planar: pd.DataFrame, reference: pd.DataFrame, names: tuple[str, str], known: pd.DataFrame | None = None
) -> pd.DataFrame:
    """One row per planar value and per reference value that nothing was laid against, with the status of each.

    Both are long tables of one measure. Rows are laid together by those of participant, session, trial, side and
    repetition that the planar table fills in; the values come back in the reference's unit where that is possible.
    ``known`` holds the keys of every measure there is, to say which key of a lost planar value does not match.
    """
    left, right = _sound(planar, "planar"), _sound(reference, "reference")
    settle(left, "planar", settle(right, "reference", _commonest(right.loc[right["status"] == "", "reference_unit"])))
    used = [key for key in KEYS if (left["planar_value"].size and (left[key] != "").any())] or list(KEYS)
    right, note = _means(right, used)
    left = _doubles(left, used)
    counts = right[right["status"] == ""].groupby(used, sort=False).size()
    merged = left.merge(
        right[right["status"] == ""].drop_duplicates(used).drop(columns=["status", "reason"]),
        on=used, how="left", suffixes=("", "_of_reference"), indicator=True,
    )  # fmt: skip
    several = np.array(
        [counts.get(key if len(used) > 1 else key[0], 0) for key in merged[used].itertuples(index=False, name=None)]
    )
    missing = [key for key in KEYS if key not in used]
    free = merged["status"] == ""
    _mark(
        merged,
        free & (several > 1),
        "ambiguous",
        f"several reference values fit, for the planar table has no {' and no '.join(missing)}",
    )
    lost = free & (merged["_merge"] == "left_only")
    merged.loc[lost, "status"] = "no_reference"
    if lost.any():
        merged.loc[lost, "reason"] = reasons(merged[lost], reference if known is None else known, used)
    _told_why(merged, right[right["status"] != ""], used)
    for key in (*KEYS, "task", "condition"):
        if f"{key}_of_reference" in merged:
            merged[key] = merged[key].where(merged[key] != "", merged[f"{key}_of_reference"].fillna(""))
    merged.loc[merged["status"] == "", ["status", "reason"]] = [PAIRED, note]
    taken = {
        tuple(row) for row in merged.loc[merged["status"] != "no_reference", used].itertuples(index=False, name=None)
    }
    alone = right[[tuple(row) not in taken for row in right[used].itertuples(index=False, name=None)]].copy()
    _mark(alone, alone["status"] == "", "no_planar", "no planar value here")
    both = pd.concat([merged, alone], ignore_index=True)
    both["planar"], both["reference"] = names
    return both.reindex(columns=list(PAIR_COLUMNS))


def _told_why(merged: pd.DataFrame, unsound: pd.DataFrame, used: list[str]) -> None:
    """A planar value whose reference is there but missing or invalid says so."""
    why = {tuple(row[key] for key in used): (row["status"], row["reason"]) for row in unsound.to_dict("records")}
    lost = merged.index[merged["status"] == "no_reference"]
    for place, key in zip(lost, merged.loc[lost, used].itertuples(index=False, name=None), strict=True):
        if tuple(key) in why:
            merged.loc[place, ["status", "reason"]] = why[tuple(key)]


def _commonest(units: "pd.Series[str]") -> str:
    names = units.map(lambda unit: unit_name(str(unit)))
    return str(names.mode()[0]) if len(names) else ""


def _sound(table: pd.DataFrame, kind: str) -> pd.DataFrame:
    out = table[[*KEYS, "task", "condition", "value", "unit"]].reset_index(drop=True)
    out = out.rename(columns={"value": f"{kind}_value", "unit": f"{kind}_unit"})
    out["status"], out["reason"] = "", ""
    _mark(out, out[f"{kind}_value"].isna(), "value_missing", f"the {kind} value is missing")
    if "left_out" in table.columns:
        why = table["left_out"].reset_index(drop=True)
        for reason in why[why != ""].unique():
            _mark(out, why == reason, "left_out", reason)
    return out


def _mark(table: pd.DataFrame, where: "pd.Series[bool] | np.ndarray", status: str, reason: str) -> None:
    table.loc[where, "status"] = status
    table.loc[where, "reason"] = reason


def _doubles(left: pd.DataFrame, used: list[str]) -> pd.DataFrame:
    left = left.copy()
    free = left["status"] == ""
    keys = left.loc[free, used]
    again = keys.duplicated(keep=False)
    for _, places in keys[again].groupby(used, sort=False).groups.items():
        rows = list(places)
        values = left.loc[rows, ["planar_value", "planar_unit"]].drop_duplicates()
        if len(values) == 1:
            left.loc[rows[1:], ["status", "reason"]] = [
                "duplicate",
                "the same value stands here already; it counts once",
            ]
        else:
            left.loc[rows, ["status", "reason"]] = [
                "contradiction",
                f"{len(values)} different planar values for one repetition",
            ]
    return left


def _means(right: pd.DataFrame, used: list[str]) -> tuple[pd.DataFrame, str]:
    """Reference values averaged over repetitions where the planar table does not tell repetitions apart."""
    if "repetition" in used or not (right["repetition"] != "").any():
        return right, ""
    sound = right["status"] == ""
    within = [key for key in (*KEYS, "task") if key != "repetition"]
    first = {name: "first" for name in ("condition", "reference_unit", "status", "reason")}
    mean = right[sound].groupby(within, sort=False, as_index=False).agg({"reference_value": "mean", **first})
    mean["repetition"] = ""
    return pd.concat([mean, right[~sound]], ignore_index=True), "reference: mean over the repetitions"


def unit_of_pair(rows: pd.DataFrame) -> tuple[str, str]:
    """The planar and the reference unit of the paired rows; the first where several stand."""
    return str(rows["planar_unit"].iloc[0]), str(rows["reference_unit"].iloc[0])
