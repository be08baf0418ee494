"""Which file axis points up, and are the axes right-handed? A guess from label words and from the shape of a body."""

import re
from dataclasses import dataclass

import numpy as np

from condyle.mechanics.arrays import FloatArray

_LOW = re.compile(r"heel|calc|ankle|mall|toe|foot|feet|meta|(?<![a-z])m[th]", re.I)
_HIGH = re.compile(
    r"asis|psis|sacr|pelv|iliac|crest|hip|c7|acrom|should|stern|notch|xiph|head|(?<![a-z])t(?:h)?1[02]", re.I
)
_FRONT, _BACK = re.compile(r"meta|toe|(?<![a-z])m[th](?![a-z]*l)", re.I), re.compile(r"heel|calc", re.I)
_RIGHT, _LEFT = (
    re.compile(r"^(r|right)[^a-z]|[^a-z](r|right)$", re.I),
    re.compile(r"^(l|left)[^a-z]|[^a-z](l|left)$", re.I),
)
_AXES = "XYZ"
_CLEAR = 2.0  # times the next axis, for the guess to be called clear
_PLAIN = 0.5  # of a unit cube, below which the three directions are too near one plane to tell
_FRAMES = 60


@dataclass(frozen=True, slots=True)
class Orientation:
    """``up`` such as `+Z`, ``sure`` and ``why``; ``right_handed`` is None where labels tell no sides or feet."""

    up: str
    sure: bool
    why: str
    right_handed: bool | None


def guess_orientation(points: FloatArray, labels: tuple[str, ...]) -> Orientation:
    """Up from feet to pelvis and trunk where labels tell them, else the longest way through the body."""
    chosen = points[np.unique(np.linspace(0, len(points) - 1, _FRAMES).astype(int))]
    seen = np.isfinite(chosen[..., 0]).any(axis=0)
    chosen, labels = chosen[:, seen], tuple(label for label, s in zip(labels, seen, strict=True) if s)
    low, high = _mean_of(chosen, labels, _LOW), _mean_of(chosen, labels, _HIGH)
    if low is not None and high is not None:
        rise = _median(high - low)
        size, why = np.abs(rise), "from the feet to the pelvis, by the words in the labels"
    else:
        size = _median(np.nanmax(chosen, axis=1) - np.nanmin(chosen, axis=1))
        why = "the longest way through the body"
        lowest, highest = np.nanmin(chosen, axis=(0, 1)), np.nanmax(chosen, axis=(0, 1))
        rise = np.where(
            np.abs(lowest) <= np.abs(highest), 1.0, -1.0
        )  # the floor lies near 0, the body on one side of it
    axis = int(np.argmax(size))
    others = np.delete(size, axis).max()
    up = f"{'+' if rise[axis] >= 0 else '-'}{_AXES[axis]}"
    return Orientation(up, bool(size[axis] > _CLEAR * others), why, _handedness(chosen, labels, rise))


def _handedness(points: FloatArray, labels: tuple[str, ...], rise: FloatArray) -> bool | None:
    """The sign of (forward, up, right): forward from heel to toes, right from left points to their right partners."""
    feet = [_across(points, labels, _FRONT, _BACK, side) for side in (_RIGHT, _LEFT)]
    pairs = [
        points[:, k] - points[:, labels.index(partner)]
        for k, label in enumerate(labels)
        if _RIGHT.search(label) and (partner := _partner(label)) in labels
    ]
    if not pairs or all(foot is None for foot in feet):
        return None
    forward = _mean([foot for foot in feet if foot is not None])
    across = _mean(pairs)
    with np.errstate(invalid="ignore", divide="ignore"):
        volume = (np.cross(forward, rise) * across).sum(axis=-1)
        volume /= np.linalg.norm(forward, axis=-1) * np.linalg.norm(rise) * np.linalg.norm(across, axis=-1)
    volume = volume[np.isfinite(volume)]
    return bool(np.median(volume) > 0) if volume.size and abs(np.median(volume)) > _PLAIN else None


def _across(
    points: FloatArray, labels: tuple[str, ...], front: re.Pattern[str], back: re.Pattern[str], side: re.Pattern[str]
) -> FloatArray | None:
    """From the back of one side's foot to its front, per frame."""
    own = tuple(label if side.search(label) else "" for label in labels)
    ahead, behind = _mean_of(points, own, front), _mean_of(points, own, back)
    return None if ahead is None or behind is None else ahead - behind


def _partner(label: str) -> str:
    """The left label of a right one, its case kept."""
    swap = {"r": "l", "R": "L", "right": "left", "Right": "Left", "RIGHT": "LEFT"}
    parts = re.split(r"([^A-Za-z]+)", label)
    end = 0 if parts[0] in swap else -1
    parts[end] = swap.get(parts[end], parts[end])
    return "".join(parts)


def _mean(vectors: list[FloatArray]) -> FloatArray:
    """Mean of what is seen, NaN where nothing is."""
    stacked = np.array(vectors)
    count = np.isfinite(stacked).sum(axis=0)
    mean: FloatArray = np.where(count > 0, np.nansum(stacked, axis=0) / np.maximum(count, 1), np.nan)
    return mean


def _mean_of(points: FloatArray, labels: tuple[str, ...], words: re.Pattern[str]) -> FloatArray | None:
    """Mean per frame of the points whose label matches; None where no label does."""
    which = [k for k, label in enumerate(labels) if words.search(label)]
    if not which:
        return None
    return _mean([points[:, k] for k in which])


def _median(rows: FloatArray) -> FloatArray:
    finite = rows[np.isfinite(rows).all(axis=-1)]
    return np.median(finite, axis=0) if len(finite) else np.zeros(3)
