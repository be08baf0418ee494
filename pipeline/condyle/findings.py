"""A finding: one row of quality.csv."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Verdict = Literal["pass", "review", "reject"]

_ORDER: dict[Verdict, int] = {"pass": 0, "review": 1, "reject": 2}


@dataclass(frozen=True, slots=True)
class Finding:
    """What was checked, on what, what came out, against which limit, and what to do about it.

    ``subject`` is a marker's label, a segment such as ``shank_r``, a repetition such as ``repetition 3`` or ``file``;
    ``value`` and ``limit`` are None where the check has no number.
    """

    check: str
    subject: str
    value: float | None
    limit: float | None
    unit: str
    verdict: Verdict
    advice: str


def worst(findings: Iterable[Finding]) -> Verdict:
    """The hardest verdict among the findings; 'pass' where there is none."""
    return max((f.verdict for f in findings), key=_ORDER.__getitem__, default="pass")
