"""Who says how many points, channels and frames a C3D file holds, and where its data begin?"""

from collections.abc import Iterator
from dataclasses import dataclass

from condyle.files.c3d_layout import Layout
from condyle.files.c3d_structure import Structure
from condyle.files.c3d_values import BLOCK
from condyle.findings import Finding

WRAP, SATURATED = 65536, 65535
ADVICE = "export the file again from the recording software, or compare with it"


@dataclass(frozen=True, slots=True)
class Witnesses:
    """What each source says, by name of the source; None = cannot be true."""

    points: dict[str, int]
    channels: dict[str, int]
    per_frame: dict[str, int]  # analogue samples of a channel per frame
    frames: dict[str, int]
    data_start: dict[str, int]
    real: dict[str, bool]
    analogue: int  # the header's product of channels and samples


def _whole(numbers: tuple[float, ...]) -> list[int]:
    return [int(v) for v in numbers[:1] if v == v and abs(v) < 1e15 and v == int(v)]


def _said(structure: Structure, group: str, name: str) -> dict[str, int]:
    """Whole numbers of every record of that name, by a name for the reader of a message."""
    values = [v for record in structure.all(group, name) for v in _whole(record.numbers())]
    return {f"{group}:{name}" + (f" ({k + 1})" if k else ""): v for k, v in enumerate(values)}


def witnesses(structure: Structure) -> Witnesses:
    """Every source of every quantity."""
    h = structure.header
    frames = {"the header": h.last - h.first + 1}
    frames |= _said(structure, "POINT", "FRAMES") | _said(structure, "POINT", "LONG_FRAMES")
    start, end = trial_fields(structure)
    if start is not None and end is not None:
        frames["TRIAL:ACTUAL_END_FIELD"] = end - start + 1
    per_frame = {"the header": h.samples_per_frame}
    analogue_rate, rate = structure.numbers("ANALOG", "RATE"), structure.numbers("POINT", "RATE")
    if analogue_rate and rate and rate[0] > 0 and analogue_rate[0] > 0:
        ratio = analogue_rate[0] / rate[0]
        if abs(ratio - round(ratio)) < 1e-3 * ratio and 1 <= round(ratio) < WRAP:
            per_frame["ANALOG:RATE by POINT:RATE"] = round(ratio)
    channels = _said(structure, "ANALOG", "USED")
    if h.samples_per_frame and h.analogue_per_frame % h.samples_per_frame == 0:
        channels["the header"] = h.analogue_per_frame // h.samples_per_frame
    elif not channels:
        channels["the header"] = h.analogue_per_frame
    real = {"the header": h.scale < 0} if h.scale == h.scale and h.scale else {}
    for k, record in enumerate(structure.all("POINT", "SCALE")):
        real |= {f"POINT:SCALE{f' ({k + 1})' if k else ''}": v < 0 for v in record.numbers()[:1] if v == v and v}
    starts = {"the header": (h.data_block - 1) * BLOCK}
    starts |= {name: (v - 1) * BLOCK for name, v in _said(structure, "POINT", "DATA_START").items()}
    return Witnesses(
        {"the header": h.points} | _said(structure, "POINT", "USED"),
        channels,
        per_frame,
        frames,
        starts,
        real,
        h.analogue_per_frame,
    )


def trial_fields(structure: Structure) -> tuple[int | None, int | None]:
    """First and last frame by the TRIAL group: low word plus 65536 times the high word."""

    def joined(name: str) -> int | None:
        numbers = structure.numbers("TRIAL", name)
        if not all(abs(number) < 1e15 for number in numbers):
            return None
        if len(numbers) == 2:
            return int(numbers[0]) + WRAP * int(numbers[1])
        return int(numbers[0]) if len(numbers) == 1 else None

    return joined("ACTUAL_START_FIELD"), joined("ACTUAL_END_FIELD")


def contradictions(layout: Layout, said: Witnesses) -> list[Finding]:
    """One finding for each quantity whose witnesses disagree with what was taken."""

    def disagree(what: str, values: dict[str, int], taken: int) -> Iterator[Finding]:
        for name, value in values.items():
            if value != taken and not (what == "frames" and _only_too_many(layout, value)):
                text = f"{name} says {value}, the size of the file settles it at {taken}; {ADVICE}"
                yield Finding(
                    f"{what} by header, parameters and size", "file", float(value), float(taken), "", "review", text
                )

    found = [
        *disagree("points", said.points, layout.points),
        *disagree("data start", said.data_start, layout.data_start),
    ]
    found += disagree("frames", said.frames, layout.declared_frames or layout.frames)
    found += disagree("analogue channels", said.channels, layout.channels)
    if layout.channels:
        found += disagree("analogue samples per frame", said.per_frame, layout.samples_per_frame)
    for name, value in said.real.items():
        if value != layout.real:
            kinds = {True: "reals", False: "integers"}
            text = f"{name} has the scale of {kinds[value]}, the file the size of {kinds[layout.real]}; {ADVICE}"
            found.append(Finding("storage by header, parameters and size", "file", None, None, "", "review", text))
    return found


def _only_too_many(layout: Layout, value: int) -> bool:
    """Whether a count differs only because a word cannot hold more than 65535."""
    return layout.frames >= SATURATED and (value >= SATURATED - 1 or value % WRAP == layout.frames % WRAP)
