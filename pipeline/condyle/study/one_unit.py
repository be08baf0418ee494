"""Which values of a measure stand together in one unit, and which are set aside: another kind of unit, or beyond all measure?"""

import pandas as pd

from condyle.unit_conversion import absurd, factor, is_known, kind, known_units, unit_name

UNKNOWN_UNIT, OTHER_UNIT, ABSURD = "unknown_unit", "other_unit", "absurd_value"


def settle(table: pd.DataFrame, side: str, wanted: str) -> str:
    """Bring the sound values of one side, ``planar`` or ``reference``, into one unit in place; that unit comes back.

    It is ``wanted`` where most values can be converted to it, else the unit most of them stand in. A value without a
    unit is taken to be in the wanted one. What is of another kind than most, in a unit nobody knows, or larger than
    its unit can mean, ends with a status and a reason of its own; the others are not touched by it.
    """
    sound = table["status"] == ""
    names = table.loc[sound, f"{side}_unit"].map(lambda u: unit_name(str(u)) or wanted)
    kinds = names.map(kind)
    if side == "planar":  # what the measures call their unit is theirs to say
        for name in names[[bool(n) and n != wanted and not is_known(n) for n in names]].unique():
            _mark(
                table,
                names.index[names == name],
                UNKNOWN_UNIT,
                f"{side} unit {name!r} is unknown; known are {known_units()}",
            )
        kinds = kinds[table.loc[kinds.index, "status"] == ""]
    if kinds.empty:
        return wanted
    counts = kinds.value_counts()
    most = [str(k) for k in counts.index[counts == counts.max()]]
    common = kind(wanted) if kind(wanted) in most else most[0]
    target = wanted if wanted and kind(wanted) == common else str(names[kinds.index][kinds == common].mode()[0])
    for name, rows in names[kinds.index].groupby(names[kinds.index]).groups.items():
        by = factor(str(name), target)
        if by is None:
            others = f"the other {int((kinds == common).sum())} stand in {target or 'none'}"
            _mark(table, rows, OTHER_UNIT, f"{side} unit {str(name) or 'none'} cannot be converted; {others}")
            continue
        if by != 1.0:
            table.loc[rows, f"{side}_value"] *= by
        table.loc[rows, f"{side}_unit"] = target
        bad, why = absurd(table.loc[rows, f"{side}_value"].to_numpy(dtype=float), target)
        _mark(table, rows[bad], ABSURD, f"the {side} value is {why}")
    return target


def _mark(table: pd.DataFrame, rows: "pd.Index[int]", status: str, reason: str) -> None:
    table.loc[rows, "status"], table.loc[rows, "reason"] = status, reason
