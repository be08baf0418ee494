"""Faults of single markers: hidden, flickering, knocked, put back elsewhere, spikes, ghosts."""

import numpy as np

from tests.fault_case import Case, offset, shift, some_segment


def segment_hidden(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """All markers of a segment hidden around a bottom."""
    half = max(1, round(seconds * case.rate_hz / 2))
    bottom = int(rng.choice(case.bottoms))
    case.point[max(0, bottom - half) : bottom + half, case.tracking[some_segment(case, rng)]] = np.nan


def markers_lost(case: Case, share: float, rng: np.random.Generator) -> None:
    """Two markers of a segment missing in a share of the trial."""
    lost = rng.choice(case.tracking[some_segment(case, rng)], 2, replace=False)
    length = round(share / 100 * len(case.point))
    start = int(rng.integers(0, len(case.point) - length + 1))
    case.point[start : start + length, lost] = np.nan


def flicker(case: Case, per_second: float, rng: np.random.Generator) -> None:
    """A marker that comes and goes."""
    column = int(rng.choice(case.tracking[some_segment(case, rng)]))
    starts = rng.choice(len(case.point) - 5, round(per_second * len(case.point) / case.rate_hz), replace=False)
    case.point[(starts[:, None] + np.arange(4)).ravel(), column] = np.nan


def marker_knocked(case: Case, mm: float, rng: np.random.Generator) -> None:
    """A marker knocked in the middle of the trial, which stays where it went."""
    segment = some_segment(case, rng)
    column = int(rng.choice(case.tracking[segment]))
    start = int(len(case.point) * rng.uniform(0.2, 0.8))
    shift(case, [column], segment, offset(mm, rng), slice(start, None))


def marker_pulled(case: Case, mm: float, rng: np.random.Generator) -> None:
    """A marker off its place for a tenth to a whole second around a bottom, and back."""
    segment = some_segment(case, rng)
    half = max(1, round(rng.uniform(0.05, 0.5) * case.rate_hz))
    bottom = int(rng.choice(case.bottoms))
    frames = slice(max(0, bottom - half), bottom + half)
    shift(case, [int(rng.choice(case.tracking[segment]))], segment, offset(mm, rng), frames)


def marker_moved(case: Case, mm: float, rng: np.random.Generator) -> None:
    """A marker put back elsewhere between the standing trial and this one."""
    segment = some_segment(case, rng)
    shift(case, [int(rng.choice(case.tracking[segment]))], segment, offset(mm, rng), slice(None))


def spikes(case: Case, mm: float, rng: np.random.Generator) -> None:
    """One sample off its path, at a bottom."""
    segment = some_segment(case, rng)
    case.point[int(rng.choice(case.bottoms)), int(rng.choice(case.tracking[segment]))] += offset(mm, rng)


def ghost_between_gaps(case: Case, mm: float, rng: np.random.Generator) -> None:
    """Two samples of a reflection at a bottom, in a gap of 0.8 s of a plate's marker."""
    segment = f"{rng.choice(['thigh', 'shank'])}_{case.side}"
    column, bottom = int(rng.choice(case.tracking[segment])), int(rng.choice(case.bottoms))
    flash = slice(bottom, bottom + 2)
    shift(case, [column], segment, offset(mm, rng), flash)
    half = round(0.4 * case.rate_hz)
    case.point[max(0, bottom - half) : bottom, column] = np.nan
    case.point[bottom + 2 : bottom + half, column] = np.nan
