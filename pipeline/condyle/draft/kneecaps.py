"""Which unnamed marker is the patella? It lies in front of the knee, and slides on the femur as the knee bends."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from condyle.draft.body_geometry import Placed, patella_apart
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.rigid_fit import rigid_fit

Moving = Mapping[str, FloatArray]  # label -> (frames, 3) mm
FEWEST = 3  # markers that a thigh needs beside it
SLIDES_MM = 8.0  # ours: what moves further than this against the thigh, and not as its other markers do, slides on it
_TIMES = 3.0  # ours: and this many times further than they are from their own shape


class Kneecap(NamedTuple):
    """The marker, how far it stands from the patella's place, and how far it slides on the thigh (None: not seen to), mm.

    ``spared``: whether the thigh has enough markers without it.
    """

    label: str
    apart: float
    slides: float | None
    spared: bool


def kneecap_among(
    labels: Sequence[str],
    thigh: Sequence[str],
    standing: Mapping[str, FloatArray],
    placed: Placed,
    side: str,
    moving: Sequence[Moving],
) -> Kneecap | None:
    """The nearest of ``labels`` to the patella's place; None where none is near."""
    near = {n: a for n in labels if (a := patella_apart(standing[n], placed, side)) is not None}
    if not near:
        return None
    label = min(near, key=lambda n: near[n])
    others = [n for n in thigh if n != label and n in standing]
    spared = len(others) >= FEWEST or label not in thigh
    return Kneecap(label, near[label], _slides(label, others, standing, moving), spared)


def _slides(
    label: str, others: Sequence[str], standing: Mapping[str, FloatArray], moving: Sequence[Moving]
) -> float | None:
    """The furthest that the marker gets from its place in the standing thigh, where that is further than skin moves."""
    found = []
    for trial in moving:
        seen = [n for n in others if n in trial]
        if len(seen) < FEWEST or label not in trial:
            continue
        fit = rigid_fit(np.array([standing[n] for n in seen]), np.stack([trial[n] for n in seen], axis=1))
        carried = fit.translation + np.einsum("fij,j->fi", fit.rotation, standing[label])
        away = np.linalg.norm(trial[label] - carried, axis=-1)
        if np.isfinite(away).any():
            far, own = float(np.nanpercentile(away, 95)), float(np.nanpercentile(fit.rms, 95))
            if far > SLIDES_MM and far > _TIMES * own:
                found.append(far)
    return max(found, default=None)
