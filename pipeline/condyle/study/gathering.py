"""The values of a study: measures, contributions as measures, planar ones imported or computed, what does not count."""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from condyle.errors import DataError, UsageError
from condyle.files.netcdf import read_trial
from condyle.files.suggestion import hint
from condyle.study.body import Repetition, repetitions_of
from condyle.study.doubles import KEYS, TRIAL
from condyle.study.pairing import match
from condyle.study.pairing_words import converted_sentences
from condyle.study.planar import HALF_SHOWN, leg_shares
from condyle.study.reading import Tables, read_values
from condyle.study.settings import AgreeSettings, PairSetting
from condyle.unit_conversion import unit_name

LEFT_OUT = "the repetition is marked invalid"


def planar_from_trials(tables: Tables, settings: AgreeSettings) -> tuple[list[Repetition], list[str]]:
    """The repetitions in the trial files, for planar measures, courses and the camera; of two files of a trial one counts."""
    found: list[Repetition] = []
    said: list[str] = []
    done = set(tables.apart)
    for path in tables.trials:
        try:
            trial = read_trial(path)
        except DataError as error:
            said.append(f"{error} Its planar measures are left out.")
            continue
        needed = {"joint_centre", "pose", "angle", "point"} - set(map(str, trial.variables))
        if str(trial.attrs.get("task", "")) in ("static", "calibration", "other") or needed:
            continue
        whose = tuple(str(trial.attrs.get(name, "")) for name in TRIAL)
        if whose in done:
            continue
        done.add(whose)
        found += list(repetitions_of(trial, _rows_of(tables.repetitions, trial.attrs)))
    if tables.trials and not found and not tables.apart:
        said.append(
            "The trials beside the measures hold no repetition with poses: no planar measure is computed from markers."
        )
    short = sum(_hardly_shown(r, settings) for r in found)
    if short:
        said.append(
            f"In {short} of {len(found)} repetitions the camera shows less than half of a thigh's or shank's "
            "length at the bottom; "
            "their projection angles stand on a short line and are to be read with care (under 30 % none is given)."
        )
    return found, said


def _hardly_shown(repetition: Repetition, settings: AgreeSettings) -> bool:
    shares = [share[50] for share in leg_shares(repetition, "camera", settings.camera)]
    return bool(min(shares) < HALF_SHOWN)


def _rows_of(table: pd.DataFrame | None, identity: dict[str, Any]) -> pd.DataFrame | None:
    if table is None:
        return None
    same = np.ones(len(table), dtype=bool)
    for name in ("participant", "session", "trial"):
        same &= (table[name] == str(identity.get(name, ""))).to_numpy()
    return table[same]


def with_contributions(tables: Tables) -> pd.DataFrame:
    """Measures, and the contributions as measures of their own: ``fppa_by_hip_adduction`` and so on."""
    contributions = tables.contributions
    if contributions is None or not {"measure", "source", "value"} <= set(contributions.columns):
        return tables.measures
    rows = contributions[[*KEYS, "task", "condition", "bout"]].copy()
    rows["measure"] = contributions["measure"].astype(str) + "_by_" + contributions["source"].astype(str)
    rows["value"] = pd.to_numeric(contributions["value"], errors="coerce").astype(float)
    rows["unit"] = contributions["unit"].astype(str) if "unit" in contributions.columns else "deg"
    tasks = tables.measures.drop_duplicates(list(KEYS)).set_index(list(KEYS))["task"]
    lost = rows["task"] == ""
    if lost.any():
        where = pd.MultiIndex.from_frame(rows.loc[lost, list(KEYS)])
        rows.loc[lost, "task"] = tasks.reindex(where).fillna("").to_numpy()
    return pd.concat([tables.measures, rows], ignore_index=True)


def mark_invalid(values: pd.DataFrame, repetitions: pd.DataFrame | None) -> pd.DataFrame:
    """The values with a column ``left_out``: why a repetition does not count; empty where it does."""
    out = values.assign(left_out="")
    if repetitions is None or "valid" not in repetitions.columns:
        return out
    invalid = repetitions[repetitions["valid"].astype(str).str.lower().isin(["false", "0", "no"])]
    bad = set(invalid[list(KEYS)].itertuples(index=False, name=None))
    if bad:
        out.loc[[key in bad for key in out[list(KEYS)].itertuples(index=False, name=None)], "left_out"] = LEFT_OUT
    return out


def matched(
    pair: PairSetting, imported: pd.DataFrame | None, computed: pd.DataFrame, reference: pd.DataFrame
) -> tuple[pd.DataFrame, str]:
    """The matching of one pair, and where its planar values come from: imported, computed or measures."""
    sources = {"imported": imported, "computed": computed, "measures": reference}
    of_reference = reference[reference["measure"] == pair.reference]
    for name, table in sources.items():
        if table is not None and (here := table["measure"] == pair.planar).any():
            return match(table[here], of_reference, (pair.planar, pair.reference), reference), name
    return match(reference[:0], of_reference, (pair.planar, pair.reference)), "measures"


def read_planar(path: Path, flip: Sequence[str], said: list[str]) -> pd.DataFrame:
    """An imported planar table, with the signs turned that the user asked for."""
    planar = read_values(path, said)
    for name in dict.fromkeys(flip):
        rows = planar["measure"] == name
        if not rows.any():
            there = sorted(planar["measure"].unique())
            raise UsageError(f"--flip {name}: {path} has no such measure{hint(name, there)}.")
        planar.loc[rows, "value"] = -planar.loc[rows, "value"]
        said.append(f"The sign of planar {name} was turned, as asked ({int(rows.sum())} values).")
    return planar


def imported_sentences(planar: pd.DataFrame, reference: pd.DataFrame, pairs: Iterable[PairSetting]) -> list[str]:
    """What was converted, and which planar measures nothing was laid against."""
    wanted: dict[str, set[str]] = {}
    for pair in pairs:
        units = reference.loc[reference["measure"] == pair.reference, "unit"].unique()
        wanted.setdefault(pair.planar, set()).update(unit_name(u) for u in units)
    out = []
    for measure, rows in planar.groupby("measure", sort=False):
        if measure in wanted:
            out += converted_sentences(rows, sorted(wanted[str(measure)]))
        else:
            out.append(
                f"Planar {measure} ({len(rows)} values) is part of no pair; name one with --pair {measure}:REFERENCE."
            )
    return out
