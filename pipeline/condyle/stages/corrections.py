"""What the session file corrects by hand in a trial: honoured, and said in the quality table."""

import numpy as np
import xarray as xr

from condyle.findings import Finding


def left_out(trial: xr.Dataset) -> set[int]:
    """Numbers of the repetitions that the session file leaves out."""
    return {int(n) for n in np.atleast_1d(trial.attrs.get("leave_out_repetitions", []))}


def corrections_found(trial: xr.Dataset) -> list[Finding]:
    """A row for every correction, with its reason."""
    why = str(trial.attrs.get("why", "no reason given")).rstrip(".")
    words = []
    if "use_s" in trial.attrs:
        a, b = trial.attrs["use_s"]
        words.append((f"only {a:g} to {b:g} s is used", why))
    if "repetitions_s" in trial.attrs:
        count = np.asarray(trial.attrs["repetitions_s"], dtype=float).size // 3
        words.append((f"start, bottom and end of {count} repetition{'s' * (count != 1)} given by hand", why))
    if left_out(trial):
        reason = str(trial.attrs.get("leave_out_why", why)).rstrip(".")
        words.append((f"repetition {', '.join(map(str, sorted(left_out(trial))))} left out", reason))
    return [Finding("correction", "file", None, None, "", "review", f"{what}: {reason}.") for what, reason in words]


def not_there(trial: xr.Dataset) -> list[Finding]:
    """A rejecting row for a correction that names a time which the recording does not have."""
    last = float(trial["time"].values[-1])
    out = []
    if "use_s" in trial.attrs and trial.attrs["use_s"][0] >= last:
        a, b = trial.attrs["use_s"]
        out.append((a, f"use_s names {a:g} to {b:g} s, but the recording ends at {last:.2f} s"))
    if "repetitions_s" in trial.attrs:
        times = np.asarray(trial.attrs["repetitions_s"], dtype=float).reshape(-1, 3)
        late = times[times[:, 2] > last + 0.5 / float(trial.attrs["rate_hz"])]
        if late.size:
            words = f"repetitions_s names {', '.join(f'{t:g}' for t in late[0])} s"
            out.append((float(late[0, 2]), f"{words}, but the recording ends at {last:.2f} s"))
    return [
        Finding("correction", "file", value, last, "s", "reject", f"{words}; correct the session file.")
        for value, words in out
    ]
