"""The walk along the chain of parameter records: each begins where the one before it points, and always further on."""

import struct
from dataclasses import replace

from condyle.files.c3d_values import CHARACTER, TYPES, Parameter, words


class Records:
    """Takes every record it can and notes what is odd about the chain; no content can crash or hang it."""

    def __init__(self, section: bytes, processor: str, padded_to: int) -> None:
        self.section, self.processor, self.padded_to = section, processor, padded_to
        self.limit = len(section)
        self.groups: dict[int, str] = {}
        self.found: list[tuple[int, Parameter]] = []
        self.oddities: list[str] = []
        self.unsafe: list[str] = []
        self.end = 4

    def walk(self) -> None:
        """Read record after record to the end mark, the end of the section, or the first record that makes no sense."""
        at = 4
        while at + 2 <= self.limit:
            length, group = struct.unpack_from("bb", self.section, at)
            if length == 0:
                self._nothing_behind(at)
                return
            following = self._record(at, abs(length), group)
            if following is None:
                return
            at = following
        self.end = min(at, self.limit)
        self.oddities.append("the parameter records have no end mark")

    def _nothing_behind(self, at: int) -> None:
        self.end = at
        if self.section[at : self.padded_to].strip(b"\x00 "):
            self.oddities.append("there is more behind the end mark of the parameter records: some may be lost")

    def _record(self, at: int, length: int, group: int) -> int | None:
        """Take one record; the place of the next, or None at the last."""
        section, body = self.section, at + 2 + length
        if body + 2 > self.limit:
            self.oddities.append("the parameter records run into the data")
            self.end = self.limit
            return None
        raw_name = section[at + 2 : body]
        name = raw_name.decode("ascii", "replace").strip(" ").upper()
        if raw_name != raw_name.upper():
            self.unsafe.append(f"{_shown(name)} is written in lower case")
        if not name.isprintable() or not raw_name.isascii() or not name:
            self.oddities.append("a parameter record has a name that is not text")
        (pointer,) = words(section[body : body + 2], self.processor)
        following = body + pointer if pointer else None
        if following is not None and (pointer < 2 or following > self.limit):
            self.oddities.append(f"record {_shown(name)} points outside the parameter section")
            following = None
        end = following if following is not None else self.limit
        self.end = end
        if group < 0:
            self._group(-group, name)
        elif group > 0:
            self._parameter(group, name, body + 2, end, last=pointer == 0)
        else:
            self.oddities.append(f"record {_shown(name)} belongs to no group")
        return following

    def _group(self, number: int, name: str) -> None:
        if number in self.groups:
            self.oddities.append(f"groups {_shown(self.groups[number])} and {_shown(name)} share one number")
        elif name in self.groups.values():
            self.oddities.append(f"there are two groups {_shown(name)}")
        self.groups.setdefault(number, name)

    def _parameter(self, group: int, name: str, at: int, end: int, *, last: bool) -> None:
        """Kind, dimensions and values between ``at`` and the next record."""
        if at + 2 > end:
            self.oddities.append(f"parameter {_shown(name)} is cut off")
            return
        kind, n_dims = struct.unpack_from("bB", self.section, at)
        dims = tuple(self.section[at + 2 : min(at + 2 + n_dims, end)])
        first = at + 2 + n_dims
        record = Parameter("", name, kind, dims, b"", self.processor)
        known = kind in TYPES
        wanted = record.count * abs(kind) if known else 0
        record = Parameter("", name, kind, dims, self.section[first : min(first + wanted, end)], self.processor)
        if not known:
            self.oddities.append(f"parameter {_shown(name)} has the unknown type {kind}")
        elif not record.complete or len(dims) < n_dims:
            self.oddities.append(f"parameter {_shown(name)} promises more than its record holds")
        elif not last and (spare := self._spare(first + wanted, end)):
            self.oddities.append(f"the record of parameter {_shown(name)} is not as long as its contents")
            record = replace(record, spare=spare)
        if kind == CHARACTER and not n_dims:
            self.unsafe.append(f"the character parameter {_shown(name)} has no dimensions")
        self.found.append((group, record))

    def _spare(self, after_values: int, end: int) -> int:
        """Values and description must end where the next record begins; some writers leave the description out."""
        described = self.section[after_values] + 1 if after_values < end else 0
        return end - after_values - described

    def parameters(self) -> dict[tuple[str, str], list[Parameter]]:
        """The records by group and name; groups may be declared behind their parameters."""
        found: dict[tuple[str, str], list[Parameter]] = {}
        for number, record in self.found:
            if number not in self.groups:
                self.oddities.append(f"parameter {_shown(record.name)} belongs to a group that is not declared")
            group = self.groups.get(number, f"#{number}")
            found.setdefault((group, record.name), []).append(replace(record, group=group))
        self.oddities.extend(
            f"parameter {_shown(g)}:{_shown(n)} stands {len(r)} times" for (g, n), r in found.items() if len(r) > 1
        )
        return found


def _shown(name: str) -> str:
    """A name that is safe to print and short."""
    shown = "".join(c if c.isprintable() and c.isascii() else "?" for c in name)
    return shown[:40] or "without a name"
