"""One file per command: its arguments, and the call behind it."""
