"""The methods paragraph: from the settings of the runs and of the study, so that it says what was done."""

import json
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

from condyle import __version__
from condyle.files.checked import unit_of
from condyle.files.manifest import read_manifest
from condyle.study.choosing import cutoff_for
from condyle.study.outcome import PairResult
from condyle.study.settings import AgreeSettings, CutoffSetting
from condyle.study.thresholds import OPTIMISM_DRAWS

FRAMES = (
    "Segment frames followed the ISB (Wu et al. 2002) with the pelvis' origin at the mid-ASIS and the shank's Z "
    "axis in the plane of "
    "the malleoli. Hip, knee and ankle angles were Cardan angles in the sequence Z-X'-Y'' (axes of Grood & "
    "Suntay 1983); pelvis, "
    "trunk and the thigh's axial rotation Y-X'-Z'' in the participant frame (Baker 2001)."
)


def methods_paragraph(
    manifests: Sequence[Path],
    settings: AgreeSettings,
    pairs: Sequence[dict[str, Any]],
    imported: bool,
    computed: bool,
    results: Sequence[PairResult] = (),
) -> list[str]:
    """Sentences for a paper. ``pairs`` are those whose agreement means something, with counts."""
    runs = [m for m in (read_manifest(path) for path in manifests) if m is not None]
    out = [*_of_the_runs(runs)]
    if computed:
        out.append(_of_the_camera(settings))
    if imported:
        out.append(
            "Planar values were digitised by the lab and laid beside the 3D values by participant, session, "
            "trial, side and repetition."
        )
    out += _of_the_statistics(settings)
    out += _of_the_roc(results, settings)
    for pair in pairs:
        out.append(_of_a_pair(pair))
    numpy, scipy = version("numpy"), version("scipy")
    out.append(
        f"Analysed with condyle {__version__} (NumPy {numpy}, SciPy {scipy}); random numbers started from "
        f"{settings.seed}."
    )
    return out


def _of_the_runs(runs: Sequence[dict[str, Any]]) -> list[str]:
    if not runs:
        return ["The settings of the runs are not known: no manifest.json lies beside the tables."]
    stages = _distinct([_stages(run) for run in runs])
    if len(stages) > 1:
        out = [
            f"The {len(runs)} sessions were processed with {len(stages)} different settings; this has to be said "
            "or put right."
        ]
    else:
        out = []
    first = stages[0]
    filtering = first.get("filter")
    if filtering:
        how = _words(filtering)
        out.append(f"Marker courses were filtered with a zero-lag Butterworth low-pass ({how}).")
    calibrate = first.get("calibrate", {})
    if "hip_centre" in calibrate:
        out.append(f"Hip joint centres: {str(calibrate['hip_centre']).replace('_', ' ')}.")
    out.append(FRAMES)
    lab = runs[0].get("settings", {}).get("pipeline", {}).get("lab", {})
    if isinstance(lab, dict) and "anterior" in lab:
        out.append(f"The participant's heading was taken by {str(lab['anterior']).replace('_', ' ')}.")
    repetitions = first.get("repetitions")
    if repetitions:
        out.append(f"Repetitions were found from knee flexion ({_words(repetitions)}); bottom is peak knee flexion.")
    versions = _distinct([str(run.get("condyle", {}).get("version", "unknown")) for run in runs])
    out.append(f"3D kinematics by condyle {', '.join(versions)}.")
    return out


