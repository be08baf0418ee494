"""One leg in one task and condition: its repetitions and what they have in common."""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
import pandas as pd

from condyle.report.results_read import Results
from condyle.report.words import spoken


class Estimate(NamedTuple):
    """A mean over valid repetitions with the mean of their 95 % limits (a misplaced marker moves all alike)."""

    value: float
    lower: float
    upper: float
    sd: float
    n: int

    @property
    def known(self) -> bool:
        """Whether there is a value."""
        return bool(np.isfinite(self.value))


NOTHING = Estimate(np.nan, np.nan, np.nan, np.nan, 0)


@dataclass(frozen=True)
class Leg:
    """The rows of the results that belong to one leg, task and condition."""

    side: str
    task: str
    condition: str
    repetitions: pd.DataFrame
    measures: pd.DataFrame
    contributions: pd.DataFrame
    curves: pd.DataFrame

    @property
    def words(self) -> str:
        """``right leg, single-leg squat``; the condition only where a session has several, see :func:`legs_of`."""
        return f"{self.side} leg, {spoken(self.task)}"

    @property
    def valid(self) -> pd.DataFrame:
        """The repetitions that count in means."""
        return self.repetitions[self.repetitions["valid"].astype(bool)]

    @property
    def overridden(self) -> str:
        """The rejects that the session file lets through in its trials, with the reasons; empty where there are none."""
        if not len(self.measures) or "overridden" not in self.measures:
            return ""
        rows = self.measures[self.measures["overridden"] != ""].drop_duplicates("trial")
        return "; ".join(f"{trial}: {words}" for trial, words in zip(rows["trial"], rows["overridden"], strict=True))

    @cached_property
    def explains(self) -> str:
        """The account that most valid repetitions' causes explain."""
        named = (
            self.valid["explains"][self.valid["explains"] != ""]
            if "explains" in self.valid
            else pd.Series([], dtype=str)
        )
        if len(named):
            return str(named.value_counts(sort=True).index[0])
        accounts = self.contributions["measure"].unique().tolist() if len(self.contributions) else []
        return "fppa" if "fppa" in accounts or not accounts else str(accounts[0])

    def sources(self, account: str) -> dict[str, Estimate]:
        """Mean contribution of every source to an account at the bottom; none where there are no contributions."""
        if account not in self._sources:
            rows = self._of_valid(self._by_measure[1].get(account))
            names = dict.fromkeys(rows["source"]) if len(rows) else {}
            self._sources[account] = {str(n): estimate(rows[rows["source"] == n]) for n in names}
        return self._sources[account]

    def change(self, account: str) -> Estimate:
        """The whole change of an account: the sum of its sources; no interval, for the tables give none of the sum."""
        rows = self._of_valid(self._by_measure[1].get(account))
        if not len(rows):
            return NOTHING
        sums = rows.groupby(["trial", "repetition"])["value"].agg(lambda v: v.sum(skipna=False)).dropna()
        if not len(sums):
            return NOTHING
        sd = float(sums.std()) if len(sums) > 1 else np.nan
        return Estimate(float(sums.mean()), np.nan, np.nan, sd, len(sums))

    def measure(self, name: str) -> Estimate:
        """Mean of a measure over the valid repetitions."""
        return estimate(self._of_valid(self._by_measure[0].get(name)))

    def values(self, name: str) -> pd.DataFrame:
        """A measure's rows, one per repetition, valid or not."""
        return self._by_measure[0].get(name, self.measures.iloc[:0])

    def unit(self, name: str) -> str:
        """Unit of a measure or an account."""
        for tables in self._by_measure:
            if name in tables:
                return str(tables[name]["unit"].iloc[0])
        return ""

    @cached_property
    def _by_measure(self) -> tuple[dict[str, pd.DataFrame], dict[str, pd.DataFrame]]:
        """Measures and contributions, split once: a report asks for hundreds of them."""
        measures, contributions = (
            {} if not len(t) else {str(n): r for n, r in t.groupby("measure", sort=False)}
            for t in (self.measures, self.contributions)
        )
        return measures, contributions

    @cached_property
    def _sources(self) -> dict[str, dict[str, Estimate]]:
        return {}

    @cached_property
    def _counted(self) -> set[tuple[str, int]]:
        return set(zip(self.valid["trial"], self.valid["repetition"], strict=True))

    def _of_valid(self, rows: pd.DataFrame | None) -> pd.DataFrame:
        if rows is None or not len(rows):
            return self.contributions.iloc[:0] if rows is None else rows
        kept = [key in self._counted for key in zip(rows["trial"], rows["repetition"], strict=True)]
        return rows if all(kept) else rows[kept]


def estimate(rows: pd.DataFrame) -> Estimate:
    """Mean, mean limits, SD and number of the rows that have a value."""
    if not len(rows):
        return NOTHING
    value, lower, upper = (rows[n].to_numpy(dtype=float) for n in ("value", "lower", "upper"))
    seen = np.isfinite(value)
    if not seen.any():
        return NOTHING
    value, lower, upper = value[seen], lower[seen], upper[seen]
    sd = float(value.std(ddof=1)) if value.size > 1 else np.nan
    return Estimate(float(value.mean()), float(lower.mean()), float(upper.mean()), sd, value.size)


def legs_of(results: Results) -> list[Leg]:
    """Every leg with repetitions, the right one first within a task and condition."""
    repetitions = results.table("repetitions")
    if not len(repetitions):
        return []
    conditions = _conditions(results)
    groups: dict[tuple[str, str, str], list[str]] = {}
    for trial, side in dict.fromkeys(zip(repetitions["trial"], repetitions["side"], strict=True)):
        task, condition = conditions.get(trial, ("", ""))
        groups.setdefault((task, condition, side), []).append(trial)
    order = {key[:2]: place for place, key in reversed(list(enumerate(groups)))}
    keys = sorted(groups, key=lambda key: (order[key[:2]], key[2] != "right"))
    return [
        Leg(key[2], key[0], key[1], *(_rows(results.table(n), groups[key], key[2]) for n in _OF_A_LEG)) for key in keys
    ]


_OF_A_LEG = ("repetitions", "measures", "contributions", "curves")


def _rows(table: pd.DataFrame, trials: list[str], side: str) -> pd.DataFrame:
    return table[table["trial"].isin(trials) & (table["side"] == side)] if len(table) else table


def _conditions(results: Results) -> dict[str, tuple[str, str]]:
    for name in ("measures", "curves"):
        table = results.table(name)
        if len(table):
            first = table.drop_duplicates("trial")
            return {str(r.trial): (str(r.task), str(r.condition)) for r in first.itertuples()}
    return {}
