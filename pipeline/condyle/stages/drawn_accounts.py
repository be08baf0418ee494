"""What every draw makes of the accounts: the parts at the bottom and at 60 degrees, by each heading, and from below."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.from_below import account_from_below, mirrored
from condyle.mechanics.posture import Posture, divided, measured_of, posture_of, turned
from condyle.stages.accounts import SIGN, Leg, Row, above_table
from condyle.stages.draws import Draws


class DrawnAccounts(NamedTuple):
    """Accounts of one side's repetitions in every draw, the first without errors; units of the tables."""

    bottom: FloatArray  # (heading, draw, repetition, 6, source above)
    at_60: FloatArray  # (draw, repetition, 3, source above)
    below: FloatArray  # (draw, repetition, 2, 4): three parts and the remainder


class Moments(NamedTuple):
    """Places along the draws' frames of each repetition's start, bottom, end and 60 degrees."""

    start: IntArray
    bottom: IntArray
    end: IntArray
    sixty: IntArray


def drawn_accounts(
    trial: xr.Dataset, leg: Leg, rows: list[Row], moments: Moments, draws: Draws, turns: dict[str, FloatArray]
) -> DrawnAccounts:
    """The accounts of the repetitions ``rows`` of one leg, in every draw."""
    side = rows[0].side
    sign, bout = SIGN[side], np.array([r.bout for r in rows])
    rotation, joint = _as_right(draws.rotation, draws.joint, side)
    standing_rotation, standing_joint = _as_right(draws.static_rotation, draws.static_joint, side)
    standing = _posture(standing_rotation, standing_joint, side)
    standing = Posture(
        standing.angles[..., None],
        standing.thigh_line[..., None],
        standing.shank_line[..., None],
        standing.axial[..., None],
    )
    vectors = _vectors(standing_rotation, standing_joint, side)
    then, now, sixty = (
        _posture(rotation[:, m], joint[:, m], side) for m in (moments.start, moments.bottom, moments.sixty)
    )
    over_foot = leg.turned_standing[bout] + sign * (draws.by_foot - draws.chosen - draws.wrong)[:, bout]
    tables = []
    told = {"chosen": draws.chosen, "at_start": draws.at_start, "by_foot": draws.by_foot}
    for way, turn in turns.items():
        by = -sign * (turn + told[way] - draws.chosen)[:, bout]
        seen = divided(turned(now, by), turned(then, by), standing, over_foot + by, *vectors)
        tables.append(above_table(seen))
    at_60 = above_table(divided(sixty, then, standing, over_foot, *vectors)[:1])
    below = _below(rotation, now, then, moments, side, vectors[1])
    return DrawnAccounts(np.stack(tables), at_60, below)


def _as_right(rotation: FloatArray, joint: FloatArray, side: str) -> tuple[FloatArray, FloatArray]:
    if side == "right":
        return rotation, joint
    return mirrored(rotation), joint * np.array([1.0, 1.0, -1.0])


def _posture(rotation: FloatArray, joint: FloatArray, side: str) -> Posture:
    tail = f"_{side[0]}"
    pelvis, thigh, shank = (rotation[..., SEGMENTS.index(n), :, :] for n in ("pelvis", f"thigh{tail}", f"shank{tail}"))
    return posture_of(
        pelvis, thigh, shank, *(joint[..., JOINTS.index(f"{n}{tail}"), :] for n in ("hip", "knee", "ankle"))
    )


def _vectors(rotation: FloatArray, joint: FloatArray, side: str) -> tuple[FloatArray, FloatArray]:
    """Hip to knee in the thigh, knee to ankle in the shank (3, draw, 1), from the draw's standing trial."""
    tail = f"_{side[0]}"
    hip, knee, ankle = (joint[:, JOINTS.index(f"{n}{tail}")] for n in ("hip", "knee", "ankle"))
    thigh, shank = (rotation[:, SEGMENTS.index(f"{n}{tail}")] for n in ("thigh", "shank"))
    down = np.einsum("dji,dj->id", thigh, knee - hip), np.einsum("dji,dj->id", shank, ankle - knee)
    return down[0][..., None], down[1][..., None]


def _below(
    rotation: FloatArray, now: Posture, then: Posture, moments: Moments, side: str, shank_vector: FloatArray
) -> FloatArray:
    tail = f"_{side[0]}"
    foot, shank, thigh = (rotation[:, :, SEGMENTS.index(f"{n}{tail}")] for n in ("foot", "shank", "thigh"))
    account = account_from_below(
        foot[:, moments.bottom],
        shank[:, moments.bottom],
        thigh[:, moments.bottom],
        foot[:, moments.start],
        shank[:, moments.start],
        thigh[:, moments.start],
        np.moveaxis(shank_vector, 0, -1),
    )
    change = _measured_below(now) - _measured_below(then)
    remainder = change - (account.modelled - account.base)
    return np.moveaxis(np.rad2deg(np.concatenate([account.parts, remainder[:, None]], axis=1)), (0, 1), (-2, -1))


def _measured_below(posture: Posture) -> FloatArray:
    """Shank tilt and thigh axial rotation (2, draw, repetition)."""
    line = posture.shank_line
    return np.stack([-np.arctan2(line[2], -line[1]), measured_of(posture)[2]])
