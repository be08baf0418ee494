"""Which recordings came twice? What is alike counts once; what contradicts itself is left out, wherever it stands."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from condyle.errors import DataError

TRIAL = ("participant", "session", "trial")
KEYS = (*TRIAL, "side", "repetition")
Key = tuple[str, ...]
_TOLD_APART = {  # table: what names a row beside KEYS, and what two rows of one name must have alike
    "measures": (("task", "bout", "measure"), ("value", "unit")),
    "contributions": (("task", "bout", "measure", "source"), ("value", "unit")),
    "repetitions": (("task", "bout"), ("valid", "cause", "planar_reading", "misread")),
}


class Settled(NamedTuple):
    """The tables with every row once, and the trials that are left out of all of them."""

    measures: pd.DataFrame
    contributions: pd.DataFrame | None
    repetitions: pd.DataFrame | None
    apart: frozenset[Key]  # participant, session, trial


def settle_doubles(
    measures: pd.DataFrame, contributions: pd.DataFrame | None, repetitions: pd.DataFrame | None, said: list[str]
) -> Settled:
    """Every row once; a trial whose values contradict one another (two runs of it, say) is left out of every table.

    Rows that name no trial are left out by repetition. DataError where no measure is left: there is nothing to study.
    """
    apart: set[Key] = set()
    contradictions: list[str] = []

    def once(kind: str, table: pd.DataFrame) -> pd.DataFrame:
        also, compared = _TOLD_APART[kind]
        if not set(also) <= set(table.columns):
            return table
        compared = tuple(name for name in compared if name in table.columns)
        same = table.duplicated([*KEYS, *also, *compared])
        if same.any() and kind == "measures":
            said.append(f"{int(same.sum())} rows of measures stand twice with the same value; each counts once.")
        table = table[~same]
        against = table.duplicated([*KEYS, *also], keep=False)
        if against.any():
            apart.update(_places(table[against]))
            contradictions.append(_words(kind, table[against]))
        return table

    tables = {"measures": measures, "contributions": contributions, "repetitions": repetitions}
    kept = {kind: once(kind, table) for kind, table in tables.items() if table is not None}
    if apart:
        kept = {kind: _without(table, apart) for kind, table in kept.items()}
        advice = "name each run once, or give two sessions of a day two names."
        if kept["measures"].empty:
            raise DataError(f"{contradictions[0]}, and no measure is left to be laid beside another; {advice}")
        whole = "1 trial is" if len(apart) == 1 else f"{len(apart)} trials are"
        said.append(f"{contradictions[0]}; {whole} left out of the whole study: {advice}")
    kept = {kind: table.reset_index(drop=True) for kind, table in kept.items()}
    trials = frozenset(place[: len(TRIAL)] for place in apart)
    return Settled(kept["measures"], kept.get("contributions"), kept.get("repetitions"), trials)


def _places(rows: pd.DataFrame) -> list[Key]:
    """The trial of every row; the repetition where no trial is named."""
    where = rows[list(KEYS)].copy()
    where.loc[where["trial"] != "", ["side", "repetition"]] = ""
    return list(where.itertuples(index=False, name=None))


def _without(table: pd.DataFrame, apart: set[Key]) -> pd.DataFrame:
    return table[np.array([place not in apart for place in _places(table)], dtype=bool)]


def _words(kind: str, rows: pd.DataFrame) -> str:
    first = rows.iloc[0]
    where = ", ".join(f"{k} {first[k]}" for k in KEYS if first[k])
    what = f"{first['measure']} of {where}" if "measure" in rows.columns else where
    return f"{len(rows)} rows of {kind} contradict one another, the first {what}"
