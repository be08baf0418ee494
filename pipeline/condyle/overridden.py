"""Which of many trials were rejected by quality and let through by their session files, and why: named in every table."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import pandas as pd

Trial = tuple[str, str, str]  # participant, session, trial
OVERRIDDEN = "overridden"  # the last column of every table of values
_TRIAL = ("participant", "session", "trial")


@dataclass(frozen=True)
class Overridden:
    """What was let through of each trial, with the reasons; trials of which nothing was are not in it."""

    words: Mapping[Trial, str] = field(default_factory=dict)

    def of_rows(self, rows: pd.DataFrame) -> list[str]:
        """For each row, what was let through of its trial; empty where nothing was."""
        return [self.words.get(trial, "") for trial in _trials(rows)] if self.words else [""] * len(rows)

    def together(self, trials: Iterable[Trial]) -> str:
        """What was let through of these trials, each named once; empty where nothing was."""
        return "; ".join(self._named(trial) for trial in dict.fromkeys(trials) if trial in self.words)

    def of_all(self, rows: pd.DataFrame) -> str:
        """The same of the trials of all rows."""
        return self.together(_trials(rows)) if self.words else ""

    def said(self) -> list[str]:
        """A sentence for the reader; none where nothing was let through."""
        if not self.words:
            return []
        count = len(self.words)
        trials = (
            "1 trial that quality had rejected is" if count == 1 else f"{count} trials that quality had rejected are"
        )
        names = "; ".join(self._named(trial) for trial in self.words)
        return [f"{trials} among these values, let through by the session file: {names}."]

    def _named(self, trial: Trial) -> str:
        return f"{' '.join(part for part in trial if part)}: {self.words[trial]}"


def together(parts: Iterable[Overridden]) -> Overridden:
    """What was let through in any of these."""
    return Overridden({trial: words for part in parts for trial, words in part.words.items()})


def overridden_in(*tables: pd.DataFrame | None) -> Overridden:
    """What the tables of the runs say was let through; an older table that does not say, says nothing."""
    found: dict[Trial, str] = {}
    for table in tables:
        if table is None or OVERRIDDEN not in table.columns:
            continue
        words = table[OVERRIDDEN].fillna("").astype(str)
        rows = table.loc[words != "", [*_TRIAL, OVERRIDDEN]].drop_duplicates()
        found |= {trial: str(said) for trial, said in zip(_trials(rows), rows[OVERRIDDEN], strict=True)}
    return Overridden(found)


def _trials(rows: pd.DataFrame) -> list[Trial]:
    return list(rows[list(_TRIAL)].itertuples(index=False, name=None))
