"""Standard error and minimal detectable change of every measure, from repeat sessions of the same people."""

import numpy as np
import pandas as pd

from condyle.measure_dictionary import MEASURES
from condyle.mechanics.reliability import intraclass, mean_squares, minimal_change
from condyle.repeatability.gathering import Gathered, angle_rows

COLUMNS = (
    *("task", "side", "measure", "unit", "participants", "sessions", "repetitions"),
    *("sem_mean", "mdc95_mean", "sem_single", "mdc95_single", "icc_2_1", "icc_3_1"),
)


def reliability_table(sessions: list[Gathered]) -> pd.DataFrame:
    """One row per task and measure, both sides pooled as repeats of their own leg.

    ``sem_mean`` is the square root of the mean square within participants of the session means (one-way analysis of
    variance; Weir 2005), ``sem_single`` adds the spread between the repetitions of one session; ``mdc95`` is
    1.96 sqrt(2) SEM. ICCs are given where every leg has the same number of sessions.
    """
    rows = [row for g in sessions for row in _rows(g)]
    if not rows:
        return pd.DataFrame({name: [] for name in COLUMNS})
    table = pd.DataFrame(rows)
    out = []
    for (task, measure), group in table.groupby(["task", "measure"], sort=False):
        row = _reliability(group)
        if row is not None:
            unit = MEASURES[str(measure)].unit if str(measure) in MEASURES else "deg"
            out.append({"task": task, "side": "both", "measure": measure, "unit": unit, **row})
    return pd.DataFrame(out, columns=list(COLUMNS))


def _rows(g: Gathered) -> list[dict[str, object]]:
    """Mean, spread and number of a session's valid repetitions, per side and measure."""
    key = {"participant": g.participant, "session": g.session}
    out: list[dict[str, object]] = [
        {**key, "task": "static", "mean": r["value"], "variance": 0.0, "n": 1, **{k: r[k] for k in ("side", "measure")}}
        for r in angle_rows(g)
    ]
    if len(g.measures):
        values = g.measures.dropna(subset=["value"])
        grouped = values.groupby(["task", "side", "measure"], sort=False)["value"].agg(["mean", "var", "count"])
        for row in grouped.reset_index().to_dict("records"):
            spread = 0.0 if np.isnan(row["var"]) else float(row["var"])
            more = {"mean": float(row["mean"]), "variance": spread, "n": int(row["count"])}
            out.append({**key, **{k: row[k] for k in ("task", "side", "measure")}, **more})
    return out


def _reliability(group: pd.DataFrame) -> dict[str, object] | None:
    legs = [g["mean"].to_numpy(dtype=float) for _, g in group.groupby(["participant", "side"], sort=False)]
    repeated = [v for v in legs if len(v) >= 2]
    if not repeated:
        return None
    freedom = sum(len(v) - 1 for v in repeated)
    within = sum(float(((v - v.mean()) ** 2).sum()) for v in repeated) / freedom
    between_repetitions = float(np.average(group["variance"], weights=np.maximum(group["n"] - 1, 1e-9)))
    per_session = float(group["n"].mean())
    single = within + between_repetitions * (1.0 - 1.0 / max(per_session, 1.0))
    icc = (np.nan, np.nan)
    lengths = {len(v) for v in legs}
    if len(lengths) == 1 and len(legs) >= 2:
        score = np.array(legs)
        found = intraclass(mean_squares(score, np.ones(len(score))), score.shape[1])
        icc = (float(found[1]), float(found[2]))
    sem = np.sqrt([within, single])
    mdc = minimal_change(sem)
    return {
        "participants": int(group["participant"].nunique()),
        "sessions": int(group[["participant", "session"]].drop_duplicates().shape[0]),
        "repetitions": per_session,
        "sem_mean": float(sem[0]),
        "mdc95_mean": float(mdc[0]),
        "sem_single": float(sem[1]),
        "mdc95_single": float(mdc[1]),
        "icc_2_1": icc[0],
        "icc_3_1": icc[1],
    }
