"""How often does the planar reading blame the hip for what the pelvis did, and the other way round?"""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.reliability import kappa
from condyle.mechanics.resampling import share_interval
from condyle.overridden import OVERRIDDEN
from condyle.stages.planar_reading import BLAMES, judged
from condyle.study.doubles import KEYS
from condyle.study.outcome import Study
from condyle.study.planar_rule import HIP, PELVIS, Rule, shipped_rule, sweep
from condyle.study.statistics import BOOTSTRAP, Estimate, bootstrapped

COLUMNS = (
    *("task", "rule", "swept", "travel_mm", "path_angle_deg", "fppa_deg", "band", "misreading"),
    *("count", "of", "share", "lower", "upper", "participants", "mix", OVERRIDDEN),
)
EXAMPLE_COLUMNS = (*KEYS, "task", "cause", "planar_reading", "travel", "path_angle", "fppa", "misreading")
RECORDED = "as recorded by the run"
_MEASURES = {  # what the rule looks at: the measures that give it, the first that is there
    "travel": ("patella_travel", "knee_travel", "lateral_epicondyle_travel"),
    "path_angle": ("patella_path_angle_descent", "knee_path_angle_descent", "lateral_epicondyle_path_angle_descent"),
    "fppa": ("fppa_at_bottom",),
    "reversals": ("patella_reversals", "knee_reversals", "lateral_epicondyle_reversals"),
    "path_ratio": ("patella_path_ratio", "knee_path_ratio", "lateral_epicondyle_path_ratio"),
}


def misreading(study: Study) -> None:
    """Fill in the study's misreading table, its examples and the kappa of the causes; a sentence where it cannot."""
    study.misreading = pd.DataFrame(columns=list(COLUMNS))
    study.examples = pd.DataFrame(columns=list(EXAMPLE_COLUMNS))
    seen = _seen(study)
    if seen is None:
        return
    shipped = shipped_rule()
    rows: list[dict[str, Any]] = []
    examples = []
    for task, of_task in seen.groupby("task", sort=True):
        mix = _mix(of_task)
        study.read[str(task)] = list(of_task[["participant", "session", "trial"]].itertuples(index=False, name=None))
        for rule in sweep(study.settings.reading, shipped):
            blamed, decided = rule.blames_the_hip(of_task)
            about = {
                **{"task": task, "rule": rule.words, "swept": rule.swept, "mix": mix},
                **{n: getattr(rule, n) for n in ("travel_mm", "path_angle_deg", "fppa_deg")},
            }
            read = of_task[decided]
            rows += [{**about, **row} for row in _counted(read, blamed[decided], study)]
            if rule == shipped:
                examples.append(_examples(read, blamed[decided]))
        rows += [
            {"task": task, "rule": RECORDED, "swept": False, "mix": mix, **row} for row in _recorded(of_task, study)
        ]
        rows += [{"task": task, "rule": "", "swept": False, "mix": mix, **row} for row in _causes(of_task, study)]
        study.kappa += _kappa(str(task), of_task, study)
    study.misreading = pd.DataFrame(rows).reindex(columns=list(COLUMNS))
    of_task_words = {task: study.overridden.together(trials) for task, trials in study.read.items()}
    study.misreading[OVERRIDDEN] = study.misreading["task"].map(of_task_words)
    study.examples = pd.concat(examples, ignore_index=True)


def _seen(study: Study) -> pd.DataFrame | None:
    """One row per valid repetition with a cause: cause, recorded reading, and what the rule looks at."""
    table = study.tables.repetitions
    if table is None:
        return None
    if "cause" not in table.columns or not (_text(table, "cause") != "").any():
        study.said.append(
            "The repetitions name no cause (the pipeline ran without `contributions`): there is no misreading table."
        )
        return None
    valid = ~_text(table, "valid").str.lower().isin(["false", "0", "no"])
    out = table.loc[valid & (_text(table, "cause") != ""), list(KEYS)].copy()
    for name in ("cause", "planar_reading", "misread"):
        out[name] = _text(table, name).loc[out.index]
    out["blamed"] = out["planar_reading"].map(lambda word: BLAMES.get(word, word))
    wide = _measures(study.tables.measures)
    out = out.merge(wide, on=list(KEYS), how="left")
    out["task"] = out["task"].fillna("")
    lost = ~shipped_rule().blames_the_hip(out)[1]
    if lost.any():
        study.said.append(
            f"In {int(lost.sum())} of {len(out)} repetitions travel, path angle or FPPA is missing and the others do not "
            "decide; the planar rule reads none of them, and they are in no count of it."
        )
    return out


