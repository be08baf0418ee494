"""Were markers exchanged, for the whole trial or a part of it, and which relabelling makes them a body again?

Distances inside segments and, more thinly, the joints where segments meet are looked at first; where they are wrong the
stretch is cut out at its jumps, every likely exchange is tried, and the best is named with its frames.
"""

from itertools import pairwise

import numpy as np

from condyle.body_names import SEGMENTS
from condyle.findings import Finding, Seconds, Verdict
from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.gaps import runs_of
from condyle.mechanics.rigidity import Carried, Rig, pair_distances, pairs_of
from condyle.mechanics.spikes import jerks
from condyle.stages.checks.candidates import sides_exchanged
from condyle.stages.checks.exchanges import Candidates, Swap, best_swap, first_looks
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.loose import landmarks_crossed, turned_shoulders
from condyle.stages.checks.mirrored import all_sides_exchanged, mirrored
from condyle.stages.checks.off_segment import farthest
from condyle.stages.checks.recorded import Recorded, whole_segment
from condyle.stages.checks.rigidity import of_another_body
from condyle.stages.checks.subjects import part_of, subjects_of
from condyle.stages.checks.whole_exchanges import whole_exchanges

_MOST_STRETCHES = 20
_GIVE_UP = 5  # where none of the longest stretches is an exchange, the short ones are not looked at


def find_swaps(seen: Recorded, limits: Limits) -> list[Swap]:
    """Every exchange in its full length: frames in which another order of names fits far better."""
    if seen.rig is None or seen.static is None:
        return []
    found = _carried_apart(seen, seen.rig, limits)
    known = seen.with_points(relabelled(seen.point, found)) if found else seen
    return [*found, *turned_shoulders(known, limits)]


def _carried_apart(seen: Recorded, rig: Rig, limits: Limits) -> list[Swap]:
    """Exchanges that segments, what they carry, and the joints between them tell of."""
    crossed = landmarks_crossed(seen, limits)
    if not (crossed.any() or _looks_wrong(seen, limits)) or mirrored(seen, limits) is not None:
        return []
    if of_another_body(seen, limits) and not all_sides_exchanged(seen, limits):
        return []
    told = seen.every
    wrong = np.asarray(_off(seen, seen.point, limits) | _apart(seen, told, limits) | crossed)
    found: list[Swap] = []
    candidates: Candidates = {}
    stretches = _stretches(seen, wrong, limits)
    looks = first_looks(seen, rig, told, wrong, stretches[:_GIVE_UP], candidates, limits)
    for tried, stretch in enumerate(stretches):
        if tried == _GIVE_UP and not found:
            break
        known = list({swap.order.tobytes(): swap.order for swap in found}.values())
        look = looks[tried] if tried < len(looks) else None
        if swap := best_swap(seen, rig, told, wrong, stretch, look, known, candidates, limits):
            found.append(swap)
    return whole_exchanges(seen, rig, told, found, limits) if found else []


def relabelled(point: FloatArray, swaps: list[Swap]) -> FloatArray:
    """The markers under the names they should have had."""
    out = point.copy()
    for swap in swaps:
        out[swap.start : swap.stop] = out[swap.start : swap.stop][:, swap.order]
    return out


def swap_findings(seen: Recorded, swaps: list[Swap], repair: bool) -> list[Finding]:
    """One row per exchange; rejecting unless the pipeline repairs it."""
    out = []
    for swap in swaps:
        share = 100.0 * (swap.stop - swap.start) / max(1, len(seen.point))
        rest = (
            "the stage repair exchanges them back."
            if repair
            else "exchange them in the recording software, or ask for it with repair: {swaps: true}."
        )
        advice = (
            f"exchanged: {what_and_when(seen, swap)}; exchanged back, the body's misfit falls from {swap.before:.0f} to "
            f"{swap.after:.0f} mm; {rest}"
        )
        verdict: Verdict = "review" if repair else "reject"
        when = (during(seen, swap),)
        subjects = subjects_of(part_of(seen, c) for group in swap.moved for c in group)
        out += [Finding("markers exchanged", s, share, 0.0, "%", verdict, advice, when) for s in subjects]
    return out


