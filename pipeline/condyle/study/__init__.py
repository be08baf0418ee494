"""2D screening against the 3D reference, over a study."""

from condyle.study.agreeing import agree

__all__ = ["agree"]
