"""Across sessions and testers: was a landmark placed differently, and which change is more than measurement error?"""

from condyle.repeatability.comparing import check_sessions

__all__ = ["check_sessions"]
