"""Across sessions and testers: was a landmark placed differently, and which change is more than measurement error?"""

from condyle.repeatability.comparing import Comparison, compare_sessions, sentences_of, write_comparison

__all__ = ["Comparison", "compare_sessions", "sentences_of", "write_comparison"]
