"""Does a landmark that tracks nothing stay on its segment? Skin slides under it, but not by the width of a hand."""

import numpy as np

from condyle.findings import Finding, stretches
from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.stages.checks.judging import Limits, judged
from condyle.stages.checks.recorded import Recorded
from condyle.stages.checks.subjects import part_of, subjects_of


def farthest(seen: Recorded, columns: IntArray, limits: Limits) -> FloatArray:
    """(L,) [mm] how far each of these landmarks may be from where its segment carries it."""
    slides = {"patella": "patella", "acromion": "acromion"}
    return np.array([limits[f"off_segment_{slides.get(seen.names[c][:-2], 'other')}"].value for c in columns])


def off_segment_findings(seen: Recorded, limits: Limits) -> list[Finding]:
    """A row per segment that landmarks leave; of markers that are under their own names as far as exchanges tell."""
    assert seen.rig is not None
    out = []
    for s, kind in enumerate(seen.kinds):
        columns, off = _off(seen, s, limits)
        with np.errstate(invalid="ignore"):
            far = off > farthest(seen, columns, limits)
            far &= ~(
                seen.every.rms[:, s, None] > limits[f"fit_{kind}_reject"].value
            )  # else the cluster is what is wrong
        known = np.isfinite(off)
        shares = 100.0 * far.sum(axis=0) / np.maximum(known.sum(axis=0), 1)
        named = [k for k, share in enumerate(shares) if judged(limits, "off_segment", float(share))[0] != "pass"]
        if named:
            out += _rows(seen, columns[named], far[:, named], off[:, named], float(shares[named].max()), limits)
    return out


def _off(seen: Recorded, s: int, limits: Limits) -> tuple[IntArray, FloatArray]:
    """Columns of a segment's loose landmarks and riders, and (T, L) [mm] their distances from where it carries them."""
    assert seen.rig is not None
    mine = seen.rig.loose.segments == s
    columns, off = seen.rig.loose.columns[mine], seen.every.loose[:, mine]
    riders = seen.rig.riders[s]
    with np.errstate(invalid="ignore"):
        rider_far = bool((seen.every.rider[:, s] > limits["off_segment_other"].value).any())
    if not rider_far:  # nearly always
        return columns, off
    turned = np.einsum("tij,pj->tpi", seen.every.rotation[:, s], seen.rig.rider_models[s])
    placed = turned + seen.every.translation[:, s, None]
    ridden = np.linalg.norm(seen.point[:, riders] - placed, axis=-1)
    return np.concatenate([columns, riders]), np.concatenate([off, ridden], axis=1)


def _rows(
    seen: Recorded, columns: IntArray, far: BoolArray, off: FloatArray, share: float, limits: Limits
) -> list[Finding]:
    verdict, limit = judged(limits, "off_segment", share)
    any_far: BoolArray = np.asarray(far.any(axis=1))
    first, last = np.flatnonzero(any_far)[[0, -1]]
    when = f"frames {first} to {last} ({first / seen.rate_hz:.2f} to {last / seen.rate_hz:.2f} s, counted from 0)"
    advice = (
        f"off by up to {np.nanmax(off[any_far]):.0f} mm from where the segment carries it by the standing trial: "
        f"{seen.named(columns)}, {when}. No exchange of names explains it: the label stands on another point, or the marker fell "
        "off. Correct the label, or leave the marker out of this trial with leave_out: {markers: [...]}."
    )
    subjects = subjects_of(part_of(seen, int(c)) for c in columns)
    times = stretches(any_far, seen.rate_hz)
    return [Finding("landmark off its segment", s, share, limit, "%", verdict, advice, times) for s in subjects]
