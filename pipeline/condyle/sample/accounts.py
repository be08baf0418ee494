"""What a bout's squats really did, told as a table: frames, travel, angles at the bottom, which part moved the knee."""

from typing import Any

from condyle.sample.simulate import SimulatedTrial
from condyle.sample.truth import ANGLES, travels_of
from condyle.sample.turning import SIDES, SUFFIX


def account_of(trial: SimulatedTrial, static: SimulatedTrial, number: int) -> dict[str, Any]:
    """The truth of one bout, under both headings, for ``truth.json``."""
    bout = trial.bouts[number]
    heading = trial.heading_at_start(number)
    rows = []
    for repetition in bout.repetitions:
        row: dict[str, Any] = {
            "start_frame": repetition.start,
            "bottom_frame": repetition.bottom,
            "end_frame": repetition.end,
            "start_s": float(trial.time[repetition.start]),
            "bottom_s": float(trial.time[repetition.bottom]),
            "end_s": float(trial.time[repetition.end]),
            "complete": repetition.complete,
        }
        for name, turn in (("true_forward", 0.0), ("pelvis_at_start", heading)):
            row[name] = _under(trial, number, repetition.bottom, repetition.start, turn, repetition)
        rows.append(row)
    return {
        "side": bout.side,
        "movement": bout.movement.name,
        "words": bout.movement.words,
        "size": bout.movement.size,
        "depth": bout.movement.depth,
        "heading_at_start_deg": heading,
        "repetitions": rows,
    }


def _under(trial: SimulatedTrial, number: int, bottom: int, start: int, turn: float, repetition: Any) -> dict[str, Any]:
    side = trial.bouts[number].side
    column = SIDES.index(side)
    angles, centres = trial.angles(turn), trial.centres(turn)
    return {
        "angle_at_start": dict(zip(ANGLES, angles[start, column].tolist(), strict=True)),
        "angle_at_bottom": dict(zip(ANGLES, angles[bottom, column].tolist(), strict=True)),
        "knee": travels_of(side, centres[f"knee{SUFFIX[side]}"], repetition),
    }
