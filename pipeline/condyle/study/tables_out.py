"""The tidy tables of a study, a row a statistic."""

import pandas as pd

from condyle.overridden import OVERRIDDEN
from condyle.study.outcome import PairResult, Study
from condyle.study.sample_size import COLUMNS as SIZE_COLUMNS
from condyle.study.statistics import Estimate

AGREEMENT_COLUMNS = (
    *("planar", "reference", "same_quantity", "statistic", "value", "lower", "upper", "pairs", "participants"),
    *("task", "unit", "interval", "note", OVERRIDDEN),
)
_QUESTION = "the sign of the planar measure is in question"


def agreement_table(study: Study) -> pd.DataFrame:
    """``agreement.csv``: every statistic of every pair and task, the courses' likeness and the kappa of the causes."""
    rows = [(*_row(r, e), words) for r in study.results for words in [_overridden(study, r)] for e in r.estimates]
    for curve in study.curves:
        about = (curve.planar, curve.reference, True)
        words = study.overridden.together(curve.trials)
        for e in curve.estimates:
            counts = (curve.repetitions, curve.participants, curve.task)
            rows.append((*about, *_numbers(e), *counts, e.unit, e.interval, e.note, words))
    for task, e, repetitions, participants in study.kappa:
        rows.append(
            (
                "planar_reading",
                "cause",
                False,
                *_numbers(e),
                repetitions,
                participants,
                task,
                e.unit,
                e.interval,
                e.note,
                study.overridden.together(study.read.get(task, ())),
            )
        )
    return pd.DataFrame(rows, columns=list(AGREEMENT_COLUMNS))


def _overridden(study: Study, result: PairResult) -> str:
    return study.overridden.of_all(result.rows)


def _numbers(e: Estimate) -> tuple[str, float, float, float]:
    return e.statistic, e.value, e.lower, e.upper


def _row(result: PairResult, e: Estimate) -> tuple[object, ...]:
    note = "; ".join(words for words in (_QUESTION if result.sign_in_question else "", e.note) if words)
    pair, sample = result.pair, result.sample
    return (
        *(pair.planar, pair.reference, pair.same_quantity, *_numbers(e), sample.pairs, sample.participants),
        *(result.task, e.unit, e.interval, note),
    )


def sample_size_table(study: Study) -> pd.DataFrame:
    """``sample_size.csv``: participants for each wanted half width of the limits' intervals."""
    parts = []
    for r in study.results:
        if r.sizes is not None and not r.sizes.empty:
            front = {"planar": r.pair.planar, "reference": r.pair.reference, "task": r.task, "unit": r.units[1]}
            table = r.sizes.assign(**front)[[*front, *SIZE_COLUMNS]]
            parts.append(table.assign(**{OVERRIDDEN: _overridden(study, r)}))
    if not parts:
        return pd.DataFrame(columns=["planar", "reference", "task", "unit", *SIZE_COLUMNS, OVERRIDDEN])
    return pd.concat(parts, ignore_index=True)
