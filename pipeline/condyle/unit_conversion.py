"""Which unit is a value in, and what is it in another?"""

import math

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray

# unit: (what it measures, how many of the base unit it is)
_UNITS = {
    "deg": ("angle", 1.0),
    "rad": ("angle", math.degrees(1.0)),
    "mm": ("length", 1.0),
    "cm": ("length", 10.0),
    "m": ("length", 1000.0),
    "in": ("length", 25.4),
    "s": ("time", 1.0),
    "ms": ("time", 0.001),
    "1": ("number", 1.0),
    "%": ("share", 1.0),
    "px": ("picture", 1.0),
    "mm/s": ("speed", 1.0),
    "m/s": ("speed", 1000.0),
    "deg/s": ("angular speed", 1.0),
    "rad/s": ("angular speed", math.degrees(1.0)),
}
_SPELLINGS = {
    "°": "deg",
    "degree": "deg",
    "degrees": "deg",
    "radian": "rad",
    "radians": "rad",
    "millimetre": "mm",
    "millimeter": "mm",
    "centimetre": "cm",
    "centimeter": "cm",
    "metre": "m",
    "meter": "m",
    "inch": "in",
    "sec": "s",
    "second": "s",
    "seconds": "s",
    "percent": "%",
    "pct": "%",
    "pixel": "px",
    "pixels": "px",
}


# the most that a value of a kind can mean, in its base unit (ours): beyond it stands a code for missing, or a slip
_MOST = {
    "angle": 360.0,
    "length": 10_000.0,
    "time": 3600.0,
    "number": 1e6,
    "share": 10_000.0,
    "picture": 100_000.0,
    "speed": 100_000.0,
    "angular speed": 100_000.0,
}
_MOST_OF_UNKNOWN = 1e9
_CODES = (-999.0, -9999.0, -99999.0, -999999.0, 9999.0, 99999.0, 999999.0)  # usual for missing, in whatever unit


def unit_name(text: str) -> str:
    """A unit as the tables spell it; an unknown one stays as it was written."""
    plain = text.strip()
    low = plain.lower()
    return _SPELLINGS.get(low, low if low in _UNITS else plain)


def is_known(unit: str) -> bool:
    """Whether the unit can be converted."""
    return unit_name(unit) in _UNITS


def known_units() -> str:
    """The units that can be converted, for a sentence."""
    return ", ".join(_UNITS)


def factor(unit: str, wanted: str) -> float | None:
    """By what a value in ``unit`` is multiplied to be in ``wanted``; None where the one is not the other's kind."""
    a, b = unit_name(unit), unit_name(wanted)
    if a == b:
        return 1.0
    if a not in _UNITS or b not in _UNITS or _UNITS[a][0] != _UNITS[b][0]:
        return None
    return _UNITS[a][1] / _UNITS[b][1]


def convertible_to(wanted: str) -> str:
    """The units of the same kind, for a sentence."""
    return ", ".join(name for name in _UNITS if factor(name, wanted) is not None) or wanted


def kind(unit: str) -> str:
    """What a unit measures; of an unknown one the unit itself, so that it is convertible to nothing else."""
    name = unit_name(unit)
    return _UNITS[name][0] if name in _UNITS else name


def absurd(values: FloatArray, unit: str) -> tuple[BoolArray, str]:
    """Which values cannot be meant in that unit, and the reason: a code for missing, or beyond all measure."""
    name = unit_name(unit)
    base = _UNITS[name][1] if name in _UNITS else 1.0
    most = _MOST[kind(name)] / base if name in _UNITS else _MOST_OF_UNKNOWN
    bad = (np.abs(values) > most) | np.isin(values, _CODES)
    return np.asarray(bad), f"beyond what can be meant ({most:g} {name}".rstrip() + "), or a code for missing"
