"""The report of one session: reads results only, so that it can be drawn again without computing."""

from typing import Any

__all__ = ["write_report"]


def __getattr__(name: str) -> Any:
    """Import what writes the report when it is first asked for: a run without a report does without its libraries."""
    if name in __all__:
        from condyle.report.writing import write_report

        return write_report
    raise AttributeError(f"module 'condyle.report' has no attribute {name!r}; it has {', '.join(__all__)}")
