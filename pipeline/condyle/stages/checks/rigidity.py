"""Do the markers of each segment keep the shape of the standing trial, and if not, which one moved?"""

import numpy as np

from condyle.body_names import SEGMENTS
from condyle.findings import Finding, Verdict, stretches
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.rigid_fit import COLLINEAR_MM, rigid_fit, second_spread
from condyle.mechanics.rigidity import leave_one_out
from condyle.stages.checks.judging import Limits, judged
from condyle.stages.checks.recorded import Recorded

_WORST = 0.95
_LOOKED_AT = 12  # frames that tell whether markers lie on one line

_SAID: dict[Verdict, str] = {
    "pass": "the markers keep the shape they had in the standing trial.",
    "review": "the markers do not quite keep the shape of the standing trial; look for one that moved.",
    "reject": "these are not the markers of the standing trial: another person's static, or a cluster put back elsewhere.",
}


def rigidity_findings(seen: Recorded, limits: Limits) -> list[Finding]:
    """Fit of every segment over the trial, in its worst moments, and the marker that moved."""
    if seen.rig is None:
        return []
    point, told = seen.some(), seen.told
    assert told is not None
    usual, worst = _middle_and_worst(told.rms)
    out: list[Finding] = []
    wrong: dict[str, float] = {}
    for s, columns in enumerate(seen.rig.columns):
        if len(columns) < 3:
            continue
        rms = told.rms[:, s]
        nothing = bool(np.isnan(rms).all())
        kind = seen.kinds[s]
        value = float(usual[s])
        verdict, limit = judged(limits, f"fit_{kind}", value)
        if nothing or verdict != "pass":
            narrow = _narrow(seen.point[:, columns])
            if narrow is not None and narrow <= COLLINEAR_MM:
                out.append(_in_one_line(seen, s, narrow))
                continue
        if nothing:
            continue  # too few are seen, and `segment seen` says so
        moved = "" if verdict == "pass" else _moved(seen, s, point, limits)
        out.append(Finding("cluster fit", SEGMENTS[s], value, limit, "mm", verdict, _SAID[verdict] + moved))
        if verdict == "reject":
            wrong[SEGMENTS[s]] = value
        if verdict != "reject":
            out += _at_times(seen, s, float(worst[s]), point, limits)
    if another := _another(wrong, limits):  # one fault, one row
        return [*(f for f in out if f.subject not in wrong), another]
    return out


def _narrow(points: FloatArray) -> float | None:
    """Median spread [mm] of a segment's markers away from their best line, where three are seen; None where none are."""
    shown = np.flatnonzero((np.isfinite(points[..., 0]).sum(axis=1)) >= 3)
    few = shown[:: max(1, len(shown) // _LOOKED_AT)]
    return float(np.median(second_spread(points[few]))) if len(few) else None


def _in_one_line(seen: Recorded, s: int, narrow: float) -> Finding:
    assert seen.rig is not None
    advice = (
        f"{seen.named(seen.rig.columns[s])} are seen, but lie on one line in this trial, so the turn about it is unknown and "
        "nothing that needs this segment is given: a marker was put back elsewhere, or a label stands on a wrong point."
    )
    return Finding("collinear cluster", SEGMENTS[s], narrow, COLLINEAR_MM, "mm", "reject", advice)


def _middle_and_worst(rms: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Median and worst twentieth of each column; NaN where a column is empty."""
    order = np.sort(rms, axis=0)  # NaN last
    count = np.isfinite(rms).sum(axis=0)
    at = [np.maximum(np.ceil(share * count).astype(int) - 1, 0) for share in (0.5, _WORST)]
    usual, worst = (np.take_along_axis(order, k[None], axis=0)[0] for k in at)
    return usual, worst


def _at_times(seen: Recorded, s: int, worst: float, point: FloatArray, limits: Limits) -> list[Finding]:
    """A fit that is bad only for a while: a marker knocked, a plate loose, skin that deforms."""
    verdict, limit = judged(limits, f"fit_{seen.kinds[s]}_at_times", worst)
    if verdict == "pass":
        return []
    assert seen.told is not None
    worse = np.asarray(np.nan_to_num(seen.told.rms[:, s]) >= worst)
    bad = np.flatnonzero(worse)
    times = bad * seen.sampled / seen.rate_hz
    advice = (
        f"in the worst twentieth of the frames, between {times[0]:.2f} and {times[-1]:.2f} s, the markers leave the shape of "
        "the standing trial by this much: one was knocked or mislabelled, or the skin deforms."
    )
    advice += _moved(seen, s, point[bad], limits)
    when = stretches(worse, seen.rate_hz / seen.sampled)
    return [Finding("cluster fit at times", SEGMENTS[s], worst, limit, "mm", verdict, advice, when)]


def _moved(seen: Recorded, s: int, point: FloatArray, limits: Limits) -> str:
    """Names the one marker without which the rest keep their shape; empty where no single one does."""
    assert seen.rig is not None
    columns, model = seen.rig.columns[s], seen.rig.models[s]
    without = leave_one_out(model, point[:, columns])
    if np.isnan(without.rms_without).all():
        return ""
    k = int(np.nanargmin(without.rms_without))
    everything = float(np.nanmedian(rigid_fit(model, point[:, columns]).rms))
    others = np.delete(without.rms_without, k)
    if without.rms_without[k] > limits["moved_share"].value * min(everything, float(np.nanmin(others))):
        return ""
    if without.rms_without[k] > limits[f"fit_{seen.kinds[s]}_review"].value:
        return ""  # the rest is not sound without it either: several moved, and its distance would be theirs
    label, offset, rest = seen.labels[columns[k]], without.offset[k], without.rms_without[k]
    return f" Moved: {label}, by {offset:.0f} mm; without it the fit is {rest:.1f} mm."


def of_another_body(seen: Recorded, limits: Limits) -> bool:
    """Whether so many segments fit badly, plates among them on both legs, that names cannot be the reason."""
    if seen.told is None:
        return False
    usual, _ = _middle_and_worst(seen.told.rms)
    with np.errstate(invalid="ignore"):
        wrong = [s for s in range(len(SEGMENTS)) if usual[s] > limits[f"fit_{seen.kinds[s]}_reject"].value]
    return len(wrong) >= limits["wrong_for_names"].value


def _another(wrong: dict[str, float], limits: Limits) -> Finding | None:
    """Several segments at once are not several accidents."""
    least = limits["wrong_segments"].value
    if len(wrong) < least:
        return None
    values = ", ".join(f"{segment} {value:.0f} mm" for segment, value in wrong.items())
    advice = (
        f"segments that fit as another body would, {values}, have another shape than in the standing trial: it is another "
        "person's, or of another day; name the right one with static: in the session file."
    )
    return Finding("standing trial of another body", "file", float(len(wrong)), least, "1", "reject", advice)
