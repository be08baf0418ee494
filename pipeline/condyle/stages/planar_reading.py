"""What a kneecap-only view would have said of each repetition, and whether the three-dimensional cause agrees."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import SIDES
from condyle.stages.accounts import Row
from condyle.stages.causes import Limits
from condyle.stages.planar_view import SHOWN_IN, planar_measures, view_of

# the part that a view of the kneecap alone usually blames for its reading
BLAMES = {"knee_in": "at_the_hip", "knee_out": "at_the_hip", "straight": "none"}


class PlanarReading(NamedTuple):
    """One repetition: what was read in the frontal view and through the camera, and the planar measures."""

    frontal: str
    camera: str
    kneecap: str  # what was followed: patella, else knee (its centre), else lateral_epicondyle
    measures: dict[str, float]

    @property
    def told_apart(self) -> bool:
        """Whether both were read, and not alike."""
        return "" not in (self.frontal, self.camera) and self.frontal != self.camera


def planar_readings(
    trial: xr.Dataset, rows: list[Row], measured: list[dict[str, float]], limits: Limits, least_shown: float
) -> list[PlanarReading]:
    """The reading of every repetition; ``measured`` holds its measures by name, ``least_shown`` is a share, 0 to 1."""
    out: dict[int, PlanarReading] = {}
    for side in {r.side for r in rows}:
        mine = [k for k, r in enumerate(rows) if r.side == side]
        view, with_patella = view_of(trial, [rows[k] for k in mine], limits["sole_mm"].value)
        planar = planar_measures(view, side, limits, least_shown)
        knee_only, ankle_only = trial.variables["lateral_only"].values[SIDES.index(side)].tolist()
        if knee_only or ankle_only:  # FPPA of whatever kind stands on centres
            of_centres = [n for n in planar if n.startswith("fppa") or n in SHOWN_IN.values()]
            planar |= {name: np.full(len(mine), np.nan) for name in of_centres}
        knee = "lateral_epicondyle" if knee_only else "knee"
        for place, k in enumerate(mine):
            kneecap = "patella" if with_patella[place] else knee
            own = {name: float(values[place]) for name, values in planar.items()}
            out[k] = _reading(measured[k], own, kneecap, limits)
    return [out[k] for k in range(len(rows))]


def _reading(measured: dict[str, float], planar: dict[str, float], kneecap: str, limits: Limits) -> PlanarReading:
    turns = measured[f"{kneecap}_reversals"], measured[f"{kneecap}_path_ratio"]
    flat = measured[f"{kneecap}_travel"], measured[f"{kneecap}_path_angle_descent"], measured["fppa_at_bottom"]
    seen = planar["kneecap_camera_travel"], planar["kneecap_camera_path_angle"], planar["fppa_camera_at_bottom"]
    return PlanarReading(_read(flat, turns, limits), _read(seen, turns, limits), kneecap, planar)


def misread(reading: str, cause: str) -> str:
    """'yes' where the reading blames another part than the cause, 'no' where not, '' where it cannot be said."""
    if reading not in BLAMES or not judged(BLAMES[reading], cause):
        return ""
    return "no" if BLAMES[reading] == cause else "yes"


def judged(blamed: str, cause: str) -> bool:
    """Whether a cause can say that a blame is right or wrong: not while it is open, and of the hip not where the leg did it
    and hip and knee are not told apart.
    """
    return cause not in ("", "not_separable") and not (cause == "in_the_leg" and blamed == "at_the_hip")


def _read(signs: tuple[float, float, float], turns: tuple[float, float], limits: Limits) -> str:
    """knee_in, knee_out, wavering, straight, from travel, path angle and FPPA, and from reversals and path ratio.

    Empty where a sign is not known and those that are do not decide. Turns that could not be counted are none.
    """
    (travel, angle, fppa), (reversals, ratio) = signs, turns
    if np.isnan(travel):
        return ""
    turning = reversals >= limits["wavering_reversals"].value
    if turning and (abs(angle) < limits["straight_path_deg"].value or ratio >= limits["wavering_path_ratio"].value):
        return "wavering"
    marked = ((travel, "travel_mm"), (angle, "path_angle_deg"), (fppa, "fppa_deg"))
    needed, unknown = limits["signs_needed"].value, sum(np.isnan(value) for value, _ in marked)
    known = {
        word: sum(sign * value >= limits[name].value for value, name in marked)
        for word, sign in (("knee_in", 1.0), ("knee_out", -1.0))
    }
    decided = next((word for word, count in known.items() if count >= needed), "")
    return decided or ("" if max(known.values()) + unknown >= needed else "straight")
