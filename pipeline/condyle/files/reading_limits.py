"""What reading goes by: the shipped limits of ``configs/reading.yaml``, with what a pipeline changed of them."""

import json
from collections.abc import Mapping
from typing import Any

from condyle.files.limits import Limit, load_limits, overlaid

Limits = Mapping[str, Limit]


def reading_limits(changes: Mapping[str, float] | None = None) -> Limits:
    """The limits in force; KeyError on an unknown name."""
    return overlaid(load_limits("reading"), changes or {})


def limits_of_history(history: str) -> Limits:
    """The limits that a trial was read by, from its ``history``; the shipped ones where it does not tell."""
    try:
        steps = json.loads(history)
    except ValueError:
        steps = []
    own: dict[str, Any] = next((step["read"] for step in steps if isinstance(step, dict) and "read" in step), {})
    return reading_limits(own.get("limits"))
