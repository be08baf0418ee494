"""What sessions laid on each other say, a line for each cause."""

from collections.abc import Hashable, Iterable, Mapping
from itertools import groupby
from typing import Any

import numpy as np
import pandas as pd

from condyle.body_names import CONTRACT_ANGLES, JOINT_ANGLES, SEGMENTS, SIDES
from condyle.files.limits import load_limits
from condyle.mechanics.arrays import FloatArray
from condyle.repeatability.angle_tables import ABOUT
from condyle.repeatability.pair import Pair
from condyle.repeatability.placing_tables import distances_table

KEY_MEASURES = (  # the ones that decide; the others stand in the table
    *("fppa_change", "knee_travel", "hip_adduction_change", "hip_internal_rotation_change", "pelvis_rotation_change"),
)
_A_START = 5  # ours: from fewer people the error itself is hardly known
_WORDS = (("forward", "back"), ("up", "down"), ("right", "left"))
_ALIKE_DEG = 60.0  # ours: displacements this near in direction are one
_LISTED = 3


def pair_sentences(pairs: Iterable[Pair]) -> list[str]:
    """Landmarks placed differently and axes turned, one line a cause; then how many pairs show nothing."""
    out: list[str] = []
    sound = count = 0
    for _, group in groupby(pairs, key=lambda p: p.first.participant):
        own = list(group)
        first_is_off = _in_every_pair(own)
        out += _first_off(own, first_is_off)
        for pair in own:
            out += _pair_lines(pair, set(first_is_off))
        count += len(own)
        sound += sum(not p.reviewed for p in own)
    if sound:
        limit = load_limits("sessions_compared")["axes_review"].value
        out.append(
            f"{sound} of {count} later session{'s' * (count > 1)}: no landmark beyond palpation, no axes turned by more than "
            f"{limit:g} degrees that are surely turned, against the participant's first"
        )
    return out


def _first_off(pairs: list[Pair], names: Mapping[str, list[FloatArray]]) -> list[str]:
    who = f"review {pairs[0].first.participant} {pairs[0].first.session} against each of {len(pairs)} others"
    return [f"{who}: {name} placed {_words(-np.mean(shifts, axis=0))}" for name, shifts in names.items()]


def _pair_lines(pair: Pair, said: set[str]) -> list[str]:
    """``said`` are the landmarks that have a line of their own already."""
    who = f"review {_who(pair)}"
    if pair.found.scattered:
        return [
            f"{who}: the landmarks lie {pair.found.scale:.1f} times as far apart as palpation explains, so none is named; see "
            f"whether it is the same person, and whether the marker set gives every label its own landmark{_lengths(pair)}"
        ]
    out = []
    open_to = {(s, a): pair.turned_by(s, a) for s, a in pair.turned}
    for k in pair.found.moved:
        turned = [where for where, by in open_to.items() if by == k]
        open_to = {where: by for where, by in open_to.items() if by != k}
        if pair.names[k] not in said:
            out.append(f"{who}: {_one_moved(pair, k)}{_and_turns(pair, k, turned)}")
    if open_to:
        out.append(f"{who}: {_turned_words(pair, open_to)}")
    return out


def _lengths(pair: Pair) -> str:
    """The distance that differs most: what the eye can check."""
    table = distances_table([pair])
    if not len(table) or table["verdict"].iloc[0] != "review":
        return ""
    row = table.iloc[0]
    return f" ({row['from']} to {row['to']}: {row['first_mm']:.0f} mm, then {row['second_mm']:.0f})"


def _turned_words(pair: Pair, turned: Mapping[tuple[int, int], int | None]) -> str:
    """Axes that are turned although no single landmark is beyond palpation, and what turns them."""
    each = []
    for (segment, axis), by in list(turned.items())[:_LISTED]:
        turn, within = abs(pair.effects.turn[segment, axis]), pair.turn_within[segment, axis]
        cause = "several landmarks" if by is None else f"{pair.names[by]}, {_words(pair.displacement[by])}"
        size = f"{turn:.0f} degrees about its {ABOUT[axis]} axis ({max(turn - within, 0):.0f} to {turn + within:.0f})"
        each.append(f"{SEGMENTS[segment]} by {size} through {cause}")
    more = f"; and {len(turned) - _LISTED} more" if len(turned) > _LISTED else ""
    named = _largest(_left_of_the_named(pair))
    shifts = f"; shifts {', '.join(named)}" if named else ""
    return f"axes turned, though their landmarks are within palpation: {'; '.join(each)}{more}{shifts}"