def what_and_when(seen: Recorded, swap: Swap) -> str:
    """Which labels changed places, and in which frames; labels that the trial does not show are left out."""
    shown: BoolArray = np.asarray(np.isfinite(seen.point[..., 0]).any(axis=0))
    groups = [group for group in swap.moved if shown[list(group)].any()]
    words = "; ".join(seen.named(group) for group in groups)
    assert seen.rig is not None
    everything = sides_exchanged(seen, seen.rig)
    if everything is not None and np.array_equal(everything[shown], swap.order[shown]):
        words = f"all {len(groups)} pairs of left and right labels, against the standing trial"
    first, last = during(seen, swap)
    return f"{words}, frames {swap.start} to {swap.stop - 1} ({first:.2f} to {last:.2f} s, counted from 0)"


def during(seen: Recorded, swap: Swap) -> Seconds:
    """First and last moment of an exchange."""
    return swap.start / seen.rate_hz, (swap.stop - 1) / seen.rate_hz


def _looks_wrong(seen: Recorded, limits: Limits) -> bool:
    """Whether, at a thin look, a distance or a joint of any segment is far off."""
    assert seen.rig is not None
    coarse = seen.point[:: max(1, round(seen.rate_hz / limits["swap_screen_hz"].value))]
    return bool(_off(seen, coarse, limits).any() or _apart(seen, seen.every, limits).any())


def _off(seen: Recorded, point: FloatArray, limits: Limits) -> BoolArray:
    """(T, S) True where a distance inside a segment is far from the standing trial's."""
    assert seen.rig is not None
    assert seen.static is not None
    members = [whole_segment(seen.rig, s) for s in range(len(SEGMENTS))]
    pairs = [pairs_of(m) for m in members]
    every = np.concatenate(pairs)
    change = np.abs(pair_distances(point, every) - pair_distances(seen.static, every))
    plate, skin = limits["swap_screen_plate"].value, limits["swap_screen_skin"].value
    limit = np.concatenate(
        [
            np.where(np.isin(p, seen.rig.columns[s]).all(axis=1) & (seen.kinds[s] == "plate"), plate, skin)
            for s, p in enumerate(pairs)
        ]
    )
    with np.errstate(invalid="ignore"):
        far = change > limit
    edge = np.concatenate([[0], np.cumsum([len(p) for p in pairs])])
    return np.stack([far[:, a:b].any(axis=1) for a, b in pairwise(edge)], axis=-1)


def _apart(seen: Recorded, told: Carried, limits: Limits) -> BoolArray:
    """(T, S) True where segments that meet in a joint are far from each other, or a segment does not fit at all."""
    rig = seen.rig
    assert rig is not None
    with np.errstate(invalid="ignore"):
        out = np.asarray(
            (told.rms > limits["swap_screen_skin"].value) | (told.rider > limits["swap_screen_joint"].value)
        )
        far = told.gap > limits["swap_screen_joint"].value
        slid = told.loose > farthest(seen, rig.loose.columns, limits)
    for k, s in enumerate(rig.loose.segments):
        out[:, s] |= slid[:, k]
    for j, m in enumerate(rig.meetings):
        out[:, m.upper] |= far[:, j]
        out[:, m.lower] |= far[:, j]
    return out


def _stretches(seen: Recorded, wrong: BoolArray, limits: Limits) -> list[tuple[int, int]]:
    """Stretches of wrong frames, cut where a marker jumps or comes back from a gap; the longest of them first."""
    hit: BoolArray = np.asarray(wrong.any(axis=1))
    bend = jerks(seen.point)
    with np.errstate(invalid="ignore"):
        jump: BoolArray = np.zeros(len(hit), dtype=np.bool_)
        jump[1:-1] = (bend > limits["swap_jump"].value).any(axis=1)
    missing = np.isnan(seen.point[..., 0])
    back: BoolArray = np.zeros(len(hit), dtype=np.bool_)
    back[1:] = (missing[1:] != missing[:-1]).any(axis=1)
    out: list[tuple[int, int]] = []
    for start, stop in runs_of(hit):
        cuts = [start, *(start + 1 + np.flatnonzero(jump[start + 1 : stop] | back[start + 1 : stop])).tolist(), stop]
        out += [(a, b) for a, b in pairwise(cuts) if b > a]
    return sorted(out, key=lambda s: s[0] - s[1])[:_MOST_STRETCHES]
