"""A plain C3D file with the same data: what a library is shown where the file itself would mislead it or break it.

Header and parameters say what ``settle`` found, and no more; the frames are copied byte for byte. So a contradiction, a
counter that overflowed, filler behind the last frame or a record that a library stumbles over cannot move a coordinate.
"""

import struct
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from condyle.errors import DataError
from condyle.files.c3d_layout import Layout
from condyle.files.c3d_raw import raw_frames
from condyle.files.c3d_structure import Structure
from condyle.files.c3d_values import BLOCK, INTEGER, PROCESSORS, REAL
from condyle.files.c3d_witnesses import SATURATED
from condyle.mechanics.arrays import BoolArray

_TYPES = {name: number for number, name in PROCESSORS.items()}


@contextmanager
def image(layout: Layout, structure: Structure, missing: BoolArray) -> Iterator[Path]:
    """The path of the plain file while the block runs; ``missing`` (frames, points) becomes the sign of the
    residuals.
    """
    frames = np.array(raw_frames(layout))  # a copy: the fourth words are rewritten
    if layout.points:
        points = frames[:, : 4 * layout.points].reshape(len(frames), layout.points, 4)
        points[..., 3] = np.where(missing, _minus_one(layout), 0).astype(frames.dtype)
    try:
        with tempfile.NamedTemporaryFile(prefix="condyle_", suffix=".c3d") as file:
            file.write(_head(layout, structure))
            file.write(frames.tobytes())
            file.flush()
            yield Path(file.name)
    except OSError as error:
        raise DataError(
            f"{layout.path}: a plain copy of it could not be written for reading ({error.strerror})"
        ) from None


def _head(layout: Layout, structure: Structure) -> bytes:
    """Header and parameters; no ROTATION group, so that ezc3d reads more than 65,535 frames to the end of the file."""
    p, count = layout.processor, min(layout.frames, SATURATED)
    sign = -1.0 if layout.real else 1.0
    records: list[tuple[str, str, int, tuple[int, ...], bytes]] = [
        ("POINT", "USED", INTEGER, (), _words([layout.points], p)),
        ("POINT", "SCALE", REAL, (), _reals([sign * layout.scale], p)),
        ("POINT", "RATE", REAL, (), _reals([layout.rate_hz], p)),
        ("POINT", "FRAMES", INTEGER, (), _words([count], p)),
        ("ANALOG", "USED", INTEGER, (), _words([layout.channels], p)),
        ("ANALOG", "RATE", REAL, (), _reals([layout.rate_hz * layout.samples_per_frame], p)),
    ]
    replaced = {(group, name) for group, name, *_ in records} | {("POINT", "DATA_START")}
    for (group, name), kept in structure.parameters.items():
        if (
            group in ("ANALOG", "FORCE_PLATFORM")
            and (group, name) not in replaced
            and kept[0].complete
            and kept[0].dims
        ) or (
            (group, name) in (("ANALOG", "GEN_SCALE"), ("FORCE_PLATFORM", "USED"))
            and kept[0].complete
            and kept[0].kind > 0
        ):
            records.append((group, name, kept[0].kind, kept[0].dims, kept[0].raw))
    length = len(_parameters(records, layout, 0, 0))
    blocks = -(-length // BLOCK)
    parameters = _parameters(records, layout, 2 + blocks, blocks).ljust(blocks * BLOCK, b"\x00")
    header = bytearray(BLOCK)
    header[0:2] = b"\x02\x50"
    header[2:12] = _words([layout.points, layout.analogue_per_frame, 1, count, 10], p)
    header[12:16] = _reals([sign * layout.scale], p)
    header[16:20] = _words([2 + blocks, layout.samples_per_frame], p)
    header[20:24] = _reals([layout.rate_hz], p)
    return bytes(header) + parameters


def _parameters(
    records: list[tuple[str, str, int, tuple[int, ...], bytes]], layout: Layout, data_block: int, blocks: int
) -> bytes:
    records = [*records, ("POINT", "DATA_START", INTEGER, (), _words([data_block], layout.processor))]
    groups = list(dict.fromkeys(group for group, *_ in records))
    out = bytearray((0x01, 0x50, blocks & 0xFF, _TYPES[layout.processor]))
    for number, group in enumerate(groups, 1):
        out += struct.pack("bb", len(group), -number) + group.encode() + _words([3], layout.processor) + b"\x00"
    for group, name, kind, dims, raw in records:
        body = struct.pack("bB", kind, len(dims)) + bytes(dims) + raw + b"\x00"
        out += struct.pack("bb", len(name), groups.index(group) + 1) + name.encode()
        out += _words([2 + len(body)], layout.processor) + body
    return bytes(out + bytes(4))


def _words(values: list[int], processor: str) -> bytes:
    return struct.pack(f"{'>' if processor == 'mips' else '<'}{len(values)}H", *values)


def _reals(values: list[float], processor: str) -> bytes:
    if processor == "dec":  # four times the IEEE value, halves exchanged
        halves = struct.unpack(f"<{2 * len(values)}H", struct.pack(f"<{len(values)}f", *(4.0 * v for v in values)))
        return struct.pack(f"<{len(halves)}H", *(halves[i ^ 1] for i in range(len(halves))))
    return struct.pack(f"{'>' if processor == 'mips' else '<'}{len(values)}f", *values)


def _minus_one(layout: Layout) -> Any:
    """The bit pattern of -1 as a residual."""
    if not layout.real:
        return np.uint16(0xFFFF)
    kept: NDArray[Any] = np.frombuffer(
        _reals([-1.0], layout.processor), dtype=">u4" if layout.processor == "mips" else "<u4"
    )
    return kept[0]
