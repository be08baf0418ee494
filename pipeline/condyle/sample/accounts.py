"""What a bout's squats really did: frames, travel, angles at the bottom, which part moved the knee, and the verdict.

Everything is given twice: with true forward as the heading, and with the heading that a lab would take from the pelvis
in the stance before the first squat. Causes explain the change from the squat's start, or the account from standing
where the two sagittal bases differ by more than ALREADY_THERE (then the posture was already there at the start).
"""

from typing import Any

import numpy as np

from condyle.sample.causes import (
    BELOW,
    FOLLOWED,
    MEASURES,
    MEASURES_BELOW,
    Angles,
    parts_from_above,
    parts_from_below,
    verdict_from_above,
    verdict_from_below,
)
from condyle.sample.movements import FACTORS
from condyle.sample.simulate import Bout, SimulatedTrial
from condyle.sample.truth import ANGLES, Repetition, angles_of, first_rise, frames_of, travels_of
from condyle.sample.turning import MIRROR, SIDES, SUFFIX, Array

HEADINGS = ("true_forward", "pelvis_at_start")
ALREADY_THERE = 5.0  # degrees of FPPA; ours
LIMITS = {  # of a measure: the least part that can lead, and the change that is none
    "fppa": (3.0, 5.0),
    "knee_relative_to_hip": (20.0, 20.0),
    "thigh_axial_rotation": (3.0, 5.0),
}
_NINE = (*FACTORS, *FOLLOWED)


def _nine(side: str, table: Array, headings: Array) -> Angles:
    """The nine angles (repetitions, headings) from angles (repetitions, ANGLES) with true forward."""
    out = {name: np.repeat(table[:, ANGLES.index(name), None], len(headings), axis=1) for name in _NINE}
    out["pelvis_rotation"] = out["pelvis_rotation"] - MIRROR[side] * headings
    return out


def contributions(trial: SimulatedTrial, static: SimulatedTrial, number: int = 0) -> dict[str, dict[str, Array]]:
    """Parts (MEASURES, repetitions, HEADINGS) by source, of one bout.

    Keys: ``from_start`` and ``from_standing`` at the bottom, ``at_60`` from the start at 60 degrees of knee flexion on
    the way down (NaN where the squat does not reach it).
    """
    bout, person = trial.bouts[number], trial.person
    headings = np.array([0.0, trial.heading_at_start(number)])
    column = SIDES.index(bout.side)
    first, last = bout.repetitions[0].start, bout.repetitions[-1].bottom
    table = angles_of(person, frames_of(trial.motion, slice(first, last + 1)))[:, column]
    starts = table[[r.start - first for r in bout.repetitions]]
    standing = np.repeat(static.angles()[:1, column], len(bout.repetitions), axis=0)
    now = _nine(bout.side, table[[r.bottom - first for r in bout.repetitions]], headings)
    at_60 = _nine(bout.side, _at_60(table, bout, first), headings)
    lengths = (person.thigh_mm, person.shank_mm)
    start = _nine(bout.side, starts, headings)
    return {
        "from_start": parts_from_above(bout.side, *lengths, start, now),
        "from_standing": parts_from_above(bout.side, *lengths, _nine(bout.side, standing, headings), now),
        "at_60": parts_from_above(bout.side, *lengths, start, at_60),
    }


def _at_60(table: Array, bout: Bout, first: int) -> Array:
    """All angles where the knee first passes 60 degrees, between frames."""
    flexion = table[:, ANGLES.index("knee_flexion")]
    frames = [first_rise(flexion, 60.0, r.start - first, r.bottom - first) for r in bout.repetitions]
    return np.array(
        [[np.interp(f, np.arange(len(table)), column) if f >= 0 else np.nan for column in table.T] for f in frames]
    )


def contributions_below(trial: SimulatedTrial, number: int = 0) -> dict[str, Array]:
    """Parts (MEASURES_BELOW, repetitions) of foot on floor, ankle and knee, from start to bottom."""
    bout, end = trial.bouts[number], SUFFIX[trial.bouts[number].side]
    instants = ([r.start for r in bout.repetitions], [r.bottom for r in bout.repetitions])
    then, now = (
        {name: trial.motion.axes[f"{name}{end}"][frames] for name in ("foot", "shank", "thigh")} for frames in instants
    )
    return parts_from_below(bout.side, then, now)


