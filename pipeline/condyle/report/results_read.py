"""The results of one session, read back from their folder. Nothing is computed here; what is absent is empty."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd
import xarray as xr

from condyle.files.manifest import read_manifest
from condyle.files.netcdf import read_trial
from condyle.findings import Finding

_TEXT = (
    *("participant", "session", "trial", "task", "condition", "side", "measure", "unit", "source", "direction"),
    *(
        "cause",
        "explains",
        "from_below",
        "findings",
        "planar_reading",
        "misread",
        "subject",
        "check",
        "verdict",
        "advice",
        "overridden",
    ),
)
TABLES = ("measures", "contributions", "repetitions", "summary", "curves", "quality")


@dataclass
class Results:
    """The tables, the manifest and the trials (read when first asked for) of one session."""

    folder: Path
    manifest: dict[str, Any]
    tables: dict[str, pd.DataFrame]
    _trials: dict[str, xr.Dataset] = field(default_factory=dict)

    @property
    def participant(self) -> str:
        """Pseudonym of the participant."""
        return str(self.manifest.get("participant", "")) or self._from_tables("participant")

    @property
    def session(self) -> str:
        """Name of the session."""
        return str(self.manifest.get("session", "")) or self._from_tables("session")

    @property
    def declared(self) -> dict[str, Any]:
        """What the session file said."""
        found = self.manifest.get("settings", {}).get("session", {})
        return found if isinstance(found, dict) else {}

    @property
    def stages(self) -> dict[str, dict[str, Any]]:
        """The stages that the pipeline had, each with its settings; empty in results whose manifest does not say."""
        pipeline = self.manifest.get("settings", {}).get("pipeline")
        listed = pipeline.get("stages") if isinstance(pipeline, dict) else None
        found: dict[str, dict[str, Any]] = {}
        for entry in listed if isinstance(listed, list) else []:
            found |= (
                {n: s if isinstance(s, dict) else {} for n, s in entry.items()}
                if isinstance(entry, dict)
                else {entry: {}}
            )
        return found

    def table(self, name: str) -> pd.DataFrame:
        """A table; one without rows and columns where the session has none."""
        return self.tables.get(name, pd.DataFrame())

    def trial_names(self) -> list[str]:
        """Movement trials that have results, in the order in which they were processed."""
        there = {path.stem for path in (self.folder / "trials").glob("*.nc")}
        known = self.manifest.get("trials", {})
        refused = {name for name, state in known.items() if state == "rejected"}
        statics = serving_trials(self.declared)
        names = [n for n in known if n in there] or sorted(there)
        return [
            n for n in names if n not in refused and n not in statics and self.trial(n).attrs.get("task") != "static"
        ]

    def trial(self, name: str) -> xr.Dataset:
        """A trial with all its frames."""
        if name not in self._trials:
            self._trials[name] = read_trial(self.folder / "trials" / f"{name}.nc")
        return self._trials[name]

    def timed_findings(self, trial: str) -> list[Finding]:
        """What was found at moments of a trial, by the manifest; none in results that do not say when."""
        rows = [w for w in self.manifest.get("warnings", []) if w.get("trial") == trial and w.get("times_s")]
        return [
            Finding(
                check=str(row.get("check", "")),
                subject=str(row.get("subject", "")),
                value=row.get("value"),
                limit=row.get("limit"),
                unit=str(row.get("unit", "")),
                verdict="reject" if row.get("verdict") == "reject" else "review",
                advice=str(row.get("advice", "")),
                times_s=tuple((float(start), float(end)) for start, end in row["times_s"]),
            )
            for row in rows
        ]

    def _from_tables(self, column: str) -> str:
        for table in self.tables.values():
            if column in table and len(table):
                return str(table[column].iloc[0])
        return ""


def serving_trials(declared: Mapping[str, Any]) -> set[str]:
    """Names of the standing and calibration trials that a session file declares, which serve the others."""
    entries = [e for key in ("calibration", "trials") for e in declared.get(key) or () if isinstance(e, dict)]
    standing = [*(declared.get("static") or ()), *(e.get("static") for e in entries)]
    standing += [e for e in entries if "for" in e]
    return {_called(entry) for entry in standing if entry}


def _called(entry: Any) -> str:
    """What a trial is called: its ``name:``, else the stem of its file."""
    if isinstance(entry, Mapping):
        return str(entry.get("name") or Path(str(entry.get("file", ""))).stem)
    return Path(str(entry)).stem


def read_results(folder: Path, kept_back: Mapping[str, Any] | None = None) -> Results:
    """Everything that a session left in ``folder``; ``kept_back`` stands over what its manifest says."""
    tables = {name: read_table(folder / f"{name}.csv") for name in TABLES if (folder / f"{name}.csv").is_file()}
    return Results(folder, (read_manifest(folder / "manifest.json") or {}) | dict(kept_back or {}), tables)


def read_table(path: Path) -> pd.DataFrame:
    """A table of results: text stays text (a participant may be called 010 or NA), an empty number is NaN."""
    head = pd.read_csv(path, nrows=0).columns
    text = {name: str for name in head if name in _TEXT}
    table = pd.read_csv(path, dtype=text, keep_default_na=False, na_values=[""])
    for name in text:
        table[name] = table[name].fillna("")
    return table
