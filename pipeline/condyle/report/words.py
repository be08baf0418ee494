"""How names, numbers and intervals are said to a reader."""

import math
from typing import Any

import pandas as pd

MINUS = "\N{MINUS SIGN}"
NONE = "\N{EN DASH}"
UNIT_WORDS = {"deg": "degrees", "mm": "mm", "s": "s", "%": "%", "1": "", "": ""}
CAUSE_SENTENCE = (
    "Cause says where the motion happened, not why: strength, pain, a stiff ankle or torsion of bone are not seen."
)
CAUTIONS = (
    "Not a medical device; screening labels are not diagnoses.",
    CAUSE_SENTENCE,
    "Skin-marker hip and knee rotations carry several degrees of soft-tissue error.",
    "Not for children, after joint replacement, or in shoes, without the lab's own reference.",
    "No statement on injury risk.",
    "'Not separable' is a result.",
    "Interpretation belongs to a licensed clinician and the lab's own protocol.",
    "Recordings of people are personal data and fall under local privacy law.",
)
SOURCE_WORDS = {
    "sagittal": "the squat itself",
    "pelvis_rotation": "the pelvis turning",
    "pelvis_obliquity": "the pelvis dropping or hiking",
    "hip_adduction": "hip adduction",
    "hip_internal_rotation": "hip rotation",
    "knee_adduction": "knee adduction",
    "knee_internal_rotation": "knee rotation",
    "foot_on_floor": "the foot on the floor",
    "ankle": "the ankle",
    "knee": "the knee",
    "remainder": "not explained by the angles",
}
CAUSE_WORDS = {
    "none": "little change: nothing to explain",
    "at_the_hip": "at the hip",
    "with_the_pelvis": "with the pelvis",
    "in_the_leg": "in the leg, hip and knee not told apart",
    "mixed": "mixed: pelvis and leg both",
    "not_separable": "not separable",
    "": "not named",
}
DIRECTION_WORDS = {
    "medial": "inward (medial)",
    "lateral": "outward (lateral)",
    "wavering": "wavering",
    "none": "straight",
}
BELOW_WORDS = {
    "little": "little motion",
    "foot_on_floor": "the foot moved on the floor",
    "ankle": "at the ankle",
    "knee": "at the knee",
    "mixed": "mixed",
    "not_separable": "not separable",
    "not_measured": "not measured",
    "": "not named",
}
MEASURE_WORDS = {
    "fppa": "FPPA",
    "knee_relative_to_hip": "knee medial of the hip",
    "thigh_axial_rotation": "thigh axial rotation",
    "shank_tilt_from_below": "shank tilt",
    "thigh_axial_rotation_from_below": "thigh axial rotation",
}
TASK_WORDS = {"single_leg_squat": "single-leg squat", "step_down": "step-down", "double_leg_squat": "double-leg squat"}


def number(value: Any, digits: int = 1) -> str:
    """A number with so many decimals, a true minus sign; a dash where there is none."""
    if value is None or not math.isfinite(value):
        return NONE
    text = f"{float(value):.{digits}f}"
    return (text[1:] if float(text) == 0.0 and text.startswith("-") else text).replace("-", MINUS)


def interval(lower: Any, upper: Any, digits: int = 1) -> str:
    """``(30 to 41)``; empty where no interval was computed."""
    if lower is None or upper is None or not (math.isfinite(lower) and math.isfinite(upper)):
        return ""
    return f"({number(lower, digits)} to {number(upper, digits)})"


def with_interval(value: Any, lower: Any, upper: Any, digits: int = 1) -> str:
    """Value, and its interval where there is one."""
    return " ".join(part for part in (number(value, digits), interval(lower, upper, digits)) if part)


def digits_for(unit: str) -> int:
    """Decimals worth reading: tenths of a degree and whole millimetres."""
    return {"deg": 1, "mm": 0, "s": 2, "%": 0, "1": 2}.get(unit, 2)


def spoken(name: str) -> str:
    """A name of a measure, source or task in plain words."""
    known = {**MEASURE_WORDS, **SOURCE_WORDS, **TASK_WORDS}
    return known.get(name) or name.replace("fppa", "FPPA").replace("_", " ")


def angle_words(name: str) -> str:
    """A joint angle as a figure's title says it."""
    text = name.replace("_", " ")
    return "FPPA" if name == "fppa" else f"{text[:1].upper()}{text[1:]}"


def joined(words: list[str], last: str = "and") -> str:
    """``a, b and c``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}" if words else ""


def repetition_words(rows: pd.DataFrame, with_trial: bool = False) -> str:
    """``repetition 2``, ``repetitions 1, 3 and 4``; with the trial's name where a leg has several trials."""
    names = [f"{row.trial} {row.repetition}" if with_trial else str(row.repetition) for row in rows.itertuples()]
    return f"repetition{'' if len(names) == 1 else 's'} {joined(names)}"
