"""What has to be said about a matching: how many paired, and what was set aside and why."""

from collections.abc import Sequence

import pandas as pd

from condyle.study.doubles import KEYS
from condyle.study.one_unit import ABSURD, OTHER_UNIT, UNKNOWN_UNIT
from condyle.study.outcome import Study
from condyle.study.pairing import PAIRED
from condyle.unit_conversion import factor, unit_name

_WORDS = {
    "no_reference": "planar values without a reference",
    "no_planar": "reference values without a planar one",
    "value_missing": "with a missing value",
    "left_out": "of repetitions marked invalid",
    "duplicate": "repeated rows",
    "contradiction": "rows that contradict one another",
    "ambiguous": "planar values that fit several references",
    UNKNOWN_UNIT: "in an unknown unit",
    OTHER_UNIT: "in a unit of another kind",
    ABSURD: "beyond what can be meant",
}
_TOLD = (UNKNOWN_UNIT, OTHER_UNIT, ABSURD, "contradiction", "ambiguous")
_SHOWN = 4  # reasons in one sentence on the screen; all of them stand in pairs.csv and on the page


def say_matching(table: pd.DataFrame, imported: bool, study: Study) -> None:
    """Note what paired and what did not; pairs of measures with the same to say share one sentence."""
    for (planar, reference), rows in table.groupby(["planar", "reference"], sort=False):
        name = f"{planar}:{reference}"
        counts = rows["status"].value_counts()
        rest = [f"{n} {_WORDS.get(str(s), str(s))}" for s, n in counts.items() if s != PAIRED]
        people = rows.loc[rows["status"] == PAIRED, "participant"].nunique()
        said = f"{int(counts.get(PAIRED, 0))} pairs of {people} participants"
        study.note("; ".join([said, ", ".join(rest)]) if rest else said, name, see="pairs.csv")
        for (_, reason), of_reason in rows[rows["status"].isin(_TOLD)].groupby(["status", "reason"], sort=False):
            study.note(f"{_counted(of_reason)} set aside, {reason}", name, see="pairs.csv")
        if imported:
            _say_lost(rows[rows["status"] == "no_reference"], name, study)


def _counted(rows: pd.DataFrame) -> str:
    first = rows.iloc[0]
    where = ", ".join(f"{key} {first[key]}" for key in KEYS if first[key])
    return f"1 row ({where})" if len(rows) == 1 else f"{len(rows)} rows (the first: {where})"


def _say_lost(rows: pd.DataFrame, name: str, study: Study) -> None:
    """Which keys of the planar table do not match, the commonest reason first."""
    if rows.empty:
        return
    counts = rows["reason"].value_counts(sort=False).sort_values(ascending=False, kind="stable")
    told = [f"{reason} ({count} row{'s' if count > 1 else ''})" for reason, count in counts.items()]
    words = "planar values without a reference: "
    rest = len(told) - _SHOWN
    more = [f"and {rest} more reason{'s' if rest > 1 else ''}, row by row in pairs.csv"] if rest > 0 else []
    study.note(words + "; ".join(told), name, brief=words + "; ".join([*told[:_SHOWN], *more]), see="pairs.csv")


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
