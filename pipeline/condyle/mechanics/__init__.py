"""Pure NumPy and SciPy: the formulas. No files, no YAML, no xarray, no logging."""
