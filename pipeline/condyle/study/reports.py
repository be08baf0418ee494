"""Where does the report of a repetition's session lie, so that an example can be opened?"""

import os
from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from condyle.errors import DataError
from condyle.study.reading import RunTable, keyed, read_table

REPORT = "report.html"
Session = tuple[str, str]


def reports_of(runs: Sequence[RunTable]) -> dict[Session, Path]:
    """The report of each participant's session: beside a run's measures, or below the ``sessions`` of an archive.

    A session of which two different reports lie there has none: which one holds the repetition is not known.
    """
    found: dict[Session, set[Path]] = {}
    for run in runs:
        for session, path in _of_a_run(run).items():
            found.setdefault(session, set()).add(path)
    return {session: next(iter(paths)) for session, paths in found.items() if len(paths) == 1}


def with_reports(examples: pd.DataFrame, reports: dict[Session, Path], folder: Path) -> pd.DataFrame:
    """The examples with the column ``report``: its path as seen from the study's folder, empty where it is not known."""
    sessions = zip(examples["participant"], examples["session"], strict=True)
    return examples.assign(report=[_seen_from(folder, reports.get(session)) for session in sessions])


def _of_a_run(run: RunTable) -> dict[Session, Path]:
    home = run.file.resolve().parent
    if not (home / "sessions.csv").is_file():
        report = home / REPORT
        return dict.fromkeys(run.sessions, report) if report.is_file() else {}
    try:
        table = read_table(home / "sessions.csv")
    except DataError:  # the study stands without its links
        return {}
    if "folder" not in table.columns:
        return {}
    below, out = (home / "sessions").resolve(), {}
    keys = keyed(table)[["participant", "session"]].itertuples(index=False, name=None)
    for (participant, session), place in zip(keys, table["folder"], strict=True):
        report = (below / str(place) / REPORT).resolve()
        if report.is_relative_to(below) and report.is_file():
            out[participant, session] = report
    return out


def _seen_from(folder: Path, report: Path | None) -> str:
    if report is None:
        return ""
    try:
        return Path(os.path.relpath(report, folder.resolve())).as_posix()
    except ValueError:  # on another drive: no page can point there for long
        return ""
