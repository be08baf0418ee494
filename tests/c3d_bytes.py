"""A C3D byte writer for tests: it writes whatever it is told, every contradiction included.

Nothing here is shared with the reader under test. The layout follows the C3D standard's published description
(c3d.org).
"""

import struct
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

BLOCK = 512
PROCESSORS = {"intel": 84, "dec": 85, "mips": 86}
CHARACTER, BYTE, INTEGER, REAL = -1, 1, 2, 4


def real_bytes(values: Any, processor: str = "intel") -> bytes:
    """Numbers as 4-byte reals of a processor; a DEC real is the IEEE one at four times its value, halves exchanged."""
    ieee = np.atleast_1d(np.asarray(values, dtype=np.float32))
    if processor == "mips":
        return ieee.astype(">f4").tobytes()
    if processor == "dec":
        words = (ieee * np.float32(4)).astype("<f4").view("<u2").reshape(-1, 2)[:, ::-1]
        return np.ascontiguousarray(words).tobytes()
    return ieee.astype("<f4").tobytes()


def word_bytes(values: Any, processor: str = "intel") -> bytes:
    """Numbers as 2-byte words, negative or up to 65535."""
    words = np.atleast_1d(np.asarray(values, dtype=np.int64)) & 0xFFFF
    return words.astype(">u2" if processor == "mips" else "<u2").tobytes()


@dataclass
class Record:
    """One parameter as it will stand in the file; raw bytes, so that nonsense can be written too."""

    group: str
    name: str
    kind: int
    dims: tuple[int, ...]
    raw: bytes
    description: str = ""
    offset: int | None = None  # the pointer to the next record, when it is to be wrong


def text(group: str, name: str, values: Iterable[str | bytes], width: int | None = None) -> Record:
    """A character parameter: a list of texts padded to one width."""
    encoded = [v.encode() if isinstance(v, str) else v for v in values]
    width = width if width is not None else max((len(v) for v in encoded), default=1)
    return Record(group, name, CHARACTER, (width, len(encoded)), b"".join(v.ljust(width)[:width] for v in encoded))


def word(group: str, name: str, values: Any, dims: tuple[int, ...] | None = None, processor: str = "intel") -> Record:
    """An integer parameter."""
    count = np.asarray(values)
    return Record(group, name, INTEGER, dims if dims is not None else count.shape, word_bytes(values, processor))


def real(group: str, name: str, values: Any, dims: tuple[int, ...] | None = None, processor: str = "intel") -> Record:
    """A real parameter."""
    count = np.asarray(values)
    return Record(group, name, REAL, dims if dims is not None else count.shape, real_bytes(values, processor))


