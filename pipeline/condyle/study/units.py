"""Which unit is a value in, and what is it in another?"""

import math

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
