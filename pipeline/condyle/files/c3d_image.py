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
from condyle.files.c3d_values import BLOCK, CHARACTER, INTEGER, PROCESSORS, REAL
from condyle.files.c3d_witnesses import SATURATED
from condyle.mechanics.arrays import BoolArray

_TYPES = {name: number for number, name in PROCESSORS.items()}


Rows = list[tuple[str, str, int, tuple[int, ...], bytes]]


@contextmanager
def image(
    layout: Layout, structure: Structure, missing: BoolArray, *, analogue: bool = False, forces: bool = False
) -> Iterator[Path]:
    """The path of the plain file while the block runs; ``missing`` (frames, points) becomes the residuals' sign.

    What the parameters say of channels and force plates is taken over only where it is asked for.
    """
    frames = np.array(raw_frames(layout))  # a copy: the fourth words are rewritten
    points = frames[:, : 4 * layout.points].reshape(len(frames), layout.points, 4)
    points[..., 3] = np.where(missing, _minus_one(layout), 0).astype(frames.dtype)
    with tempfile.NamedTemporaryFile(prefix="condyle_", suffix=".c3d") as file:
        try:
            file.write(_head(layout, _records(layout, structure, analogue=analogue or forces, forces=forces)))
            file.write(frames.tobytes())
            file.flush()
        except OSError as error:
            why = f"a plain copy of it could not be written for reading ({error.strerror})"
            raise DataError(f"{layout.path}: {why}") from None
        yield Path(file.name)


def _records(layout: Layout, structure: Structure, *, analogue: bool, forces: bool) -> Rows:
    """The parameters; no ROTATION group, so that ezc3d reads more than 65,535 frames to the end of the file."""
    p, channels = layout.processor, layout.channels
    rows: Rows = [
        ("POINT", "USED", INTEGER, (), _words([layout.points], p)),
        ("POINT", "SCALE", REAL, (), _reals([(-1.0 if layout.real else 1.0) * layout.scale], p)),
        ("POINT", "RATE", REAL, (), _reals([layout.rate_hz], p)),
        ("POINT", "FRAMES", INTEGER, (), _words([min(layout.frames, SATURATED)], p)),
        ("ANALOG", "USED", INTEGER, (), _words([channels], p)),
        ("ANALOG", "RATE", REAL, (), _reals([layout.rate_hz * layout.samples_per_frame], p)),
        ("ANALOG", "GEN_SCALE", REAL, (), _reals([1.0], p)),
    ]
    if channels:
        dims = (channels,) if channels < 256 else (128, -(-channels // 128))
        count = dims[0] * (dims[1] if len(dims) > 1 else 1)
        rows += [
            ("ANALOG", "SCALE", REAL, dims, _reals([1.0] * count, p)),
            ("ANALOG", "OFFSET", INTEGER, dims, _words([0] * count, p)),
            ("ANALOG", "LABELS", CHARACTER, (1, *dims), b"A" * count),
        ]
    if analogue:
        own = {name: kept[0] for (group, name), kept in structure.parameters.items() if group == "ANALOG"}
        used = {name: r for name in ("GEN_SCALE", "SCALE", "OFFSET") if (r := own.get(name)) and len(r.numbers()) >= 1}
        used |= {name: r for name in ("FORMAT", "UNITS", "LABELS") if (r := own.get(name)) and r.texts()}
        enough = {name: r for name, r in used.items() if name == "GEN_SCALE" or not r.dims or r.dims[-1] >= channels}
        rows = [row for row in rows if row[0] != "ANALOG" or row[1] not in enough]
        rows += [("ANALOG", name, r.kind, r.dims, r.raw) for name, r in enough.items()]
    if forces:
        plates = [(name, kept[0]) for (group, name), kept in structure.parameters.items() if group == "FORCE_PLATFORM"]
        rows += [("FORCE_PLATFORM", name, r.kind, r.dims, r.raw) for name, r in plates if r.complete]
    return rows


def _head(layout: Layout, records: Rows) -> bytes:
    """Header and parameters."""
    p, count = layout.processor, min(layout.frames, SATURATED)
    length = len(_parameters(records, layout, 0, 0))
    blocks = -(-length // BLOCK)
    parameters = _parameters(records, layout, 2 + blocks, blocks).ljust(blocks * BLOCK, b"\x00")
    header = bytearray(BLOCK)
    header[0:2] = b"\x02\x50"
    header[2:12] = _words([layout.points, layout.analogue_per_frame, 1, count, 10], p)
    header[12:16] = _reals([(-1.0 if layout.real else 1.0) * layout.scale], p)
    header[16:20] = _words([2 + blocks, layout.samples_per_frame], p)
    header[20:24] = _reals([layout.rate_hz], p)
    return bytes(header) + parameters


def _parameters(records: Rows, layout: Layout, data_block: int, blocks: int) -> bytes:
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
