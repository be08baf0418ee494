"""The tables of a study: measures, and what lies beside them, whatever of it is there."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from condyle.errors import DataError, UsageError
from condyle.overridden import OVERRIDDEN
from condyle.study.doubles import KEYS, Key, settle_doubles

CARRIED = ("task", "condition", "bout")
_SIDES = {"r": "right", "l": "left", "right": "right", "left": "left", "both": "both"}


class RunTable(NamedTuple):
    """A table of measures that was named, and whose sessions stand in it."""

    file: Path
    sessions: frozenset[tuple[str, str]]  # participant, session


@dataclass
class Tables:
    """Everything read: long tables with text keys, the trial files, and sentences on what was absent or odd."""

    measures: pd.DataFrame
    contributions: pd.DataFrame | None = None
    repetitions: pd.DataFrame | None = None
    curves: tuple[Path, ...] = ()
    trials: tuple[Path, ...] = ()
    manifests: tuple[Path, ...] = ()
    inputs: tuple[Path, ...] = ()
    runs: tuple[RunTable, ...] = ()
    apart: frozenset[Key] = frozenset()  # trials whose values contradict one another: they take no part
    sentences: list[str] = field(default_factory=list)


def read_tables(measures: Sequence[Path]) -> Tables:
    """The measures of every run named, and the repetitions, contributions, curves and trials that lie beside them."""
    if not measures:
        raise UsageError(
            "No table of measures was named; give the measures.csv or measures.parquet of at least one run."
        )
    said: list[str] = []
    files = list(dict.fromkeys(_measures_in(Path(m)) for m in measures))
    frames = [read_values(file, said) for file in files]
    folders = list(dict.fromkeys(file.resolve().parent for file in files))
    found = {name: _beside(folders, name, said) for name in _DROPPED}
    beside = {name: _joined(paths) for name, paths in found.items() if name != "curves"}
    trials = tuple(path for folder in folders for path in _below(folder, "trials", "*.nc"))
    if not trials:
        said.append(
            "No trials/*.nc lie beside the measures: no planar measure is computed from markers, and no camera "
            "is moved."
        )
    manifests = tuple(path for folder in folders for path in _below(folder, ".", "manifest.json"))
    others = [path for paths in found.values() for path in paths]
    settled = settle_doubles(pd.concat(frames, ignore_index=True), beside["contributions"], beside["repetitions"], said)
    runs = [RunTable(file, _sessions(frame)) for file, frame in zip(files, frames, strict=True)]
    return Tables(
        settled.measures,
        settled.contributions,
        settled.repetitions,
        tuple(found["curves"]),
        trials=trials,
        manifests=manifests,
        inputs=tuple([*files, *others, *trials]),
        runs=tuple(runs),
        apart=settled.apart,
        sentences=said,
    )


def _measures_in(place: Path) -> Path:
    """The table of measures of a run's folder, or of an archive's, which has it as Parquet; a file is that table itself."""
    if not place.is_dir():
        return place
    for name in _MEASURES:
        if (place / name).is_file():
            return place / name
    raise UsageError(f"{place}: holds no {' and no '.join(_MEASURES)}; name the folder of a run or of an archive.")


def _sessions(frame: pd.DataFrame) -> frozenset[tuple[str, str]]:
    return frozenset(frame[["participant", "session"]].drop_duplicates().itertuples(index=False, name=None))


def read_table(file: Path) -> pd.DataFrame:
    """A CSV or Parquet table; every CSV cell as text, so that participant 010 stays 010."""
    if not file.is_file():
        raise UsageError(f"{file}: no such file; name a measures.csv, a measures.parquet or a planar table.")
    try:
        if file.suffix.lower() == ".parquet":
            return pd.read_parquet(file)
        with file.open(encoding="utf-8-sig", errors="replace") as stream:
            head = stream.readline()
        comma_decimal = head.count(";") > head.count(
            ","
        )  # as spreadsheets write it where the comma is the decimal sign
        frame = pd.read_csv(
            file, sep=";" if comma_decimal else ",", dtype=str, keep_default_na=False, encoding="utf-8-sig"
        )
    except (OSError, ValueError, UnicodeDecodeError) as error:
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise DataError(f"{file} could not be read as a table: {reason}.") from error
    frame.columns = [str(name).strip().lower() for name in frame.columns]
    if comma_decimal:
        for name in frame.columns.intersection(["value", "lower", "upper"]):
            frame[name] = frame[name].str.replace(",", ".", regex=False)
    return frame


def read_values(file: Path, said: list[str]) -> pd.DataFrame:
    """A long table with text keys, ``measure``, ``value`` as number and ``unit``; absent columns are empty."""
    frame = read_table(file)
    needed = [name for name in ("participant", "measure", "value") if name not in frame.columns]
    if needed:
        there = ", ".join(map(str, frame.columns)) or "none"
        raise DataError(f"{file} has no column {needed[0]}; its columns are {there}.")
    out = keyed(frame)
    out["measure"] = frame["measure"].astype(str).str.strip()
    out["unit"] = frame["unit"].fillna("").astype(str).str.strip() if "unit" in frame.columns else ""
    out["value"] = _numbers(frame["value"], file, said)
    out[OVERRIDDEN] = frame[OVERRIDDEN].fillna("").astype(str) if OVERRIDDEN in frame.columns else ""
    nobody = out["participant"] == ""
    if nobody.any():
        said.append(
            f"{file}: {int(nobody.sum())} rows name no participant and are left out; an interval needs to know "
            "whose they are."
        )
    return out[~nobody].reset_index(drop=True)


def keyed(frame: pd.DataFrame) -> pd.DataFrame:
    """The key columns of a table as plain text, in one order; what is absent is empty."""
    out = pd.DataFrame(index=frame.index)
    for name in (*KEYS, *CARRIED):
        column = frame[name] if name in frame.columns else pd.Series("", index=frame.index)
        out[name] = column.map(_text)
    out["side"] = out["side"].map(lambda side: _SIDES.get(side.lower(), side))
    return out


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """The rows of a table as dictionaries by column name."""
    return [dict(zip(map(str, frame.columns), row, strict=True)) for row in frame.itertuples(index=False, name=None)]


def _text(cell: object) -> str:
    if cell is None or (isinstance(cell, float) and np.isnan(cell)) or cell is pd.NA:
        return ""
    if isinstance(cell, float | np.floating) and float(cell).is_integer():
        return str(int(cell))
    text = str(cell).strip()
    whole = text[:-2]
    return whole if text.endswith(".0") and whole.isdigit() else text


def _numbers(column: "pd.Series[str]", file: Path, said: list[str]) -> "pd.Series[float]":
    numbers = pd.to_numeric(column, errors="coerce").astype(float)
    numbers = numbers.where(np.isfinite(numbers), np.nan)
    words = column.astype(str).fillna("").str.strip()
    odd = numbers.isna() & ~words.str.lower().isin(["", "nan", "na", "n/a", "none", "<na>", "inf", "-inf"])
    if odd.any():
        row = int(np.flatnonzero(odd.to_numpy())[0]) + 2
        said.append(
            f"{file}, line {row}: value {words[odd].iloc[0]!r} is no number ({int(odd.sum())} such); it is "
            "treated as missing."
        )
    return numbers


def read_curves(files: Iterable[Path], names: Iterable[str]) -> pd.DataFrame:
    """The named curves of curves.csv files: keys as text, the rest as numbers; an absent curve is no column."""
    wanted, parts = {*KEYS, *CARRIED, "valid", "percent", *names}, []
    for file in files:
        try:
            frame = pd.read_csv(
                file, usecols=lambda c: c in wanted, dtype=dict.fromkeys((*KEYS, *CARRIED, "valid"), str)
            )
        except (OSError, ValueError) as error:
            raise DataError(f"{file} could not be read as a table of curves: {str(error).splitlines()[0]}.") from error
        parts.append(
            pd.concat([keyed(frame), frame.drop(columns=frame.columns.intersection([*KEYS, *CARRIED]))], axis=1)
        )
    if not parts:
        return pd.DataFrame()
    whole = pd.concat(parts, ignore_index=True)
    return whole.drop_duplicates([n for n in (*KEYS, "task", "percent") if n in whole.columns])  # a run named twice


def _beside(folders: Iterable[Path], name: str, said: list[str]) -> list[Path]:
    paths, without = [], []
    for folder in folders:
        ends = (".csv",) if name == "curves" else (".parquet", ".csv")
        direct = [folder / f"{name}{end}" for end in ends]
        here = [path for path in direct if path.is_file()][:1] or _below(folder, ".", f"{name}.csv")
        if not here:
            without.append(folder)
        paths += here
    if without:
        some = f"{without[0]}" + (f" and {len(without) - 1} more folders" if len(without) > 1 else "")
        said.append(f"No table of {name} lies in {some}: {_DROPPED[name]}")
    return paths


def _joined(paths: Iterable[Path]) -> pd.DataFrame | None:
    parts = []
    for path in paths:
        frame = read_table(path)
        keys = keyed(frame)
        parts.append(pd.concat([keys, frame.drop(columns=frame.columns.intersection(keys.columns))], axis=1))
    return pd.concat(parts, ignore_index=True) if parts else None


_MEASURES = ("measures.csv", "measures.parquet")
_DROPPED = {
    "contributions": "contributions are no reference there.",
    "repetitions": "there is no misreading table and no planar measure from markers there, and no repetition is "
    "known to be invalid.",
    "curves": "agreement over the whole repetition is not computed there.",
}


def _below(folder: Path, sub: str, pattern: str) -> list[Path]:
    """Files of a run in its folder, and of an archive's runs below its ``sessions``."""
    own = sorted((folder / sub).glob(pattern))
    return own or sorted((folder / "sessions").glob(f"**/{pattern}" if sub == "." else f"**/{sub}/{pattern}"))
