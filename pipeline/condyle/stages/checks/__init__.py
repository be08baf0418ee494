"""The questions that `check` and `quality` ask of a trial, one file each."""
