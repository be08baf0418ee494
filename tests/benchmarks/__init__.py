"""Figures that take minutes: ``python -m tests.benchmarks NAME``."""
