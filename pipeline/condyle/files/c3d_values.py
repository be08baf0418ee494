"""How a C3D file writes numbers and parameters."""

import struct
from dataclasses import dataclass

BLOCK = 512
PROCESSORS = {84: "intel", 85: "dec", 86: "mips"}
CHARACTER, BYTE, INTEGER, REAL = -1, 1, 2, 4
TYPES = (CHARACTER, BYTE, INTEGER, REAL)


@dataclass(frozen=True, slots=True)
class Parameter:
    """One record of the parameter section; ``raw`` is cut where the record before the next one ends."""

    group: str
    name: str
    kind: int
    dims: tuple[int, ...]
    raw: bytes
    processor: str
    spare: int = 0  # bytes between the end of its contents and the next record; not 0 = one of the two lengths lies

    @property
    def count(self) -> int:
        """How many elements the dimensions promise."""
        count = 1
        for length in self.dims:
            count *= length
        return count

    @property
    def complete(self) -> bool:
        """Whether the record holds all that its dimensions promise."""
        return self.kind in TYPES and len(self.raw) == self.count * abs(self.kind)

    def numbers(self) -> tuple[float, ...]:
        """The values as numbers, words without sign; empty for text, an unknown type or an incomplete record."""
        if not self.complete or self.kind == CHARACTER:
            return ()
        if self.kind == BYTE:
            return tuple(float(v) for v in self.raw)
        return (
            tuple(map(float, words(self.raw, self.processor)))
            if self.kind == INTEGER
            else reals(self.raw, self.processor)
        )

    def texts(self) -> tuple[bytes, ...]:
        """The values as byte strings, one a row of the first dimension; empty for numbers or an incomplete record."""
        if self.kind != CHARACTER or not self.complete:
            return ()
        width = self.dims[0] if self.dims else 1
        return tuple(self.raw[i : i + width] for i in range(0, len(self.raw), width)) if width else ()


def words(raw: bytes, processor: str) -> tuple[int, ...]:
    """Two-byte words without sign."""
    return struct.unpack(f"{'>' if processor == 'mips' else '<'}{len(raw) // 2}H", raw[: len(raw) // 2 * 2])


def reals(raw: bytes, processor: str) -> tuple[float, ...]:
    """Four-byte reals; a DEC real is an IEEE real at four times its value with its halves exchanged."""
    count = len(raw) // 4
    if processor != "dec":
        return struct.unpack(f"{'>' if processor == 'mips' else '<'}{count}f", raw[: 4 * count])
    halves = struct.unpack(f"<{2 * count}H", raw[: 4 * count])
    exchanged = struct.pack(f"<{2 * count}H", *(h for i in range(count) for h in (halves[2 * i + 1], halves[2 * i])))
    return tuple(v / 4.0 for v in struct.unpack(f"<{count}f", exchanged))
