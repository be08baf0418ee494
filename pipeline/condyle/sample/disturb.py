"""What stands between bone and camera: misplaced landmarks, soft tissue, noise, gaps."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from condyle.sample.chain import Motion
from condyle.sample.options import Errors, Options
from condyle.sample.person import PLATES, Person
from condyle.sample.timing import smooth_unrest
from condyle.sample.turning import Array, moved

Mask = NDArray[np.bool_]

FULL_FLEXION = 75.0  # knee flexion at which the sizes of soft-tissue motion are given, degrees

# SD of palpation per axis in the plane of the skin, mm, and the axis across that plane (0 forward, 1 up, 2 right).
# Ours, within the ranges of Della Croce et al. 2005 (Gait Posture 21:226).
PALPATION: dict[str, tuple[float, int]] = {
    **{name: (10.0, 0) for name in ("asis", "psis")},
    "iliac_crest": (10.0, 2),
    "greater_trochanter": (12.0, 2),
    **{name: (7.0, 2) for name in ("lateral_epicondyle", "medial_epicondyle")},
    **{name: (6.0, 0) for name in ("patella", "tibial_tuberosity")},
    **{name: (5.0, 2) for name in ("lateral_malleolus", "medial_malleolus")},
    "calcaneus": (5.0, 0),
    **{name: (5.0, 1) for name in ("metatarsal_1", "metatarsal_2", "metatarsal_5")},
    "acromion": (7.0, 1),
    "c7": (6.0, 0),
    "t10": (8.0, 0),
    "jugular_notch": (5.0, 0),
    "xiphoid": (7.0, 0),
}
# Rigid motion of a plate on its segment at FULL_FLEXION: SD of the turn about the segment's axes (forward, up, right),
# degrees, and of the shift along each, mm. Ours, after PMC8631460.
SOFT_TISSUE: dict[str, tuple[tuple[float, float, float], float]] = {
    "thigh": ((3.0, 6.0, 3.0), 8.0),
    "shank": ((3.0, 3.0, 3.0), 6.0),
}
ASIS_SHIFT_MM = 8.0


@dataclass(frozen=True)
class SessionErrors:
    """Errors drawn once for a session: the same in its static trial and all its movements.

    ``misplaced`` mm in the segment's axes by marker; ``turn`` (degrees, about the segment's axes) and ``shift`` (mm)
    of a segment's plate, and ``own`` mm of each marker by itself, all three at FULL_FLEXION.
    """

    misplaced: dict[str, Array]
    turn: dict[str, Array]
    shift: dict[str, Array]
    own: dict[str, Array]


def _kind(marker: str) -> str:
    """The landmark's name without its side."""
    return marker[:-2] if marker.endswith(("_r", "_l")) else marker


def _on_plate(marker: str) -> bool:
    return _kind(marker)[-1].isdigit() and marker.startswith(PLATES)


def draw_errors(person: Person, errors: Errors, rng: np.random.Generator) -> SessionErrors:
    """The session's errors. Every kind is drawn whatever the scales, so that scales change sizes and not directions."""
    misplaced, turn, shift, own = {}, {}, {}, {}
    for marker, (segment, _) in person.points.items():
        size, across = PALPATION.get(_kind(marker), (0.0, 0))
        place = rng.standard_normal(3) * size * errors.landmark_scale
        place[across] = 0.0
        misplaced[marker] = place
        amount = errors.local_mm * (0.1 if _on_plate(marker) else 1.0 if segment != "pelvis" else 0.5)
        own[marker] = rng.standard_normal(3) * amount / np.sqrt(3)
        if _kind(marker) == "asis":
            own[marker] = own[marker] + rng.standard_normal(3) * ASIS_SHIFT_MM * errors.soft_tissue_scale
    for side in ("_l", "_r"):
        for segment, (tilt, mm) in SOFT_TISSUE.items():
            turn[segment + side] = rng.standard_normal(3) * np.array(tilt) * errors.soft_tissue_scale
            shift[segment + side] = rng.standard_normal(3) * mm * errors.soft_tissue_scale
    return SessionErrors(misplaced, turn, shift, own)


