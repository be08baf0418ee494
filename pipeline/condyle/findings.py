"""A finding: one row of quality.csv; which is worse than which."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from condyle.mechanics.arrays import BoolArray
from condyle.mechanics.gaps import runs_of

Verdict = Literal["pass", "review", "reject"]
Seconds = tuple[float, float]  # from, to

ACCEPTED = "rejected, but accepted in the session file: "  # an overridden reject's advice: this, then the reason
_ORDER: dict[Verdict, int] = {"pass": 0, "review": 1, "reject": 2}
_OVERRIDDEN = 1.5


@dataclass(frozen=True, slots=True)
class Finding:
    """What was checked, on what, what came out, against which limit, and what to do about it.

    ``subject`` is a marker's label, a segment such as ``shank_r``, a repetition such as ``repetition 3`` or ``file``;
    ``value`` and ``limit`` are None where the check has no number, ``limit`` also where the verdict does not come from it.
    ``times_s`` says when, from the file's own first frame, where the finding is about moments of the trial.
    """

    check: str
    subject: str
    value: float | None
    limit: float | None
    unit: str
    verdict: Verdict
    advice: str
    times_s: tuple[Seconds, ...] = ()


def worst(findings: Iterable[Finding]) -> Verdict:
    """The hardest verdict among the findings; 'pass' where there is none."""
    return max((f.verdict for f in findings), key=_ORDER.__getitem__, default="pass")


def stretches(which: BoolArray, rate_hz: float) -> tuple[Seconds, ...]:
    """First and last moment [s] of every run of frames that are True, for ``times_s``."""
    return tuple((int(a) / rate_hz, int(b - 1) / rate_hz) for a, b in runs_of(which))


def moments(frames: Sequence[int], rate_hz: float, most: int = 5) -> str:
    """When frames are, in seconds, the first ones listed; to the frame: two decimals up to 100 Hz, three beyond."""
    places = 2 if rate_hz <= 100.0 else 3
    return ", ".join(f"{f / rate_hz:.{places}f}" for f in frames[:most]) + (" ..." if len(frames) > most else "")


def gravity(verdict: str, advice: str, value: float | None, limit: float | None) -> tuple[float, float]:
    """Sorts findings, the least grave first: passed, review, reject that the session file overrides, reject.

    Within a verdict by how far the value is beyond the limit: in multiples of the limit, or, where the limit is 0, in
    units of the value; whatever has no number comes before what is beyond one.
    """
    rank = _OVERRIDDEN if advice.startswith(ACCEPTED) else {"pass": 0.0, "reject": 2.0}.get(verdict, 1.0)
    return rank, _beyond(value, limit) if rank else 0.0


def _beyond(value: float | None, limit: float | None) -> float:
    """By which factor a value is above the limit, or below a limit that it should reach."""
    if value is None or limit is None or math.isnan(value) or math.isnan(limit):
        return 0.0
    if limit == 0.0:
        return abs(value)
    if value == 0.0:
        return math.inf
    return max(abs(value / limit), abs(limit / value))
