"""What do the bytes of the frames themselves say? A second look at what a library returns, and the sign of the
residuals.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from condyle.errors import DataError
from condyle.files.c3d_layout import Layout
from condyle.mechanics.arrays import BoolArray, FloatArray


def raw_frames(layout: Layout) -> NDArray[Any]:
    """The frames as undecoded words, (frames, 4 x points + analogue values), without copying the file."""
    order = ">" if layout.processor == "mips" else "<"
    kind = np.dtype(f"{order}u4" if layout.real else f"{order}u2")
    width = layout.frame_bytes // kind.itemsize
    try:
        mapped = np.memmap(layout.path, dtype=kind, mode="r", offset=layout.data_start, shape=(layout.frames, width))
    except (OSError, ValueError) as error:
        raise DataError(f"{layout.path}: its frames cannot be read ({error})") from None
    return np.asarray(mapped)


def negative_residuals(layout: Layout, frames: NDArray[Any]) -> BoolArray:
    """Which samples (frames, points) are marked missing: by the sign of their fourth word alone.

    The word itself is not used: files of reals hold undecoded words there that would be thousands of mm, and a library
    that turns it into an integer makes -0.25 valid.
    """
    negative: BoolArray = _decoded(layout, np.ascontiguousarray(frames[:, 3 : 4 * layout.points : 4])) < 0
    return negative


def coordinates(layout: Layout, frames: NDArray[Any], which: NDArray[Any]) -> FloatArray:
    """The points of some frames, (chosen frames, points, 3), in the file's unit, decoded here."""
    chosen = np.ascontiguousarray(frames[which, : 4 * layout.points]).reshape(len(which), layout.points, 4)
    with np.errstate(invalid="ignore"):
        return _decoded(layout, chosen[..., :3]).astype(np.float64) * (1.0 if layout.real else layout.scale)


def _decoded(layout: Layout, words: NDArray[Any]) -> NDArray[Any]:
    """Undecoded words as signed integers or reals."""
    if not layout.real:
        return (
            words.view(f"{words.dtype.byteorder.replace('=', '<')}i2")
            if words.flags.c_contiguous
            else words.astype(np.uint16).view(np.int16)
        )
    words = np.ascontiguousarray(words)
    if layout.processor == "dec":
        words = (words << np.uint32(16)) | (words >> np.uint32(16))
        return words.view(np.float32) / np.float32(4)
    return words.view(">f4" if layout.processor == "mips" else "<f4")
