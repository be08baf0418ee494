"""Where a leg's repetitions lie in the frames of its trials, and where its points are in them."""

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import SEGMENT_AXES, SEGMENTS
from condyle.mechanics.path import medial_frame
from condyle.report.legs import Leg
from condyle.report.results_read import Results
from condyle.stages.measured_points import measured_points

Array = np.ndarray[Any, Any]


class Frames(NamedTuple):
    """One repetition: its trial and number, its frames, and the heading of its bout."""

    trial: str
    number: int
    start: int
    bottom: int
    end: int
    heading_deg: float


def repetitions_in(results: Results, leg: Leg) -> Iterator[Frames]:
    """The counted repetitions of a leg, with their frames."""
    counted = set(zip(leg.valid["trial"], leg.valid["repetition"], strict=True))
    for name in dict.fromkeys(leg.repetitions["trial"]):
        if not (results.folder / "trials" / f"{name}.nc").is_file():
            continue
        trial = results.trial(str(name))
        if "repetition_number" not in trial:
            continue
        number, side, start, bottom, end = (
            trial.variables[f"repetition_{n}"].values for n in ("number", "side", "start", "bottom", "end")
        )
        heading = trial.variables["heading_deg"].values
        for k in range(len(number)):
            if str(side[k]) == leg.side and (name, int(number[k])) in counted:
                yield Frames(
                    str(name), int(number[k]), int(start[k]), int(bottom[k]), int(end[k]), float(heading[start[k]])
                )


def typical(results: Results, leg: Leg) -> Frames | None:
    """The counted repetition whose FPPA change (else depth) is nearest to the median of all."""
    found = list(repetitions_in(results, leg))
    for measure in ("fppa_change", "depth"):
        rows = leg.values(measure)
        value = (
            {tuple(k): float(v) for *k, v in zip(rows["trial"], rows["repetition"], rows["value"], strict=True)}
            if len(rows)
            else {}
        )
        known = [(f, value.get((f.trial, f.number), np.nan)) for f in found]
        known = [(f, v) for f, v in known if np.isfinite(v)]
        if known:
            middle = float(np.median([v for _, v in known]))
            return min(known, key=lambda item: abs(item[1] - middle))[0]
    return found[0] if found else None


def points_of(trial: xr.Dataset, side: str, frames: slice, heading_deg: float) -> dict[str, Array]:
    """Positions (frames, 3), forward, up, medial [mm], of the measured points and of the ends of some axes."""
    points = measured_points(trial, side).turned(frames, heading_deg)
    right = SEGMENT_AXES.index("right")
    for segment, half in (("pelvis", 110.0), (f"thigh_{side[0]}", 60.0)):
        k = SEGMENTS.index(segment)
        origin = trial.variables["origin"].values[frames, k]
        axis = trial.variables["pose"].values[frames, k][..., right] * half
        centre = _knee(trial, side, frames) if segment.startswith("thigh") else origin
        what = segment.partition("_")[0]
        for end, sign in (("right", 1.0), ("left", -1.0)):
            points[f"{what}_{end}"] = medial_frame(centre + sign * axis, side, np.deg2rad(heading_deg))
    return points


def _knee(trial: xr.Dataset, side: str, frames: slice) -> Array:
    joints = [str(j) for j in trial.variables["joint"].values]
    return np.asarray(trial.variables["joint_centre"].values[frames, joints.index(f"knee_{side[0]}")])
