"""Bytes of a walking body that every kind of hazard starts from, and what is asked of a recording."""

import numpy as np

from condyle.files.c3d import Recording
from tests.c3d_bytes import walking_body

POINTS, LABELS = walking_body()
FRAMES, N = POINTS.shape[:2]
STORAGES = ("real", "integer")


def checks(recording: Recording) -> set[str]:
    """What was found and is not merely a fact."""
    return {f.check for f in recording.findings if f.verdict != "pass"}


def same_points(recording: Recording, points: np.ndarray = POINTS, atol: float = 0.051) -> None:
    np.testing.assert_allclose(recording.points, points, atol=atol)


def analogue(frames: int = FRAMES, per_frame: int = 4, channels: int = 6) -> np.ndarray:
    return np.random.default_rng(1).integers(-2000, 2000, (frames, per_frame, channels)).astype(float)
