"""How fast was it recorded, and what is one step of an integer worth?"""

import math

from condyle.errors import DataError
from condyle.files.c3d_structure import Structure
from condyle.findings import Finding

SLOWEST_HZ, FASTEST_HZ = 1.0, 20000.0  # ours: no camera system of a gait lab lies outside
ROUNDED = 2e-3  # a header that says 60 for 59.94 was rounded, one that says 100 for 200 is wrong
SAME = 1e-6


def settle_rate(structure: Structure, channels: int, samples_per_frame: int) -> tuple[float, list[Finding]]:
    """The frame rate as POINT:RATE has it, never rounded, where a second source does not contradict it.

    The analogue rate divided by the samples per frame is the third witness between header and parameter.
    """
    header = structure.header.rate_hz
    rates = [v[0] for record in structure.all("POINT", "RATE") if (v := record.numbers())]
    said = rates[0] if rates else math.nan
    analogue = structure.numbers("ANALOG", "RATE")
    third = analogue[0] / samples_per_frame if channels and samples_per_frame and analogue else math.nan
    third = third if _possible(third) else math.nan
    if any(_possible(r) and not _near(r, said, SAME) for r in rates[1:]):
        raise DataError(
            f"{structure.path}: POINT:RATE stands twice, with {rates[0]:.6g} and {rates[1]:.6g} Hz; export the file "
            "again"
        )
    if _possible(said) and (not _possible(header) or _near(header, said, ROUNDED)):
        return said, [] if _near(header, said, SAME) else _report(header, said)
    if _possible(said) and _near(third, said, ROUNDED):
        return said, _report(header, said)
    if _possible(header) and _near(third, header, ROUNDED):
        return header, _report(said, header)
    if not _possible(said) and not _possible(header):
        raise DataError(
            f"{structure.path}: its frame rate is {said:.6g} Hz by POINT:RATE and {header:.6g} Hz by the header; "
            "no speed or filter can be computed: export it again"
        )
    raise DataError(
        f"{structure.path}: its frame rate is {_or_missing(said)} by POINT:RATE but {header:.6g} Hz by the header, "
        "and nothing settles which is true: export it again"
    )


def settle_scale(structure: Structure, *, real: bool) -> tuple[float, list[Finding]]:
    """What one step of an integer coordinate is worth, in the file's unit; for reals it is not used."""
    header = abs(structure.header.scale)
    scales = [abs(v[0]) for record in structure.all("POINT", "SCALE") if (v := record.numbers())]
    said = scales[0] if scales else math.nan
    if all(_near(s, said, 1e-5) for s in [header, *scales]):
        return said, []
    text = f"the header says {header:.6g}, POINT:SCALE {_or_missing(said, '')}"
    if real:
        return said if _is_scale(said) else header, [
            Finding(
                "scale by header and parameters",
                "file",
                header,
                None,
                "",
                "review",
                f"{text}; reals are stored, so it was not used",
            )
        ]
    if _is_scale(said) and not _is_scale(header) and len(scales) == 1:
        return said, [
            Finding(
                "scale by header and parameters", "file", header, said, "", "review", f"{text}; the latter was used"
            )
        ]
    raise DataError(f"{structure.path}: every coordinate hangs on its scale, and {text}: export it again")


def _possible(rate: float) -> bool:
    return SLOWEST_HZ <= rate <= FASTEST_HZ


def _is_scale(value: float) -> bool:
    return math.isfinite(value) and 1e-9 < value < 1e6


def _near(value: float, other: float, relative: float) -> bool:
    return abs(value - other) <= relative * abs(other)


def _or_missing(value: float, unit: str = " Hz") -> str:
    return "missing" if math.isnan(value) else f"{value:.6g}{unit}"


def _report(rejected: float, used: float) -> list[Finding]:
    text = f"header and parameters say {_or_missing(rejected)} and {used:.9g} Hz; {used:.9g} Hz was used"
    return [
        Finding(
            "frame rate by header and parameters",
            "file",
            None if math.isnan(rejected) else rejected,
            used,
            "Hz",
            "review",
            text,
        )
    ]
