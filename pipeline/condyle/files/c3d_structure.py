"""What do the header and the parameter records of a C3D file say?

Plain Python over a bounded piece of the file: every length is checked before it is used and every step goes forward,
so that
no content can crash or hang it. It looks at a file before any library does and keeps every value it finds, doubled ones
included, for ``c3d_settle`` to judge. The layout is that of the C3D standard (c3d.org).
"""

import os
import stat
from dataclasses import dataclass, field
from pathlib import Path

from condyle.errors import DataError
from condyle.files.c3d_records import Records
from condyle.files.c3d_values import BLOCK, PROCESSORS, Parameter, reals, words

MOST_PARAMETER_BYTES = 4096 * BLOCK  # the standard's own limit is 255 blocks; longer sections were seen to be written
_EVENT_KEY, _MOST_EVENTS = 12345, 18


@dataclass(frozen=True, slots=True)
class Header:
    """The words of the first block, as they stand."""

    points: int
    analogue_per_frame: int
    first: int
    last: int
    scale: float
    data_block: int
    samples_per_frame: int
    rate_hz: float
    events: tuple[tuple[float, bytes], ...]


@dataclass(frozen=True, slots=True)
class Structure:
    """Header, parameters and what is odd about them. ``end`` is the byte behind the last parameter record."""

    path: Path
    size: int
    processor: str
    header: Header
    parameters: dict[tuple[str, str], list[Parameter]]
    end: int
    oddities: tuple[str, ...]
    unsafe: tuple[str, ...] = field(default=())  # legal, but known to end ezc3d

    def all(self, group: str, name: str) -> list[Parameter]:
        """Every record of that name, in the order of the file."""
        return self.parameters.get((group, name), [])

    def numbers(self, group: str, name: str) -> tuple[float, ...]:
        """The numbers of the first record of that name; empty where there is none."""
        return next((r.numbers() for r in self.all(group, name)), ())

    def texts(self, group: str, name: str) -> tuple[bytes, ...]:
        """The texts of the first record of that name; empty where there is none."""
        return next((r.texts() for r in self.all(group, name)), ())


def check_ordinary(path: Path) -> int:
    """The size of an ordinary, readable file that can be a C3D file; anything else is a DataError.

    Looked at before opening: a pipe would wait for ever, and ezc3d never returns from a directory.
    """
    try:
        status = os.stat(path)
    except FileNotFoundError:
        raise DataError(f"{path}: there is no such file; correct the name, or put the file there") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise DataError(f"{path}: cannot be looked at ({reason}); correct the name, or copy the file again") from None
    if stat.S_ISDIR(status.st_mode):
        raise DataError(f"{path}: is a folder, not a C3D file; name a file in it")
    if not stat.S_ISREG(status.st_mode):
        raise DataError(f"{path}: is not an ordinary file; copy the recording into one")
    if status.st_size == 0:
        raise DataError(f"{path}: is empty (0 bytes); copy it again from where it was recorded")
    if status.st_size < BLOCK:
        raise DataError(
            f"{path}: has {status.st_size} bytes, fewer than the 512 of a C3D header; it is truncated or no C3D file: "
            "copy or export it again"
        )
    return status.st_size


def read_structure(path: Path) -> Structure:
    """Header and parameter records of the file; DataError where it cannot be a C3D file."""
    size = check_ordinary(path)
    try:
        with path.open("rb") as file:
            head = file.read(BLOCK)
            if len(head) < BLOCK or head[1] != 0x50:
                raise DataError(
                    f"{path}: is not a C3D file (its second byte is not 80); export it as C3D, or name another file"
                )
            start = (head[0] - 1) * BLOCK
            if not BLOCK <= start <= size - BLOCK:
                raise DataError(
                    f"{path}: its parameter section should begin at block {head[0]}, the file has {size // BLOCK}; "
                    "it is truncated or its first byte is damaged: copy or export it again"
                )
            file.seek(start)
            first = file.read(BLOCK)
            processor = PROCESSORS.get(first[3])
            if processor is None:
                raise DataError(
                    f"{path}: its processor type is {first[3]}, not 84 (Intel), 85 (DEC) or 86 (MIPS); its numbers "
                    "cannot be decoded: export it again"
                )
            header = _header(head, processor)
            # Two witnesses say where the records end, the block count and the start of the data; the further one
            # bounds the walk.
            ends = [end for end in (first[2] * BLOCK, (header.data_block - 1) * BLOCK - start) if end >= BLOCK]
            section = first + file.read(min(max(ends, default=MOST_PARAMETER_BYTES), MOST_PARAMETER_BYTES) - BLOCK)
    except OSError as error:
        raise DataError(
            f"{path}: cannot be read ({error.strerror}); see that you may read it, or copy it again"
        ) from None
    records = Records(section, processor, min(ends, default=len(section)))
    records.walk()
    return Structure(
        path,
        size,
        processor,
        header,
        records.parameters(),
        start + records.end,
        tuple(records.oddities),
        tuple(records.unsafe),
    )


def _header(head: bytes, processor: str) -> Header:
    points, analogue, first, last = words(head[2:10], processor)
    data_block, per_frame = words(head[16:20], processor)
    key, count = words(head[298:302], processor)
    events: tuple[tuple[float, bytes], ...] = ()
    if key == _EVENT_KEY:
        count = min(count, _MOST_EVENTS)
        times = reals(head[304 : 304 + 4 * count], processor)
        events = tuple((time, head[396 + 4 * k : 400 + 4 * k]) for k, time in enumerate(times))
    (scale,), (rate,) = reals(head[12:16], processor), reals(head[20:24], processor)
    return Header(points, analogue, first, last, scale, data_block, per_frame, rate, events)