def cause_of(parts: dict[str, dict[str, Array]], measure: str, repetition: int, heading: int) -> tuple[str, str]:
    """The cause of one measure's change in one squat, and the baseline it explains: ``start`` or ``standing``."""
    row = MEASURES.index(measure)
    one = {
        baseline: {name: float(part[row, repetition, heading]) for name, part in parts[baseline].items()}
        for baseline in ("from_start", "from_standing")
    }
    least, little = LIMITS[measure]
    apart = abs(one["from_start"]["sagittal"] - one["from_standing"]["sagittal"])
    already = apart > (20.0 if measure == "knee_relative_to_hip" else ALREADY_THERE)
    chosen = one["from_standing" if already else "from_start"]
    return verdict_from_above(chosen, least, little), "standing" if already else "start"


def account_of(trial: SimulatedTrial, static: SimulatedTrial, number: int) -> dict[str, Any]:
    """The truth of one bout as a table for ``truth.json``."""
    bout = trial.bouts[number]
    parts, below = contributions(trial, static, number), contributions_below(trial, number)
    headings = (0.0, trial.heading_at_start(number))
    rows = []
    for k, repetition in enumerate(bout.repetitions):
        row = _frames(trial, repetition)
        if repetition.complete:
            for h, (name, turn) in enumerate(zip(HEADINGS, headings, strict=True)):
                row[name] = _measured(trial, bout.side, repetition, turn) | _explained(parts, k, h)
            row |= _from_below(below, k)
        rows.append(row)
    return {
        "side": bout.side,
        "movement": bout.movement.name,
        "words": bout.movement.words,
        "size": bout.movement.size,
        "depth": bout.movement.depth,
        "rest_s": [float(trial.time[bout.rest.start]), float(trial.time[bout.rest.stop - 1])],
        "heading_at_start_deg": headings[1],
        "repetitions": rows,
    }


def _frames(trial: SimulatedTrial, repetition: Repetition) -> dict[str, Any]:
    where = {"start": repetition.start, "bottom": repetition.bottom, "end": repetition.end}
    row: dict[str, Any] = {f"{name}_frame": frame for name, frame in where.items()}
    row |= {f"{name}_s": float(trial.time[frame]) for name, frame in where.items()}
    return row | {"complete": repetition.complete}


def _measured(trial: SimulatedTrial, side: str, repetition: Repetition, turn: float) -> dict[str, Any]:
    """Angles at start and bottom, travel of knee centre and patella."""
    end = SUFFIX[side]
    here = slice(repetition.start, repetition.end + 1)
    motion = frames_of(trial.motion, here, turn)
    angles = angles_of(trial.person, motion)[:, SIDES.index(side)]
    bottom = repetition.bottom - repetition.start
    patella_segment, patella = trial.person.points[f"patella{end}"]
    places = {
        "knee": motion.origin[f"thigh{end}"],
        "patella": motion.origin[patella_segment] + motion.axes[patella_segment] @ patella,
        "pelvis": motion.origin["pelvis"],
    }
    local = Repetition(0, bottom, repetition.end - repetition.start, True)
    return {
        "angle_at_start": dict(zip(ANGLES, angles[0].tolist(), strict=True)),
        "angle_at_bottom": dict(zip(ANGLES, angles[bottom].tolist(), strict=True)),
        **{name: travels_of(side, place, local) for name, place in places.items()},
    }


def _explained(parts: dict[str, dict[str, Array]], k: int, h: int) -> dict[str, Any]:
    """Contributions and causes of one squat under one heading."""
    told: dict[str, Any] = {"contributions": {}, "cause": {}, "explains_change_from": {}}
    for row, measure in enumerate(MEASURES):
        for key, suffix in (("from_start", ""), ("from_standing", "_from_standing"), ("at_60", "_at_60_knee_flexion")):
            values = {name: float(part[row, k, h]) for name, part in parts[key].items()}
            if not np.isnan(list(values.values())).any():
                told["contributions"][measure + suffix] = values
        told["cause"][measure], told["explains_change_from"][measure] = cause_of(parts, measure, k, h)
    return told


def _from_below(below: dict[str, Array], k: int) -> dict[str, Any]:
    values = {
        measure: {name: float(below[name][row, k]) for name in BELOW} for row, measure in enumerate(MEASURES_BELOW)
    }
    tilt, turn = (verdict_from_below(values[measure]) for measure in MEASURES_BELOW)
    return {
        "contributions_from_below": values,
        "from_below_by_measure": dict(zip(MEASURES_BELOW, (tilt, turn), strict=True)),
        "from_below": turn if tilt == "little" else tilt,  # where the knee went; where it did not, how the thigh turned
    }