def _left_of_the_named(pair: Pair) -> FloatArray:
    """Shifts of the angles (2, A) [deg] without what the landmarks that have a line of their own make of them."""
    own = [pair.effects.angle - pair.effects.angle_without[k] for k in pair.found.moved]
    return np.asarray(pair.effects.angle - np.sum(own, axis=0)) if own else pair.effects.angle


def _and_turns(pair: Pair, k: int, turned: list[tuple[int, int]]) -> str:
    axes = [f"{SEGMENTS[s]} by {abs(pair.effects.turn[s, a]):.0f} degrees" for s, a in turned]
    return f"; turns the axes of {', '.join(axes)}{_shifts(pair, k)}" if axes else ""


def _shifts(pair: Pair, k: int) -> str:
    """The angles that this landmark's displacement alone shifts most."""
    named = _largest(pair.effects.angle - pair.effects.angle_without[k])
    return f", shifts {', '.join(named)}" if named else ""


def _largest(shift: FloatArray) -> list[str]:
    """The angles shifted most, from one degree on."""
    shift = np.nan_to_num(shift[:, : len(CONTRACT_ANGLES)])
    order = np.argsort(-np.abs(shift), axis=None, kind="stable")[:_LISTED]
    places = [(int(s), int(a)) for s, a in zip(*np.unravel_index(order, shift.shape), strict=True)]
    return [f"{JOINT_ANGLES[a]} {SIDES[s]} by {shift[s, a]:+.0f}" for s, a in places if abs(shift[s, a]) >= 1.0]


def _in_every_pair(pairs: list[Pair]) -> dict[str, list[FloatArray]]:
    """Landmarks that lie the same way off against every later session: then the first one is the odd one out."""
    if len(pairs) < 2:
        return {}
    by_name: dict[str, list[FloatArray]] = {}
    for pair in pairs:
        for k in pair.found.moved:
            by_name.setdefault(pair.names[k], []).append(pair.displacement[k])
    return {name: s for name, s in by_name.items() if len(s) == len(pairs) and _alike(s)}


def _alike(shifts: list[FloatArray]) -> bool:
    mean = np.mean(shifts, axis=0)
    cosines = [s @ mean / max(float(np.linalg.norm(s) * np.linalg.norm(mean)), 1e-9) for s in shifts]
    return bool(min(cosines) > np.cos(np.deg2rad(_ALIKE_DEG)))


def _one_moved(pair: Pair, k: int) -> str:
    others = pair.found.or_else.get(k, {})
    if not others:
        return f"{pair.names[k]} placed {_words(pair.displacement[k])} (limit {pair.limit[k]:.0f} mm)"
    each = [f"{pair.names[k]} {_words(pair.displacement[k])}"]
    each += [f"{pair.names[j]} {_words(pair.in_segment(j, shift))}" for j, shift in others.items()]
    return f"one of these was placed differently, and the others cannot tell which: {'; or '.join(each)}"


def reliability_sentences(table: pd.DataFrame) -> list[str]:
    """SEM and minimal detectable change of what decides, a line each."""
    known = table.set_index("measure") if len(table) else table
    out = []
    for measure in KEY_MEASURES:
        if measure in known.index:
            for row in known.loc[[measure]].to_dict("records"):
                out.append(
                    f"{measure}: SEM {row['sem_mean']:.2f}, minimal detectable change {row['mdc95_mean']:.2f} {row['unit']} for "
                    f"the mean of {row['repetitions']:.0f}, {row['mdc95_single']:.2f} for one{_icc(row)} ({_basis(row)})"
                )
    if len(table) > len(out):
        out.append(f"repeatability of {len(table) - len(out)} more measures: in repeatability.csv (--out DIR)")
    return out


def _icc(row: Mapping[Hashable, Any]) -> str:
    return f", ICC(2,1) {row['icc_2_1']:.2f}" if np.isfinite(row["icc_2_1"]) else ""


def _basis(row: Mapping[Hashable, Any]) -> str:
    people = int(row["participants"])
    few = "; too few to know the error well" if people < _A_START else ""
    return f"n = {people} participant{'' if people == 1 else 's'}, {int(row['sessions'])} sessions{few}"


def _words(shift: FloatArray) -> str:
    """Size and direction of a displacement in the segment's axes."""
    parts = [(abs(v), w[0] if v > 0 else w[1]) for v, w in zip(shift.tolist(), _WORDS, strict=True)]
    named = [f"{v:.0f} {word}" for v, word in sorted(parts, reverse=True) if v >= 1.0]
    return f"{float(np.linalg.norm(shift)):.0f} mm off: {', '.join(named)}"


def _who(pair: Pair) -> str:
    testers = f" ({pair.second.tester} against {pair.first.tester})" if pair.other_tester else ""
    return f"{pair.first.participant} {pair.second.session} against {pair.first.session}{testers}"
