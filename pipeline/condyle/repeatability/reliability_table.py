"""Standard error and minimal detectable change of every measure, from repeat sessions of the same people."""

from collections.abc import Hashable
from typing import Any

import numpy as np
import pandas as pd

from condyle.measure_dictionary import MEASURES
from condyle.mechanics.reliability import intraclass, mean_squares, minimal_change
from condyle.overridden import OVERRIDDEN, Trial, together
from condyle.repeatability.gathering import Gathered, angle_rows

COLUMNS = (
    *("task", "side", "measure", "unit", "participants", "sessions", "repetitions"),
    *("sem_mean", "mdc95_mean", "sem_single", "mdc95_single", "icc_2_1", "icc_3_1"),
    OVERRIDDEN,
)

# ours: the 95 % interval (Shrout & Fleiss 1979) of an ICC of .8 from two sessions of ten people is .4 to .95, of five
# people 0 to .98; Koo & Li 2016 (J Chiropr Med 15:155) advise 30 (from memory)
FEWEST_PEOPLE = 10
ROUNDING = 1e-6  # ours, in the measure's unit: far below what any marker system resolves


def reliability_table(sessions: list[Gathered]) -> pd.DataFrame:
    """One row per task and measure, both sides pooled as repeats of their own leg.

    ``sem_mean`` is the square root of the mean square within participants of the session means (one-way analysis of
    variance; Weir 2005), ``sem_single`` adds the spread between the repetitions of one session; ``mdc95`` is
    1.96 sqrt(2) SEM. Legs measured once, and quantities that do not vary, are left out. ICCs: :func:`_intraclass`.
    """
    rows = [row for g in sessions for row in _rows(g)]
    if not rows:
        return pd.DataFrame({name: [] for name in COLUMNS})
    table = pd.DataFrame(rows)
    let_through = together(g.overridden for g in sessions)
    out = []
    for (task, measure), group in table.groupby(["task", "measure"], sort=False):
        row = _reliability(group)
        if row is not None:
            unit = MEASURES[str(measure)].unit if str(measure) in MEASURES else "deg"
            words = let_through.together(row.pop("trials"))
            out.append({"task": task, "side": "both", "measure": measure, "unit": unit, **row, OVERRIDDEN: words})
    return pd.DataFrame(out, columns=list(COLUMNS))


def _rows(g: Gathered) -> list[dict[str, object]]:
    """Mean, spread and number of a session's valid repetitions, per side and measure."""
    key = {"participant": g.participant, "session": g.session}
    once = {"task": "static", "variance": 0.0, "n": 1, "trials": (g.standing_trial,)}
    out: list[dict[str, object]] = [
        {**key, **once, "mean": r["value"], **{k: r[k] for k in ("side", "measure")}} for r in angle_rows(g)
    ]
    if len(g.measures):
        values = g.measures.dropna(subset=["value"])
        grouped = values.groupby(["task", "side", "measure"], sort=False)["value"].agg(["mean", "var", "count"])
        let_through = _let_through(g)
        for row in grouped.reset_index().to_dict("records"):
            spread = 0.0 if np.isnan(row["var"]) else float(row["var"])
            more: dict[str, object] = {"mean": float(row["mean"]), "variance": spread, "n": int(row["count"])}
            more["trials"] = let_through.get((row["task"], row["side"], row["measure"]), ())
            out.append({**key, **{k: row[k] for k in ("task", "side", "measure")}, **more})
    return out


def _let_through(g: Gathered) -> dict[Hashable, tuple[Trial, ...]]:
    """Trials that quality had rejected, by task, side and measure of what they gave."""
    if not g.overridden.words:
        return {}
    rows = g.measures.loc[g.measures[OVERRIDDEN] != "", ["task", "side", "measure", "trial"]].drop_duplicates()
    groups = rows.groupby(["task", "side", "measure"], sort=False)["trial"]
    return {key: tuple((g.participant, g.session, str(name)) for name in names) for key, names in groups}


def _reliability(group: pd.DataFrame) -> dict[str, Any] | None:
    """Errors over the legs measured at least twice; None where none was, or where nothing varies beyond rounding."""
    count = group.groupby(["participant", "side"], sort=False)["mean"].transform("size")
    repeated = group[count >= 2]
    legs = [g["mean"].to_numpy(dtype=float) for _, g in repeated.groupby(["participant", "side"], sort=False)]
    if not legs:
        return None
    within = sum(float(((v - v.mean()) ** 2).sum()) for v in legs) / sum(len(v) - 1 for v in legs)
    if within <= ROUNDING**2:
        return None  # fixed by definition, such as the standing pelvis' rotation: its error would be taken for none
    between_repetitions = float(np.average(repeated["variance"], weights=np.maximum(repeated["n"] - 1, 1e-9)))
    per_session = float(repeated["n"].mean())
    single = within + between_repetitions * (1.0 - 1.0 / max(per_session, 1.0))
    sem = np.sqrt([within, single])
    mdc = minimal_change(sem)
    icc = _intraclass(repeated)
    return {
        "participants": int(repeated["participant"].nunique()),
        "sessions": int(repeated[["participant", "session"]].drop_duplicates().shape[0]),
        "repetitions": per_session,
        "sem_mean": float(sem[0]),
        "mdc95_mean": float(mdc[0]),
        "sem_single": float(sem[1]),
        "mdc95_single": float(mdc[1]),
        "icc_2_1": icc[0],
        "icc_3_1": icc[1],
        "trials": [trial for several in repeated["trials"] for trial in several],
    }


def _intraclass(group: pd.DataFrame) -> tuple[float, float]:
    """ICC(2,1) and ICC(3,1) with people as targets; NaN with too few of them, or with unequal numbers of sessions.

    The legs of a person are one cluster, not two subjects: each side is a table of people by sessions, and the mean
    squares of the sides are averaged before the ratio is taken.
    """
    squares = []
    shapes = set()
    for _, side in group.groupby("side", sort=False):
        scores = [g["mean"].to_numpy(dtype=float) for _, g in side.groupby("participant", sort=False)]
        if len(scores) < FEWEST_PEOPLE or len({len(v) for v in scores}) != 1:
            return np.nan, np.nan
        table = np.array(scores)
        shapes.add(table.shape)
        squares.append(mean_squares(table, np.ones(len(table))))
    if len(shapes) != 1:
        return np.nan, np.nan
    found = intraclass(np.mean(squares, axis=0), shapes.pop()[1])
    return float(found[1]), float(found[2])
