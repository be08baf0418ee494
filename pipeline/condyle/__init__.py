"""condyle: 3D kinematics of the single-leg squat, and which part moved the knee.

The public names are imported when first used, so that ``condyle --help`` stays fast.
"""

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_PUBLIC = {
    "process": "condyle.session",
    "plan": "condyle.session",
    "compute": "condyle.session",
    "inspect": "condyle.files.inspection",
    "agree": "condyle.study",
}

__all__ = ["__version__", "agree", "compute", "inspect", "plan", "process"]


def __getattr__(name: str) -> Any:
    """Import a public name from its home when it is first asked for."""
    if name in _PUBLIC:
        return getattr(import_module(_PUBLIC[name]), name)
    raise AttributeError(f"module 'condyle' has no attribute {name!r}; it has {', '.join(sorted(_PUBLIC))}")
