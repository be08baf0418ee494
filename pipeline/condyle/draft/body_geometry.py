"""Which point is where on the body? The points of a standing person against a template of landmarks.

The template is the sample's own person, upright; it is brought onto the points by a similarity (turn, shift, one scale), from
the landmarks that labels name where there are enough, else by trying every heading.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.rigid_fit import rigid_fit
from condyle.mechanics.rotations import rotation_y
from condyle.sample import Options, build_person, simulate_static
from condyle.vocabulary import LANDMARKS

NEAR_MM = 130.0  # ours: a landmark may lie this far from the scaled template, people differ
CLOSE_MM = 60.0  # ours: nearer than this, the place alone names a landmark


@dataclass(frozen=True)
class Placed:
    """The template brought onto a person: landmark positions, joint centres, and the distance scale used."""

    landmarks: dict[str, FloatArray]
    joints: dict[str, FloatArray]
    scale: float


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
        model = np.array([landmarks[name] for _, name in pairs])
        seen = np.array([points[label] for label, _ in pairs])
        fit = _similarity(model, seen)
        return None if fit is None else _placed(landmarks, joints, *fit)
    return _by_every_heading(points, landmarks, joints)


def _similarity(model: FloatArray, seen: FloatArray) -> tuple[FloatArray, FloatArray, float] | None:
    spread = np.sqrt(((model - model.mean(axis=0)) ** 2).sum())
    if spread < 1.0:
        return None
    scale = float(np.sqrt(((seen - seen.mean(axis=0)) ** 2).sum()) / spread)
    fit = rigid_fit(scale * model, seen)
    return None if np.isnan(fit.rotation).any() else (fit.rotation, fit.translation, scale)


def _placed(
    landmarks: dict[str, FloatArray], joints: dict[str, FloatArray], turn: FloatArray, shift: FloatArray, scale: float
) -> Placed:
    moved = [{n: shift + turn @ (scale * p) for n, p in group.items()} for group in (landmarks, joints)]
    return Placed(moved[0], moved[1], scale)


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
    return None if fit is None else _placed(landmarks, joints, *fit)


def assign(points: Mapping[str, FloatArray], placed: Placed, taken: Sequence[str]) -> dict[str, tuple[str, float]]:
    """Labels without words to landmarks not yet taken, nearest together: label -> (landmark, distance in mm)."""
    from scipy.optimize import linear_sum_assignment

    labels = list(points)
    # a point near the patella may as well be a skin marker of the thigh, which no place can tell: left to the segment
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
    lines = {
        **{f"thigh_{s}": (f"hip_{s}", f"knee_{s}") for s in "rl"},
        **{f"shank_{s}": (f"knee_{s}", f"ankle_{s}") for s in "rl"},
    }
    apart = {seg: _to_line(point, placed.joints[a], placed.joints[b]) for seg, (a, b) in lines.items()}
    low = np.mean([placed.landmarks[f"calcaneus_{s}"][1] for s in "rl"])
    for s in "rl":
        if point[1] < low + 40.0 * placed.scale:
            apart[f"foot_{s}"] = float(np.linalg.norm(point - placed.landmarks[f"metatarsal_2_{s}"])) / 3.0
    pelvis = 0.5 * (placed.joints["hip_r"] + placed.joints["hip_l"])
    above = point[1] - pelvis[1]
    if above > 200.0 * placed.scale:
        return "trunk"
    if above > -20.0 * placed.scale:
        return "pelvis"
    return min(apart, key=lambda s: apart[s])


def _to_line(point: FloatArray, start: FloatArray, end: FloatArray) -> float:
    along = end - start
    share = float(np.clip((point - start) @ along / (along @ along), 0.0, 1.0))
    return float(np.linalg.norm(point - start - share * along))