def _small_turn(vector_deg: Array) -> Array:
    """Rotations (T, 3, 3) about vectors (T, 3) whose lengths are the angles in degrees."""
    angle = np.radians(np.linalg.norm(vector_deg, axis=-1))
    axis = np.radians(vector_deg) / np.maximum(angle, 1e-12)[:, None]
    cross = np.zeros((len(angle), 3, 3))
    x, y, z = axis.T
    cross[:, 0, 1], cross[:, 0, 2], cross[:, 1, 2] = -z, y, -x
    cross -= np.swapaxes(cross, 1, 2)
    sine, versine = np.sin(angle)[:, None, None], (1 - np.cos(angle))[:, None, None]
    turned_by: Array = np.eye(3) + sine * cross + versine * (cross @ cross)
    return turned_by


def disturbed(
    motion: Motion,
    points: dict[str, tuple[str, Array]],
    session: SessionErrors,
    options: Options,
    bent: dict[str, Array],
    bottoms: list[int],
    rng: np.random.Generator,
) -> Array:
    """Marker positions (T, M, 3) as seen, in the participant's frame; NaN where hidden.

    ``bent`` is the knee flexion (T,) by segment that soft tissue follows; ``bottoms`` the deepest frames.
    """
    errors, frames = options.errors, len(motion)
    centres = {
        segment: np.mean([xyz for name, (s, xyz) in points.items() if s == segment and _on_plate(name)], axis=0)
        for segment in session.turn
    }
    around = {
        segment: (
            _small_turn(np.outer(bent[segment] / FULL_FLEXION, turn)),
            np.outer(bent[segment] / FULL_FLEXION, session.shift[segment]),
        )
        for segment, turn in session.turn.items()
    }
    seen = np.empty((frames, len(points), 3))
    for column, (name, (segment, xyz)) in enumerate(points.items()):
        share = (bent[segment] / FULL_FLEXION)[:, None]
        local = xyz + session.misplaced[name] + share * session.own[name]
        if _on_plate(name):
            turn, shift = around[segment]
            local = centres[segment] + moved(turn, local - centres[segment]) + shift
        seen[:, column] = motion.origin[segment] + moved(motion.axes[segment], local)
    seen += errors.noise_mm * rng.standard_normal(seen.shape)
    slow = smooth_unrest(frames, options.rate_hz, 3.0, rng, len(points) * 3)
    seen += errors.coloured_mm * slow.reshape(seen.shape)
    hidden = _random_gaps(list(points), frames, options, rng) | _hidden_pelvis(
        list(points), frames, options, bottoms, rng
    )
    seen[hidden] = np.nan
    return seen


def _random_gaps(names: list[str], frames: int, options: Options, rng: np.random.Generator) -> Mask:
    """Short gaps anywhere, 0.03 to 0.15 s."""
    hidden = np.zeros((frames, len(names)), dtype=bool)
    expected = options.errors.gaps * frames / options.rate_hz / 60.0
    for column, count in enumerate(rng.poisson(expected, len(names))):
        for _ in range(int(count)):
            length = max(1, round(rng.uniform(0.03, 0.15) * options.rate_hz))
            start = int(rng.integers(0, max(1, frames - length)))
            hidden[start : start + length, column] = True
    return hidden


def _hidden_pelvis(
    names: list[str], frames: int, options: Options, bottoms: list[int], rng: np.random.Generator
) -> Mask:
    """Arms and thighs hide the ASIS at the bottom of squats: both, or one of them; sometimes a crest as well."""
    hidden = np.zeros((frames, len(names)), dtype=bool)
    half = options.errors.pelvis_gap_s * options.rate_hz / 2
    for bottom in bottoms:
        shares = rng.random(2)
        if shares[0] >= options.errors.pelvis_gap_share:
            continue
        choices = (["asis_r", "asis_l"], ["asis_r"], ["asis_l"], ["asis_r", "asis_l", "iliac_crest_r"])
        lost = choices[min(3, int(shares[1] * 4))]
        first, last = (int(max(0, bottom + sign * half * rng.uniform(0.7, 1.3))) for sign in (-1, 1))
        for name in lost:
            if name in names:
                hidden[first : last + 1, names.index(name)] = True
    return hidden