@dataclass
class C3DFile:
    """What goes into a file; ``header`` and ``records`` contradict it where a test says so."""

    points: np.ndarray  # (frames, points, 3) in the file's unit
    residual: np.ndarray | None = None  # (frames, points)
    labels: list[str | bytes] | None = None
    rate: float = 100.0
    unit: str | None = "mm"
    storage: str = "real"  # or "integer"
    scale: float = 0.1  # positive; its sign is written by storage
    processor: str = "intel"
    analogue: np.ndarray | None = None  # (frames, samples per frame, channels), raw values
    first_frame: int = 1
    header: dict[str, Any] = field(default_factory=dict)  # words that differ from the truth
    replace: list[Record] = field(default_factory=list)  # records instead of those of the same name
    drop: set[str] = field(default_factory=set)  # "GROUP:NAME" left out
    add: list[Record] = field(default_factory=list)
    lower_case: bool = False
    filler: bytes | None = None  # what follows the data; default: zeros up to the block
    parameter_blocks: int | None = None
    data_block: int | None = None  # default: directly behind the parameters
    raw_fourth: np.ndarray | None = None  # (frames, points) the whole fourth word instead of the residual

    def n(self) -> tuple[int, int]:
        return self.points.shape[0], self.points.shape[1]

    def records(self, data_block: int) -> list[Record]:
        """The parameters, true ones first, then as replaced, dropped and added."""
        frames, points = self.n()
        p = self.processor
        labels = self.labels if self.labels is not None else [f"M{i + 1}" for i in range(points)]
        sign = -1.0 if self.storage == "real" else 1.0
        wanted = [
            word("POINT", "USED", points, processor=p),
            real("POINT", "SCALE", sign * self.scale, processor=p),
            real("POINT", "RATE", self.rate, processor=p),
            word("POINT", "DATA_START", data_block, processor=p),
            word("POINT", "FRAMES", min(frames, 65535), processor=p),
            *(
                text("POINT", "LABELS" if k == 0 else f"LABELS{k // 255 + 1}", labels[k : k + 255])
                for k in range(0, max(len(labels), 1), 255)
            ),
        ]
        if self.unit is not None:
            wanted.append(Record("POINT", "UNITS", CHARACTER, (len(self.unit),), self.unit.encode()))
        channels = 0 if self.analogue is None else self.analogue.shape[2]
        per_frame = 1 if self.analogue is None else self.analogue.shape[1]
        wanted += [
            word("ANALOG", "USED", channels, processor=p),
            real("ANALOG", "RATE", self.rate * per_frame if channels else 0.0, processor=p),
            real("ANALOG", "GEN_SCALE", 1.0, processor=p),
        ]
        if channels:
            wanted += [
                real("ANALOG", "SCALE", np.ones(channels), processor=p),
                word("ANALOG", "OFFSET", np.zeros(channels, int), processor=p),
                text("ANALOG", "LABELS", [f"A{i + 1}" for i in range(channels)]),
            ]
        replaced = {f"{r.group}:{r.name}": r for r in self.replace}
        kept = [replaced.pop(f"{r.group}:{r.name}", r) for r in wanted if f"{r.group}:{r.name}" not in self.drop]
        return [*kept, *replaced.values(), *self.add]

    def parameter_section(self, data_block: int) -> bytes:
        """The chain of group and parameter records, without padding."""
        records = self.records(data_block)
        groups = list(dict.fromkeys(r.group for r in records))
        endian = ">" if self.processor == "mips" else "<"
        out = bytearray(b"\x01\x50\x00" + bytes([PROCESSORS[self.processor]]))
        case = str.lower if self.lower_case else str

        for number, group in enumerate(groups, 1):
            name = case(group.split("#")[0]).encode()  # "POINT#2" writes a second group POINT
            out += struct.pack("bb", len(name), -number) + name + struct.pack(endian + "H", 3) + b"\x00"
        for r in records:
            name, description = case(r.name).encode(), r.description.encode()
            body = (
                struct.pack("bB", r.kind, len(r.dims)) + bytes(r.dims) + r.raw + bytes([len(description)]) + description
            )
            offset = r.offset if r.offset is not None else 2 + len(body)
            out += (
                struct.pack("bb", len(name), groups.index(r.group) + 1)
                + name
                + struct.pack(endian + "H", offset)
                + body
            )
        return bytes(out + b"\x00\x00\x00\x00")

    def data_section(self) -> bytes:
        """The frames: points with their fourth word, then the analogue samples."""
        frames, points = self.n()
        residual = np.zeros((frames, points)) if self.residual is None else self.residual
        fourth = residual if self.raw_fourth is None else self.raw_fourth
        columns = np.concatenate([self.points, fourth[..., None]], axis=-1).astype(float)
        if self.storage == "integer":
            columns[..., :3] = np.round(columns[..., :3] / self.scale)
            columns[..., 3] = np.where(columns[..., 3] < 0, -1, columns[..., 3])
        rows = columns.reshape(frames, 4 * points)
        if self.analogue is not None:
            rows = np.concatenate([rows, self.analogue.reshape(frames, -1)], axis=1)
        return (real_bytes if self.storage == "real" else word_bytes)(rows, self.processor)

    def header_bytes(self, data_block: int, data: bytes) -> bytes:
        """The first block; any of its words can be told to lie."""
        frames, points = self.n()
        per_frame, channels = (1, 0) if self.analogue is None else self.analogue.shape[1:]
        said = {
            "parameter_block": 2,
            "key": 0x50,
            "points": points,
            "analogue": per_frame * channels,
            "first": self.first_frame,
            "last": min(self.first_frame + frames - 1, 65535),
            "gap": 10,
            "scale": self.scale * (-1 if self.storage == "real" else 1),
            "data_start": data_block,
            "per_frame": per_frame,
            "rate": self.rate,
            "events": [],
        } | self.header
        p = self.processor
        head = bytearray(BLOCK)
        head[0:2] = bytes([said["parameter_block"], said["key"]])
        head[2:12] = word_bytes([said[k] for k in ("points", "analogue", "first", "last", "gap")], p)
        head[12:16] = real_bytes(said["scale"], p)
        head[16:20] = word_bytes([said["data_start"], said["per_frame"]], p)
        head[20:24] = real_bytes(said["rate"], p)
        if said["events"]:
            head[298:302] = word_bytes([12345, len(said["events"])], p)
            for k, (time, label) in enumerate(said["events"]):
                head[304 + 4 * k : 308 + 4 * k] = real_bytes(time, p)
                head[376 + k] = 1
                head[396 + 4 * k : 400 + 4 * k] = label.encode().ljust(4)[:4]
        return bytes(head)

    def tobytes(self) -> bytes:
        """The whole file."""
        blocks = -(-len(self.parameter_section(0)) // BLOCK)
        data_block = self.data_block or 2 + blocks
        parameters = bytearray(self.parameter_section(data_block).ljust((data_block - 2) * BLOCK, b"\x00"))
        parameters[2] = (self.parameter_blocks if self.parameter_blocks is not None else blocks) & 0xFF
        data = self.data_section()
        filler = bytes(-len(data) % BLOCK) if self.filler is None else self.filler
        return self.header_bytes(data_block, data) + bytes(parameters) + data + filler

    def write(self, path: Path) -> Path:
        """The file on disk."""
        path.write_bytes(self.tobytes())
        return path


def walking_body(frames: int = 60, rate: float = 100.0, seed: int = 0) -> tuple[np.ndarray, list[str]]:
    """A body-sized cloud of twelve points that walks along X (mm, Z up): frames x 12 x 3, and its labels."""
    labels = [
        "R_ASIS",
        "L_ASIS",
        "SACRUM",
        "R_THIGH",
        "L_THIGH",
        "R_KNEE",
        "L_KNEE",
        "R_ANKLE",
        "L_ANKLE",
        "R_HEEL",
        "L_HEEL",
        "C7",
    ]
    rest = np.array(
        [
            [100, -120, 1000], [100, 120, 1000], [-80, 0, 1010], [60, -140, 750], [60, 140, 750], [20, -150, 520],
            [20, 150, 520], [-10, -130, 90], [-10, 130, 90], [-60, -120, 40], [-60, 120, 40], [-60, 0, 1480],
        ],
        dtype=float,
    )  # fmt: skip
    rng = np.random.default_rng(seed)
    t = np.arange(frames)[:, None] / rate
    phase = rng.uniform(0, 2 * np.pi, 12)
    points = np.repeat(rest[None], frames, axis=0)
    points[..., 0] += 1200 * t + 60 * np.sin(2 * np.pi * t + phase)
    points[..., 2] += 15 * np.sin(4 * np.pi * t + phase)
    return points.astype(np.float32).astype(float), labels
