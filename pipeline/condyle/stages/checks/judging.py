"""From a number and the limits of configs/quality.yaml to a verdict."""

from collections.abc import Mapping
from typing import Annotated

from pydantic import Field

from condyle.files.limits import KnownLimits, Limit, load_limits, overlaid
from condyle.findings import Finding, Seconds, Verdict
from condyle.stages.stage import Settings

Limits = Mapping[str, Limit]


class QualityLimits(Settings):
    """Settings of every stage that judges by configs/quality.yaml."""

    limits: Annotated[dict[str, float], KnownLimits("quality")] = Field(
        {}, description="limits that differ from configs/quality.yaml"
    )

    def in_force(self) -> Limits:
        """The shipped limits with the user's own laid over them."""
        return overlaid(load_limits("quality"), self.limits) if self.limits else load_limits("quality")


def judged(limits: Limits, name: str, value: float) -> tuple[Verdict, float]:
    """Verdict of a value that should be small, and the limit it passed or kept: NAME_reject, NAME_review."""
    reject, review = limits.get(f"{name}_reject"), limits.get(f"{name}_review")
    if reject is not None and value > reject.value:
        return "reject", reject.value
    if review is not None:
        return ("review" if value > review.value else "pass"), review.value
    assert reject is not None, f"no limit {name}_review or {name}_reject in configs/quality.yaml"
    return "pass", reject.value


def finding(
    limits: Limits,
    name: str,
    check: str,
    subject: str,
    value: float,
    advice: str,
    unit: str | None = None,
    times_s: tuple[Seconds, ...] = (),
) -> Finding | None:
    """The finding where a value is over its limit; None where it is not."""
    verdict, limit = judged(limits, name, value)
    if verdict == "pass":
        return None
    known = limits.get(f"{name}_review") or limits[f"{name}_reject"]
    return Finding(check, subject, value, limit, known.unit if unit is None else unit, verdict, advice, times_s)
