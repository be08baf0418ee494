"""Angles at the deepest knee flexion that all compared squats reach, where not all of them reach 60 degrees."""

from typing import Any

import numpy as np

from condyle.files.limits import load_limits
from condyle.report.legs import NOTHING, Estimate, Leg
from condyle.report.picture_curves import repetition_curves

_USUAL_DEG = 60.0  # the measures of a session have their values there


def shared_flexion(*legs: Leg) -> float | None:
    """The knee flexion [deg], in whole degrees, that every counted squat of the legs reaches on its way down.

    None where all reach 60 degrees, where nothing was seen, and where the shallowest is too shallow to judge.
    """
    downs = [down for leg in legs for down in _on_the_way_down(leg, "knee_flexion")]
    peaks = np.array([np.nanmax(down) for down in downs if np.isfinite(down).any()])
    if not peaks.size:
        return None
    deepest = float(np.floor(peaks.min()))
    too_shallow = load_limits("findings")["shallow_deg"].value
    return deepest if too_shallow <= deepest < _USUAL_DEG else None


def change_to(leg: Leg, angle: str, flexion: float) -> Estimate:
    """Change of an angle from the start to that knee flexion on the way down, over the counted squats that show both.

    No limits: errors were drawn at the start, at 60 degrees and at the bottom only.
    """
    knee, own = (_on_the_way_down(leg, name) for name in ("knee_flexion", angle))
    if not len(knee) or not len(own):
        return NOTHING
    changes = [_there(down, flexion, values) - values[0] for down, values in zip(knee, own, strict=True)]
    seen = np.array([change for change in changes if np.isfinite(change)])
    if not seen.size:
        return NOTHING
    sd = float(seen.std(ddof=1)) if seen.size > 1 else np.nan
    return Estimate(float(seen.mean()), np.nan, np.nan, sd, seen.size)


def shared_words(flexion: float | None) -> str:
    """The sentence that goes with the rows at this knee flexion; empty where there are none."""
    if flexion is None:
        return ""
    return (
        f"Not every squat reaches 60 degrees; {flexion:.0f} degrees is the deepest that all of them reach. Limits were not "
        "computed there."
    )


def _on_the_way_down(leg: Leg, column: str) -> np.ndarray[Any, Any]:
    """(repetition, percent) of a curve from the start to the bottom, of the squats that count."""
    percent, curves = repetition_curves(leg, column, valid=True)
    return curves[:, percent <= 50.0]


def _there(knee: np.ndarray[Any, Any], flexion: float, values: np.ndarray[Any, Any]) -> float:
    """The value where the knee first passes the flexion, between two percents; NaN where either was not seen."""
    passed = np.flatnonzero(knee >= flexion)
    if not passed.size:
        return np.nan
    after = int(passed[0])
    if after == 0:
        return float(values[0])
    step = knee[after] - knee[after - 1]
    share = (flexion - knee[after - 1]) / step if step > 0 else 1.0
    return float(values[after - 1] + share * (values[after] - values[after - 1]))
