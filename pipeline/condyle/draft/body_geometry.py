"""Which point is where on the body? The points of a standing person against a template of landmarks.

The template is the sample's own person, upright; it is brought onto the points by a similarity (turn, shift, one scale), from
the landmarks that labels name where there are enough, else by trying every heading.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from condyle.body_names import LANDMARKS
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.rigid_fit import rigid_fit
from condyle.mechanics.rotations import rotation_y
from condyle.sample import Options, build_person, simulate_static

NEAR_MM = 130.0  # ours: a landmark may lie this far from the scaled template, people differ
CLOSE_MM = 60.0  # ours: nearer than this, the place alone names a landmark
IN_FRONT_MM = (
    15.0  # ours: what lies this far in front of the knee centre, and close to the patella's place, slides as it does
)
SIDE_MM = 20.0  # ours: a point nearer by this to the other side's place stands on the other side
_EXCHANGED = 0.5  # ours: named with the sides exchanged, the points fit the template this much better


@dataclass(frozen=True)
class Placed:
    """The template brought onto a person: landmark positions, joint centres, and the distance scale used.

    ``exchanged``: the names that were given fit only with left and right exchanged, and were taken so.
    """

    landmarks: dict[str, FloatArray]
    joints: dict[str, FloatArray]
    scale: float
    exchanged: bool = False


def template() -> tuple[dict[str, FloatArray], dict[str, FloatArray]]:
    """Landmarks and joint centres of an upright person, x anterior, y up, z right, mm."""
    person = build_person("MR00")
    static = simulate_static(person, Options.ideal(static_s=0.05))
    first = dict(zip(static.markers, static.marker_truth[0], strict=True))
    landmarks = {name: first[name] for name in LANDMARKS if name in first}
    landmarks["sacrum"] = 0.5 * (first["psis_r"] + first["psis_l"])
    return landmarks, {name: course[0] for name, course in static.centres().items()}


def place_template(points: Mapping[str, FloatArray], named: Mapping[str, str]) -> Placed | None:
    """Bring the template onto the points (label -> (3,), y up); ``named`` is label -> landmark by words."""
    landmarks, joints = template()
    pairs = [(label, name) for label, name in named.items() if label in points and name in landmarks]
    if len(pairs) >= 4:
        seen = np.array([points[label] for label, _ in pairs])
        as_said, exchanged = (
            _similarity(np.array([landmarks[name_of(name)] for _, name in pairs]), seen) for name_of in (str, mirrored)
        )
        if as_said is None or exchanged is None:
            return None
        other = exchanged.rms < _EXCHANGED * as_said.rms
        return _placed(landmarks, joints, exchanged if other else as_said, other)
    return _by_every_heading(points, landmarks, joints)


def mirrored(name: str) -> str:
    """The name of the same landmark or segment on the other side; one without a side is its own."""
    return name[:-2] + {"_r": "_l", "_l": "_r"}.get(name[-2:], name[-2:])


class _Similarity(NamedTuple):
    """Turn, shift and scale that bring the template onto the points, and what is left, mm of the template."""

    turn: FloatArray
    shift: FloatArray
    scale: float
    rms: float


def _similarity(model: FloatArray, seen: FloatArray) -> _Similarity | None:
    spread = np.sqrt(((model - model.mean(axis=0)) ** 2).sum())
    if spread < 1.0:
        return None
    scale = float(np.sqrt(((seen - seen.mean(axis=0)) ** 2).sum()) / spread)
    fit = rigid_fit(scale * model, seen)
    if np.isnan(fit.rotation).any():
        return None
    return _Similarity(fit.rotation, fit.translation, scale, float(fit.rms) / scale)


def _placed(
    landmarks: dict[str, FloatArray], joints: dict[str, FloatArray], fit: _Similarity, exchanged: bool = False
) -> Placed:
    moved = [{n: fit.shift + fit.turn @ (fit.scale * p) for n, p in group.items()} for group in (landmarks, joints)]
    return Placed(moved[0], moved[1], fit.scale, exchanged)


def _by_every_heading(
    points: Mapping[str, FloatArray], landmarks: dict[str, FloatArray], joints: dict[str, FloatArray]
) -> Placed | None:
    """No words help: try headings in steps of 15 degrees, heights scaled to the highest and lowest point."""
    if len(points) < 6:
        return None
    cloud = np.array(list(points.values()))
    model = np.array(list(landmarks.values()))
    scale = float(np.ptp(cloud[:, 1]) / np.ptp(model[:, 1]))
    best: tuple[float, FloatArray] | None = None
    for degrees in range(0, 360, 15):
        turn = rotation_y(np.deg2rad(float(degrees)))
        moved = scale * model @ turn.T
        moved = moved + np.array([*(cloud[:, [0, 2]].mean(axis=0) - moved[:, [0, 2]].mean(axis=0)), 0.0])[[0, 2, 1]]
        moved[:, 1] += cloud[:, 1].min() - moved[:, 1].min()
        cost = float(np.minimum(np.linalg.norm(cloud[:, None] - moved[None], axis=-1).min(axis=1), 200.0).mean())
        if best is None or cost < best[0]:
            best = (cost, moved)
    assert best is not None
    fit = _similarity(model, best[1])
    return None if fit is None else _placed(landmarks, joints, fit)


def assign(points: Mapping[str, FloatArray], placed: Placed, taken: Sequence[str]) -> dict[str, tuple[str, float]]:
    """Labels without words to landmarks not yet taken, nearest together: label -> (landmark, distance in mm)."""
    from scipy.optimize import linear_sum_assignment

    labels = list(points)
    # a point near the patella may as well be a skin marker of the thigh: told by what else the thigh has
    names = [n for n in placed.landmarks if n not in taken and not n.startswith("patella")]
    if not labels or not names:
        return {}
    apart = np.linalg.norm(
        np.array([points[n] for n in labels])[:, None] - np.array([placed.landmarks[n] for n in names])[None], axis=-1
    )
    rows, columns = linear_sum_assignment(np.minimum(apart, 4 * CLOSE_MM))
    return {
        labels[r]: (names[c], float(apart[r, c])) for r, c in zip(rows, columns, strict=True) if apart[r, c] < CLOSE_MM
    }


def segment_near(point: FloatArray, placed: Placed) -> str:
    """The segment whose line of joint centres lies nearest to a point."""
    apart = {f"{name}_{s}": segment_apart(point, placed, f"{name}_{s}") for name in ("thigh", "shank") for s in "rl"}
    low = np.mean([placed.landmarks[f"calcaneus_{s}"][1] for s in "rl"])
    for s in "rl":
        if point[1] < low + 40.0 * placed.scale:
            apart[f"foot_{s}"] = segment_apart(point, placed, f"foot_{s}") / 3.0
    pelvis = 0.5 * (placed.joints["hip_r"] + placed.joints["hip_l"])
    above = point[1] - pelvis[1]
    if above > 200.0 * placed.scale:
        return "trunk"
    if above > -20.0 * placed.scale:
        return "pelvis"
    return min(apart, key=lambda s: apart[s])


def segment_apart(point: FloatArray, placed: Placed, segment: str) -> float:
    """Distance of a point from the line of joint centres of a thigh or shank, or from the middle of a forefoot."""
    tail = segment[-2:]
    if segment.startswith("foot"):
        return float(np.linalg.norm(point - placed.landmarks[f"metatarsal_2{tail}"]))
    ends = ("hip", "knee") if segment.startswith("thigh") else ("knee", "ankle")
    start, end = (placed.joints[f"{n}{tail}"] for n in ends)
    along = end - start
    share = float(np.clip((point - start) @ along / (along @ along), 0.0, 1.0))
    return float(np.linalg.norm(point - start - share * along))


def patella_apart(point: FloatArray, placed: Placed, side: str) -> float | None:
    """How far a point in front of the knee lies from the patella's place, mm; None where it lies elsewhere."""
    patella, knee = placed.landmarks[f"patella_{side}"], placed.joints[f"knee_{side}"]
    ahead = (patella - knee) * np.array([1.0, 0.0, 1.0])
    ahead /= np.linalg.norm(ahead)
    apart = float(np.linalg.norm(point - patella))
    return apart if apart < CLOSE_MM and (point - knee) @ ahead > IN_FRONT_MM * placed.scale else None
