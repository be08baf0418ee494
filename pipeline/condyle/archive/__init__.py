"""Many sessions, done in any number of runs on one machine or a cluster, and collected in one set of tables.

The names are imported when first used: a worker process needs neither tables nor pages.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from condyle.archive.run import ArchiveResult, Interrupted, archive, plan_archive
    from condyle.archive.workers import Limits

_HOMES = {
    **dict.fromkeys(("ArchiveResult", "Interrupted", "archive", "plan_archive"), "condyle.archive.run"),
    "Limits": "condyle.archive.workers",
}

__all__ = ["ArchiveResult", "Interrupted", "Limits", "archive", "plan_archive"]


def __getattr__(name: str) -> Any:
    """Import a public name from its home when it is first asked for."""
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'condyle.archive' has no attribute {name!r}")