def _text(table: pd.DataFrame, name: str) -> "pd.Series[str]":
    if name not in table.columns:
        return pd.Series("", index=table.index)
    return table[name].fillna("").astype(str).str.strip()


def _measures(measures: pd.DataFrame) -> pd.DataFrame:
    names = [name for group in _MEASURES.values() for name in group]
    rows = measures[measures["measure"].isin(names)]
    keys = [*KEYS, "task"]
    wide = rows.pivot_table(index=keys, columns="measure", values="value", aggfunc="first").reset_index()
    out = measures[keys].drop_duplicates(list(KEYS)).merge(wide, on=keys, how="left")
    for short, group in _MEASURES.items():
        value = pd.Series(np.nan, index=out.index)
        for name in group:
            value = value.fillna(out[name]) if name in out.columns else value
        out[short] = value
    return out[[*keys, *_MEASURES]]


def _counted(seen: pd.DataFrame, blamed: BoolArray, study: Study) -> Iterator[dict[str, Any]]:
    cause = seen["cause"].to_numpy()
    named = ~np.isin(cause, ["not_separable", ""])
    of_hip = _of_the_hip(seen)
    kinds = {
        "hip_blamed_for_pelvis": (cause == PELVIS, blamed),
        "hip_not_blamed_for_hip": (cause == HIP, ~blamed),
        "hip_blamed_wrongly": (blamed & of_hip, cause != HIP),
        "hip_blamed_cannot_be_judged": (blamed & named, ~of_hip),
    }
    for band, inside in _bands(seen, study.settings.reading.travel_bands_mm):
        for kind, (among, hit) in kinds.items():
            yield {"band": band, "misreading": kind, **_share(seen, among & inside, hit, study)}


def _of_the_hip(seen: pd.DataFrame) -> BoolArray:
    """Which rows' causes can say whether blaming the hip is right, by the rule behind ``misread``."""
    can = {cause: judged(HIP, cause) for cause in seen["cause"].unique()}
    return seen["cause"].map(can).to_numpy(dtype=bool)


def _bands(seen: pd.DataFrame, edges: tuple[float, ...]) -> Iterator[tuple[str, BoolArray]]:
    yield "all", np.ones(len(seen), dtype=bool)
    size = seen["travel"].abs().to_numpy(dtype=float)
    for low, high in zip(edges, [*edges[1:], np.inf], strict=True):
        yield f"{low:g} to {high:g} mm" if np.isfinite(high) else f"{low:g} mm and more", (size >= low) & (size < high)


def _share(seen: pd.DataFrame, among: BoolArray, hit: BoolArray, study: Study) -> dict[str, Any]:
    person: IntArray = pd.factorize(seen["participant"])[0]
    share, low, high = share_interval(hit[among].astype(float), person[among], study.settings.level)
    people = int(np.unique(person[among]).size)
    return {
        **{"count": int((hit & among).sum()), "of": int(among.sum()), "participants": people},
        **{"share": share, "lower": low, "upper": high},
    }


def _recorded(seen: pd.DataFrame, study: Study) -> Iterator[dict[str, Any]]:
    """The reading that the run itself wrote, against its cause."""
    said = seen["blamed"].to_numpy()
    if not (said != "").any():
        return
    cause, read = seen["cause"].to_numpy(), said != ""
    kinds = {
        "hip_blamed_for_pelvis": ((cause == PELVIS) & read, said == HIP),
        "pelvis_blamed_for_hip": ((cause == HIP) & read, said == PELVIS),
        "hip_not_blamed_for_hip": ((cause == HIP) & read, said != HIP),
        "misread": (
            np.isin(seen["misread"].str.lower(), ["true", "false", "yes", "no", "1", "0"]),
            _true(seen["misread"]),
        ),
    }
    for band, inside in _bands(seen, study.settings.reading.travel_bands_mm):
        for kind, (among, hit) in kinds.items():
            yield {"band": band, "misreading": kind, **_share(seen, among & inside, hit, study)}


