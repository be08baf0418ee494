"""Published values to lay beside an archive's own, for the measures that have some."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Reference:
    """Mean and standard deviation of a published group, in the unit of the measure."""

    words: str
    mean: float
    sd: float


def reference_of(task: str, measure: str) -> tuple[Reference, ...]:
    """The published groups for a measure of a task; empty where there is none."""
    return ()
