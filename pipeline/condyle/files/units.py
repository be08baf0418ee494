"""Are these millimetres? A unit is believed where a body of that size could have worn the markers."""

import numpy as np

from condyle.errors import DataError
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray, FloatArray

MILLIMETRES = {"mm": 1.0, "cm": 10.0, "m": 1000.0}
_WORDS = {
    **dict.fromkeys(("mm", "millimeter", "millimeters", "millimetre", "millimetres"), "mm"),
    **dict.fromkeys(("cm", "centimeter", "centimeters", "centimetre", "centimetres"), "cm"),
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), "m"),
}
# Median distance of the markers from their middle, ours: a lower body has 300-450 mm, a whole body 400-600 mm, half
# a leg 150 mm.
BODY_MM = (100.0, 1000.0)
SAID_MM = (60.0, 1800.0)  # with the unit said, a foot alone and two people in one file are let through, with a finding
FEWEST_MARKERS, MOST_FRAMES = 4, 30


def body_size(points: FloatArray, is_marker: BoolArray) -> float:
    """Median distance of the markers (frames, points, 3) from their middle, in the file's unit; NaN where too few
    are seen.
    """
    points = points[:, is_marker]
    seen = np.isfinite(points[..., 0]).sum(axis=1)
    if seen.size == 0 or seen.max() < FEWEST_MARKERS:
        return float("nan")
    full = np.flatnonzero(seen >= max(FEWEST_MARKERS, seen.max() // 2))
    chosen = points[full[np.unique(np.linspace(0, len(full) - 1, MOST_FRAMES).astype(int))]]
    distance = np.sqrt(np.square(chosen - np.nanmedian(chosen, axis=1, keepdims=True)).sum(axis=-1))
    return float(np.nanmedian(distance))


def settle_unit(points: FloatArray, is_marker: BoolArray, said: str | None, where: str) -> tuple[str, list[Finding]]:
    """The unit of the coordinates and what is to be said about it; DataError where no unit makes a body of the
    markers.
    """
    size = body_size(points, is_marker)
    known = _WORDS.get((said or "").strip().lower().rstrip("."))
    if np.isnan(size):
        if known is None:
            raise DataError(
                f"{where}: its unit is {'not said' if not said else 'unknown'} and never are {FEWEST_MARKERS} "
                "markers seen together, "
                "so their size cannot tell it either; write POINT:UNITS into the file"
            )
        text = f"never are {FEWEST_MARKERS} markers seen together, so '{known}' could not be checked against a body"
        return known, [Finding("unit against body size", "file", None, None, "mm", "review", text)]
    if known is not None and BODY_MM[0] <= size * MILLIMETRES[known] < BODY_MM[1]:
        return known, []
    fitting = [unit for unit, factor in MILLIMETRES.items() if BODY_MM[0] <= size * factor < BODY_MM[1]]
    if known is not None and SAID_MM[0] <= size * MILLIMETRES[known] <= SAID_MM[1]:
        text = f"in the unit the file says ({known}) the markers make an unusual size for a body; check the unit"
        return known, [
            Finding("unit against body size", "file", size * MILLIMETRES[known], BODY_MM[0], "mm", "review", text)
        ]
    if not fitting:
        raise DataError(
            f"{where}: half of its markers lie within {size:.4g} {known or 'units'} of their middle, which is no "
            "body in mm, cm or m: "
            "the coordinates are noise or no markers; export the file again"
        )
    unit = fitting[0]
    said_so = (
        f"the file says {known}, but only in {unit} do the markers make a body"
        if known
        else "the file says no known unit"
    )
    text = (
        f"{said_so}; by the size of the body coordinates were taken as {unit}: compare the static trial with the others"
    )
    return unit, [Finding("unit against body size", "file", size * MILLIMETRES[unit], BODY_MM[0], "mm", "review", text)]