def _true(column: "pd.Series[str]") -> BoolArray:
    return np.asarray(column.str.lower().isin(["true", "yes", "1"]))


def _causes(seen: pd.DataFrame, study: Study) -> Iterator[dict[str, Any]]:
    everyone = np.ones(len(seen), dtype=bool)
    for cause in sorted(set(seen["cause"])):
        hit = (seen["cause"] == cause).to_numpy()
        yield {"band": "all", "misreading": f"mix: {cause}", **_share(seen, everyone, hit, study)}


def _mix(seen: pd.DataFrame) -> str:
    counts = seen["cause"].value_counts().sort_index()
    return "; ".join(f"{cause} {count} ({100 * count / len(seen):.0f} %)" for cause, count in counts.items())


def _examples(seen: pd.DataFrame, blamed: BoolArray) -> pd.DataFrame:
    cause = seen["cause"].to_numpy()
    kind = np.where((cause == PELVIS) & blamed, "hip_blamed_for_pelvis", "")
    kind = np.where((cause == HIP) & ~blamed, "hip_not_blamed_for_hip", kind)
    out = seen.assign(misreading=kind, size=seen["travel"].abs())
    out = out[out["misreading"] != ""].sort_values("size", ascending=False, kind="stable")
    return out[list(EXAMPLE_COLUMNS)]


def _kappa(task: str, seen: pd.DataFrame, study: Study) -> list[tuple[str, Estimate, int, int]]:
    """Cohen's kappa of what the recorded reading blames and the cause, over repetitions whose cause can judge a blame.

    Chosen by the cause alone: to leave out only those of the leg in which the hip was blamed would count against the rest.
    """
    rows = seen[(seen["blamed"] != "") & _of_the_hip(seen)]
    if len(rows) < 2:
        return []
    words = sorted(set(rows["blamed"]) | set(rows["cause"]))
    code = {word: i for i, word in enumerate(words)}
    cell: IntArray = (rows["blamed"].map(code) * len(words) + rows["cause"].map(code)).to_numpy()
    onto = (cell[:, None] == np.arange(len(words) ** 2)).astype(float)
    person: IntArray = pd.factorize(rows["participant"])[0]

    def of_weights(weight: FloatArray, _people: FloatArray) -> dict[str, FloatArray]:
        table = (weight @ onto).reshape(*weight.shape[:-1], len(words), len(words))
        return {"kappa": kappa(table)}

    s = study.settings
    value, low, high = bootstrapped(of_weights, person, s.draws, s.seed, s.level)["kappa"]
    note = (
        f"categories: {', '.join(words)}; repetitions whose cause is not separable, or in_the_leg (hip and knee not told "
        "apart), are left out"
    )
    if fixed := _fixed(rows):
        low = high = float("nan")
        note += f"; {fixed}"
    if PELVIS in words and PELVIS not in {*BLAMES.values(), *rows["blamed"]}:
        note += "; the planar reading has no word for the pelvis, so that the two cannot agree there"
    words_of_interval = BOOTSTRAP if np.isfinite(low) else ""
    return [(task, Estimate("kappa", value, low, high, words_of_interval, "1", note), len(rows), int(person.max()) + 1)]


def _fixed(rows: pd.DataFrame) -> str:
    """Why kappa can come out in one way only, whatever is drawn; empty where it can vary."""
    for name, words in (("blamed", "the planar reading blames"), ("cause", "the cause is")):
        said = rows[name].unique()
        if len(said) == 1:
            same = f"{words} {said[0]!r} in every one of these repetitions"
            return f"{same}: kappa is 0 or undefined whatever the other says, and no interval is given"
    if not set(rows["blamed"]) & set(rows["cause"]):
        return "none of what the planar reading blames is among the causes: kappa is 0 by that alone, and no interval is given"
    return ""


__all__ = ["Rule", "misreading"]
