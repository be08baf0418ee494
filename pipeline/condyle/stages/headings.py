"""Which way the participant faces in each bout, told in several ways, and what is found where these disagree."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import SEGMENTS, SIDES
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.bouts import Bout
from condyle.mechanics.heading import axis_heading, heading_of, mean_heading, off_facing
from condyle.mechanics.vertical import vertical_rotation
from condyle.stages.checks.judging import Limits

_ADVICE = "or set lab: {anterior: pelvis_at_start} in the pipeline"


class Headings(NamedTuple):
    """Headings in radians, per bout, in the frame the trial came in; ``trial`` is what the whole trial is turned by."""

    at_start: FloatArray
    by_foot: FloatArray
    chosen: FloatArray
    trial: float

    @property
    def off(self) -> FloatArray:
        """(bout,) [deg] How far the heading in use is off pelvis and stance foot, by the nearer of the two."""
        return np.rad2deg(off_facing(self.chosen, np.stack([self.at_start, self.by_foot])))


def headings_of(trial: xr.Dataset, bouts: list[Bout], pose: FloatArray) -> Headings:
    """The heading in use, as the pipeline's ``lab: anterior`` asks, beside those of the pelvis and the stance foot."""
    pelvis = pose[:, SEGMENTS.index("pelvis")]
    forward = _forward(trial)
    at_start = np.array([mean_heading(pelvis[b.stance_start : b.stance_stop]) for b in bouts])
    by_foot = np.array([_by_foot(trial, b, pose) for b in bouts])
    if _is_axis(forward):
        lab = axis_heading(vertical_rotation(str(trial.attrs["vertical"])), forward)
        chosen = np.full(len(bouts), lab)
        return Headings(at_start, by_foot, chosen, lab)
    chosen = at_start if forward == "pelvis_at_start" else np.where(np.isnan(by_foot), at_start, by_foot)
    chosen = np.where(np.isnan(chosen), mean_heading(pelvis), chosen)
    return Headings(at_start, by_foot, chosen, float(chosen[0]) if bouts else mean_heading(pelvis))


def _forward(trial: xr.Dataset) -> str:
    return str(trial.attrs.get("anterior", "pelvis_at_start"))


def _is_axis(forward: str) -> bool:
    return forward[0] in "+-"


def _by_foot(trial: xr.Dataset, bout: Bout, pose: FloatArray) -> float:
    """Heading of the stance foot, plus how far the pelvis was turned from that foot in the standing trial."""
    static = trial.variables["static_pose"].values
    pelvis = heading_of(static[SEGMENTS.index("pelvis")])
    sides = SIDES if bout.side == "both" else (bout.side,)
    found = []
    for side in sides:
        i = SEGMENTS.index(f"foot_{side[0]}")
        foot = mean_heading(pose[bout.stance_start : bout.stance_stop, i])
        found.append(foot + pelvis - heading_of(static[i]))
    return float(np.arctan2(np.mean(np.sin(found)), np.mean(np.cos(found))))


def uncertain_headings(over_foot: FloatArray, limit: float) -> list[Finding]:
    """A row for each bout in which the pelvis was turned on the stance foot (bout,) [deg] by more than the limit."""
    advice = (
        "the pelvis was turned on the stance foot before the first squat, so 'straight ahead' differs by that much between "
        "the two ways of telling it; a verdict stands only where it stands under both."
    )
    return [
        Finding("heading uncertain", f"bout {k + 1}", float(value), limit, "deg", "review", advice)
        for k, value in enumerate(over_foot)
        if abs(value) > limit
    ]


def off_the_axis(
    trial: xr.Dataset, headings: Headings, review: float, limits: Limits
) -> tuple[BoolArray, list[Finding]]:
    """Bouts (bout,) that face away from the lab axis in use, so far that they are not measured; rows for all that are off it.

    The trial is rejected where all of them face away.
    """
    if not _is_axis(axis := _forward(trial)):
        return np.zeros(len(headings.off), dtype=bool), []
    off, most = headings.off, limits["heading_off_reject"].value
    with np.errstate(invalid="ignore"):
        away = np.asarray(off > most)
    check = "facing off the lab axis"
    if all_face_away(away):
        least = float(off.min())
        advice = (
            f"{_says(least, axis)}: front and side change places and medial may be lateral, so nothing is measured; correct the "
            f"axis, {_ADVICE}."
        )
        return away, [Finding(check, "file", least, most, "deg", "reject", advice)]
    found = []
    for k in np.flatnonzero(off > review):
        if away[k]:
            rest = "front and side change places and medial may be lateral, so the bout is not measured"
        else:
            rest = "what is read in the frontal plane is wrong accordingly, and a verdict stands only where it stands by all"
        advice = f"{_says(off[k], axis)}: {rest}; correct the axis, {_ADVICE}."
        limit = most if away[k] else review
        found.append(Finding(check, f"bout {k + 1}", float(off[k]), limit, "deg", "review", advice))
    return away, found


def all_face_away(away: BoolArray) -> bool:
    """Whether there are bouts (bout,) and all of them face away, so that nothing is left to measure."""
    return bool(away.size and away.all())


def _says(off: float, axis: str) -> str:
    return f"the participant faces about {off:.0f} degrees away from {axis}, which the pipeline calls straight ahead"
