"""What every draw makes of the flat views, of the balance over the foot, and of the split of hip adduction."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS, SIDES
from condyle.mechanics.adduction_split import adduction_split
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.base_of_support import outside_polygon
from condyle.mechanics.from_below import mirrored
from condyle.stages.accounts import Row
from condyle.stages.causes import Limits
from condyle.stages.drawn_accounts import Moments
from condyle.stages.drawn_points import drawn_asis, drawn_landmark
from condyle.stages.draws import Draws
from condyle.stages.observations import CORNERS
from condyle.stages.planar_view import SHOWN_IN, View, floor_under, planar_measures, view_of


class PlanarView(NamedTuple):
    """How the flat views are set: the camera's limits, and the share of a segment's length that must show."""

    limits: Limits
    least_shown: float


def planar_values(
    trial: xr.Dataset, rows: list[Row], moments: Moments, draws: Draws, frames: IntArray, planar: PlanarView
) -> dict[str, FloatArray]:
    """Planar measures (draw, repetition) of one side."""
    side, tail = rows[0].side, f"_{rows[0].side[0]}"
    if trial.variables["lateral_only"].values[SIDES.index(side)].any():
        return {}
    count, sole = len(draws.rotation), planar.limits["sole_mm"].value
    floor = floor_under(trial, frames[moments.start], tail, sole)

    def both(course: FloatArray) -> FloatArray:
        """(draw x repetition, start | bottom, 3), the height counted from the floor."""
        place = np.stack([course[:, moments.start], course[:, moments.bottom]], axis=2)
        place[..., 1] -= floor[:, None]
        return np.asarray(place.reshape(-1, 2, 3))

    hip, knee, ankle = (both(draws.joint[:, :, JOINTS.index(f"{n}{tail}")]) for n in ("hip", "knee", "ankle"))
    with_patella = np.tile(view_of(trial, rows, sole)[1], count)
    patella = both(drawn_landmark(trial, f"patella{tail}", draws, frames))
    kneecap = np.where(with_patella[:, None, None], patella, knee)
    asis = both(drawn_asis(trial, tail, draws, frames))
    pelvis = draws.rotation[:, moments.bottom, SEGMENTS.index("pelvis")].reshape(-1, 3, 3)
    found = planar_measures(View(hip, knee, ankle, kneecap, asis, pelvis), side, planar.limits, 0.0)
    found = {name: values.reshape(count, -1) for name, values in found.items()}
    # an angle that is given has its limits from every draw, one that is not has none
    for view, shown in SHOWN_IN.items():
        given = found[shown][:1] >= 100.0 * planar.least_shown
        found[f"fppa_{view}_at_bottom"] = np.where(given, found[f"fppa_{view}_at_bottom"], np.nan)
    return {name: values for name, values in found.items() if not name.startswith("leg_shown")}


def foot_values(
    trial: xr.Dataset, rows: list[Row], moments: Moments, draws: Draws, frames: IntArray, mass: FloatArray
) -> dict[str, FloatArray]:
    """Distance of the centre of mass outside the stance foot; ``mass`` (draw, frame, 3) forward, up, medial.

    NaN in the repetitions at whose bottom fewer than three corners of the foot are seen.
    """
    side = rows[0].side
    points = [drawn_landmark(trial, f"{n}_{side[0]}", draws, frames)[:, moments.bottom] for n in CORNERS]
    corners = np.stack([p[..., [0, 2]] for p in points], axis=-2)
    right = mass[:, moments.bottom, 2] * (1.0 if side == "left" else -1.0)
    place = np.stack([mass[:, moments.bottom, 0], right], axis=-1)
    return {"com_outside_foot_bottom": outside_polygon(place, corners)}


def adduction_parts(side: str, moments: Moments, draws: Draws) -> dict[str, FloatArray]:
    """The change of hip adduction by the pelvis and by the thigh, degrees."""
    pelvis, thigh = (draws.rotation[:, :, SEGMENTS.index(n)] for n in ("pelvis", f"thigh_{side[0]}"))
    if side == "left":
        pelvis, thigh = mirrored(pelvis), mirrored(thigh)
    now, then = moments.bottom, moments.start
    parts = np.rad2deg(adduction_split(pelvis[:, now], thigh[:, now], pelvis[:, then], thigh[:, then]))
    return {"hip_adduction_by_pelvis": parts[0], "hip_adduction_by_thigh": parts[1]}
