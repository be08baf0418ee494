"""The statistics of one pair, task by task, and the sentences on what cannot be computed or must be asked."""

from dataclasses import replace

import numpy as np
import pandas as pd

from condyle.study.choosing import cutoff_for
from condyle.study.outcome import PairResult, Study
from condyle.study.pairing import PAIRED, unit_of_pair
from condyle.study.reading import records
from condyle.study.sample_size import sample_sizes
from condyle.study.settings import AgreeSettings, PairSetting
from condyle.study.statistics import Estimate, Sample, association_statistics, pair_statistics
from condyle.study.thresholds import threshold_statistics

_FEW = 10  # participants below which a bootstrap over them is warned of (ours)


def results_of(pair: PairSetting, table: pd.DataFrame, settings: AgreeSettings, study: Study) -> list[PairResult]:
    """One result a task: tasks are never pooled."""
    paired = table[table["status"] == PAIRED]
    out = []
    for task in sorted(set(paired["task"])):
        rows = paired[paired["task"] == task]
        name = f"{pair.planar}:{pair.reference}" + (f" ({task})" if task else "")
        x, y = (rows[f"{kind}_value"].to_numpy(dtype=float) for kind in ("planar", "reference"))
        sample = Sample(x, y, pd.factorize(rows["participant"])[0])
        result = PairResult(pair, task, sample, rows, unit_of_pair(rows))
        if _too_poor(name, sample, study):
            out.append(result)
            continue
        _say_conditions(name, rows, study)
        _compute(name, result, settings, study)
        out.append(result)
    return out


def _too_poor(name: str, sample: Sample, study: Study) -> bool:
    if sample.pairs < 2:
        study.note("one pair only: at least two are needed for any statistic", name)
        return True
    for kind, values in (("planar", sample.planar), ("reference", sample.reference)):
        if np.ptp(values) == 0:
            words = f"every {kind} value is the same: correlations, slopes and reliability say nothing and stay empty"
            study.note(words, name)
    if sample.participants == 1:
        study.note("all pairs come from one participant: no interval, and nothing on other people, can be given", name)
    elif sample.participants < _FEW and not sample.one_each:
        words = f"{sample.participants} participants: bootstrap intervals from fewer than {_FEW} are too narrow"
        study.note(f"{words}, and from fewer than 5 none is to be trusted", name)
    return False


def _say_conditions(name: str, rows: pd.DataFrame, study: Study) -> None:
    conditions = sorted(set(rows["condition"]) - {""})
    if len(conditions) > 1:
        study.note(f"pairs under different conditions stand together: {' | '.join(conditions)}", name)


def _compute(name: str, result: PairResult, settings: AgreeSettings, study: Study) -> None:
    pair, sample, units = result.pair, result.sample, result.units
    asked = (settings.draws, settings.seed, settings.level)
    note = "" if pair.same_quantity else "not one quantity: written for the record, no agreement to be claimed"
    if units[0] == units[1]:
        found = pair_statistics(sample, units[1], *asked)
        result.estimates += [replace(e, note=note) for e in found]
        if pair.same_quantity:
            result.sizes = sample_sizes(sample, settings.half_widths, settings.level)
            for size in records(result.sizes):
                words = f"half width {size['half_width']:g} {units[1]}, {size['pairs_each']:g} pairs each"
                result.estimates.append(Estimate("participants_for_limits", size["participants"], unit="1", note=words))
    elif pair.same_quantity:
        own, wanted = (unit or "no unit" for unit in units)
        study.note(f"planar values in {own} cannot be converted to {wanted}: no differences are taken", name)
    result.estimates += association_statistics(sample, units, *asked)
    _ask_for_sign(name, result, study)
    cutoff = cutoff_for(pair.reference, settings.cutoffs)
    if cutoff is None:
        brief = "no cut-off is stated for the reference, so there is no ROC; one is stated with --cutoff"
        study.note(brief.replace("the reference", pair.reference), name, brief)
        return
    screen = cutoff_for(pair.planar, settings.planar_cutoffs)
    estimates, result.roc, sentence = threshold_statistics(sample, cutoff, screen, pair.runs, *asked)
    result.estimates += estimates
    if sentence:
        brief = (
            "there is no ROC, for every or no repetition lies beyond the 3D cut-off; another is stated with --cutoff"
        )
        study.note(sentence, name, brief)


def _ask_for_sign(name: str, result: PairResult, study: Study) -> None:
    """A correlation on the wrong side of 0 with its whole interval: ask, never turn a sign by ourselves."""
    r = result.value("pearson_r")
    if r is None or result.pair.runs == "unknown" or not np.isfinite(r.lower):
        return
    wrong = r.lower > 0 if result.pair.runs == "opposite" else r.upper < 0
    if wrong:
        result.sign_in_question = True
        planar, way = result.pair.planar, "fall" if result.pair.runs == "together" else "rise"
        study.questions.append(
            f"{name}: planar values {way} where the reference rises (r {r.value:.2f} [{r.lower:.2f}, {r.upper:.2f}]): "
            f"is the planar sign the other way round? Nothing was turned; if so, run again with --flip {planar}, "
            f"else say how they run with --pair {planar}:{result.pair.reference}:"
            f"{'opposite' if result.pair.runs == 'together' else 'together'}."
        )
