"""What the session file corrects by hand in a trial, and what it names that the recording does not have."""

import numpy as np
import xarray as xr

from condyle.findings import Finding

_ROUNDED_S = 0.1  # an end of 14.4 s may be meant for one of 14.36


def left_out(trial: xr.Dataset) -> set[int]:
    """Numbers of the repetitions that the session file leaves out."""
    return {int(n) for n in np.atleast_1d(trial.attrs.get("leave_out_repetitions", []))}


def not_there(trial: xr.Dataset) -> list[Finding]:
    """A rejecting row for a correction that names a time which the recording does not have."""
    last = float(trial.variables["time"].values[-1])
    out = []
    if "use_s" in trial.attrs and trial.attrs["use_s"][1] > last + _ROUNDED_S:
        a, b = trial.attrs["use_s"]
        out.append((b, f"use_s names {a:g} to {b:g} s, but the recording ends at {last:.2f} s"))
    if "repetitions_s" in trial.attrs:
        times = np.asarray(trial.attrs["repetitions_s"], dtype=float).reshape(-1, 3)
        late = times[times[:, 2] > last + 0.5 / float(trial.attrs["rate_hz"])]
        if late.size:
            words = f"repetitions_s names {', '.join(f'{t:g}' for t in late[0])} s"
            out.append((float(late[0, 2]), f"{words}, but the recording ends at {last:.2f} s"))
    return [
        Finding("correction by hand", "file", value, last, "s", "reject", f"{words}; correct the session file.")
        for value, words in out
    ]
