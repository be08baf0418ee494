"""Which planar value belongs to which reference value? Every row ends with a status; none is dropped without a word."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from condyle.study.reading import KEYS
from condyle.study.units import factor, is_known, known_units, unit_name

PAIRED = "paired"
PAIR_COLUMNS = (
    *("planar", "reference", *KEYS, "task", "condition"),
    *("planar_value", "planar_unit", "reference_value", "reference_unit", "status", "reason"),
)


def match(planar: pd.DataFrame, reference: pd.DataFrame, names: tuple[str, str]) -> pd.DataFrame:
    """One row per planar value and per reference value that nothing was laid against, with the status of each.

    Both are long tables of one measure. Rows are laid together by those of participant, session, trial, side and
    repetition that the planar table fills in; the values come back in the reference's unit where that is possible.
    """
    left, right = _sound(planar, "planar"), _sound(reference, "reference")
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
    _mark(merged, free & (merged["_merge"] == "left_only"), "no_reference", "no reference value of this name here")
    _told_why(merged, right[right["status"] != ""], used)
    for key in (*KEYS, "task", "condition"):
        if f"{key}_of_reference" in merged:
            merged[key] = merged[key].where(merged[key] != "", merged[f"{key}_of_reference"].fillna(""))
    _to_one_unit(merged)
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


def _sound(table: pd.DataFrame, kind: str) -> pd.DataFrame:
    out = table[[*KEYS, "task", "condition", "value", "unit"]].reset_index(drop=True)
    out = out.rename(columns={"value": f"{kind}_value", "unit": f"{kind}_unit"})
    out["status"], out["reason"] = "", ""
    _mark(out, out[f"{kind}_value"].isna(), "value_missing", f"the {kind} value is missing")
    if "left_out" in table.columns:
        reasons = table["left_out"].reset_index(drop=True)
        for reason in reasons[reasons != ""].unique():
            _mark(out, reasons == reason, "left_out", reason)
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


def _to_one_unit(merged: pd.DataFrame) -> None:
    """Planar values in the reference's unit; what cannot be converted keeps its own, an unknown unit is marked."""
    free = merged["status"] == ""
    for units, rows in merged[free].groupby(["planar_unit", "reference_unit"]).groups.items():
        own_name, wanted_name = (unit_name(str(unit)) for unit in units)  # type: ignore[attr-defined]
        if not own_name or own_name == wanted_name:
            merged.loc[rows, "planar_unit"] = wanted_name
            continue
        by = factor(own_name, wanted_name)
        if by is not None:
            merged.loc[rows, "planar_value"] *= by
            merged.loc[rows, "planar_unit"] = wanted_name
        elif not is_known(own_name):
            reason = f"planar unit {own_name!r} is unknown; known are {known_units()}"
            merged.loc[rows, ["status", "reason"]] = ["unknown_unit", reason]


def matching_sentences(table: pd.DataFrame, imported: bool) -> list[str]:
    """What paired and what did not, a sentence a pair of measures."""
    out = []
    for (planar, reference), rows in table.groupby(["planar", "reference"], sort=False):
        counts = rows["status"].value_counts()
        paired = int(counts.get(PAIRED, 0))
        rest = [f"{n} {_WORDS.get(str(s), str(s))}" for s, n in counts.items() if s != PAIRED]
        people = rows.loc[rows["status"] == PAIRED, "participant"].nunique()
        text = f"{planar}:{reference}: {paired} pairs of {people} participants"
        out.append(text + (f"; {', '.join(rest)}." if rest else "."))
        if imported:
            out += _near_names(rows)
        for reason in rows.loc[rows["status"].isin(["unknown_unit", "contradiction", "ambiguous"]), "reason"].unique():
            out.append(f"{planar}:{reference}: {reason}.")
    return out


_WORDS = {
    "no_reference": "planar values without a reference",
    "no_planar": "reference values without a planar one",
    "value_missing": "with a missing value",
    "left_out": "of repetitions marked invalid",
    "duplicate": "repeated rows",
    "contradiction": "rows that contradict one another",
    "ambiguous": "planar values that fit several references",
    "unknown_unit": "in an unknown unit",
}


def _near_names(rows: pd.DataFrame) -> list[str]:
    """Key values that differ in case or leading zeros only: named, never matched."""
    out = []
    for key in KEYS:
        ours = set(rows.loc[rows["status"] == "no_reference", key]) - {""}
        theirs = set(rows.loc[rows["status"].isin(["no_planar", PAIRED]), key]) - {""}
        for name in sorted(ours - theirs):
            near = next((other for other in sorted(theirs) if _loose(other) == _loose(name)), None)
            if near is not None:
                out.append(
                    f"The planar table says {key} {name!r}, the measures {near!r}; they are not taken for the "
                    "same: spell them alike."
                )
    return out


def _loose(name: str) -> str:
    letters = "".join(c for c in name.casefold() if c.isalnum())
    return letters.lstrip("0") or letters


def unit_of_pair(rows: pd.DataFrame) -> tuple[str, str]:
    """The planar and the reference unit of the paired rows; the first where several stand."""
    return str(rows["planar_unit"].iloc[0]), str(rows["reference_unit"].iloc[0])


def converted_sentences(planar: pd.DataFrame, wanted: Sequence[str]) -> list[str]:
    """Which units of an imported table were converted, and which values came without one."""
    out = []
    for measure, rows in planar.groupby("measure", sort=False):
        units = sorted({unit_name(u) for u in rows["unit"]})
        if "" in units:
            out.append(
                f"Planar {measure} has rows without a unit; they are taken to be in the reference's "
                f"({', '.join(wanted) or 'unknown'})."
            )
        known = [u for u in units if u and u not in wanted and any(factor(u, w) is not None for w in wanted)]
        if known:
            out.append(f"Planar {measure} was converted from {', '.join(known)} to {', '.join(wanted)}.")
    return out
