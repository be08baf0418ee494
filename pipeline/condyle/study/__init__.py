"""2D screening against the 3D reference, over a study."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from condyle.study.agreeing import agree

__all__ = ["agree"]


def __getattr__(name: str) -> Any:
    """Import ``agree`` when it is first asked for, so that ``condyle agree --help`` stays fast."""
    if name == "agree":
        from condyle.study.agreeing import agree

        return agree
    raise AttributeError(f"module 'condyle.study' has no attribute {name!r}; it has agree")