def _stages(run: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    pipeline = run.get("settings", {}).get("pipeline", {})
    stages = pipeline.get("stages", []) if isinstance(pipeline, dict) else []
    for stage in stages if isinstance(stages, list) else [{name: s} for name, s in stages.items()]:
        if isinstance(stage, dict):
            found |= {str(name): value or {} for name, value in stage.items()}
        else:
            found[str(stage)] = {}
    return found


def _distinct(items: Sequence[Any]) -> list[Any]:
    return list({json.dumps(item, sort_keys=True, default=str): item for item in items}.values())


def _words(settings: dict[str, Any]) -> str:
    parts = []
    for key, value in settings.items():
        unit = unit_of(key)
        name = key.removesuffix("_" + unit.lower().replace("/", "_per_").replace("%", "percent")).replace("_", " ")
        number = f"{value:g}" if isinstance(value, float) else str(value)
        parts.append(f"{name} {number}{f' {unit}' if unit else ''}")
    return ", ".join(parts) or "default settings"


def _of_the_camera(settings: AgreeSettings) -> str:
    c = settings.camera
    rate = f"{c.frame_rate_hz:g} frames per second" if c.frame_rate_hz else "read exactly at the bottom"
    return (
        "Planar measures were computed from the same markers: in the participant's frontal plane, in the pelvis' "
        "own, and through a virtual "
        f"pinhole camera ({c.distance_mm:g} mm away, {c.height_mm:g} mm high, yaw {c.yaw_deg:g} degrees, focal "
        f"length {c.focal_length_px:g} px, "
        f"digitising noise SD {c.pixel_noise_px:g} px, {rate})."
    )


def _of_the_statistics(settings: AgreeSettings) -> list[str]:
    return [
        "Differences are planar minus reference. Bias and limits of agreement (1.96 SD) follow Bland & Altman "
        "1986, with several pairs a "
        "participant Bland & Altman 2007; concordance Lin 1989 with the correction of 2000; ICC(2,1) and "
        "ICC(3,1) Shrout & Fleiss 1979; SEM is "
        "the root of the error's mean square and MDC95 = 1.96 sqrt(2) SEM.",
        f"Intervals of {settings.level_percent:g} % are by the published formula where every participant gave one "
        "pair, else by a cluster bootstrap "
        f"over participants ({settings.draws} samples, bias-corrected and accelerated, Efron 1987); both legs of "
        "a person are one cluster.",
    ]


def _of_the_roc(results: Sequence[PairResult], settings: AgreeSettings) -> list[str]:
    """Who was marked, by whose word, what called them, and what was taken off the best threshold; if there was a ROC."""
    drawn = [result for result in results if result.roc is not None]
    if not drawn:
        return []
    marked = _cut_offs([(r.pair.reference, r.units[1]) for r in drawn], settings.cutoffs)
    called = _cut_offs([(r.pair.planar, r.units[0]) for r in drawn], settings.planar_cutoffs)
    out = [
        "For ROC curves, repetitions beyond a stated 3D cut-off were marked: "
        f"{'; '.join(marked)}. The area under a curve is how often a marked repetition has the higher planar score than "
        "one that is not, ties half (Hanley & McNeil 1982)."
    ]
    if called:
        out.append(f"The screen's own cut-off: {'; '.join(called)}.")
    best = "The best planar threshold is that of the largest sensitivity + specificity - 1 (Youden 1950)"
    if any(result.value("sensitivity_best_corrected") for result in drawn):
        samples = min(settings.draws, OPTIMISM_DRAWS)
        best += (
            "; from its sensitivity and specificity the mean optimism over "
            f"{samples} bootstrap samples of participants was taken off (Efron 1983; Harrell et al. 1996)"
        )
    else:
        best += "; nothing was taken off for its having been chosen on the same repetitions"
    return [*out, f"{best}."]


def _cut_offs(measures: Sequence[tuple[str, str]], stated: Sequence[CutoffSetting]) -> list[str]:
    """The cut-offs that were used on the measures, each once, in the order in which they were stated."""
    unit_of_measure = [(cutoff_for(name, stated), unit) for name, unit in measures]
    used = {cutoff.measure: (cutoff, unit) for cutoff, unit in unit_of_measure if cutoff is not None}
    order = [cutoff.measure for cutoff in stated]
    return [
        f"{_plain(cutoff.measure)} {cutoff.beyond} {cutoff.value:g} {unit} ({cutoff.source})"
        for cutoff, unit in sorted(used.values(), key=lambda found: order.index(found[0].measure))
    ]


def _of_a_pair(pair: dict[str, Any]) -> str:
    ends = f"{pair['limit_lower']:.1f} and {pair['limit_upper']:.1f} {pair['unit']}"
    return (
        f"{_plain(pair['planar'])} against {_plain(pair['reference'])} "
        f"({_plain(pair['task']) or 'task not named'}; {pair['pairs']} pairs "
        f"of {pair['participants']} participants): "
        f"bias {pair['bias']:.1f} [{pair['bias_lower']:.1f}, {pair['bias_upper']:.1f}] {pair['unit']}, limits of "
        f"agreement {ends}."
    )


def _plain(name: str) -> str:
    return name.replace("_", " ")
