"""How does a point travel through a squat, seen from the front?"""

from typing import NamedTuple

import numpy as np
from scipy.signal import find_peaks

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.extremes import extremes
from condyle.mechanics.smoothness import sparc


class PathMeasures(NamedTuple):
    """The measures of a path through one repetition, in mm, degrees, percent and counts; an array over points each."""

    travel: FloatArray
    range: FloatArray
    path_length: FloatArray
    peak_medial: FloatArray
    peak_lateral: FloatArray
    peak_percent: FloatArray
    path_angle_descent: FloatArray
    path_angle_ascent: FloatArray
    end_offset: FloatArray
    path_ratio: FloatArray
    reversals: FloatArray
    sparc: FloatArray


def path_angle(medial: FloatArray, drop: FloatArray) -> FloatArray:
    """Angle of a straight path from the vertical.

    medial    : (...) [mm] how far the lower end lies medial of the upper one
    drop      : (...) [mm] how far it lies below
    returns   : (...) [deg] positive is medial; 60 mm in with 60 mm down is 45
    undefined : a path shorter than 1 mm has no angle: NaN
    missing   : NaN
    source    : ours
    """
    angle = np.rad2deg(np.arctan2(medial, drop))
    return np.where(np.hypot(medial, drop) >= 1.0, angle, np.nan)


def reversals(medial: FloatArray, noise_mm: float) -> int:
    """How often a course changes its direction by more than the noise.

    medial    : (T,) [mm] medio-lateral position
    noise_mm  : () [mm] a swing counts where the course comes back by this much
    returns   : () [1] number of turns; in and back out is one
    undefined : fewer than three frames: 0
    missing   : frames with NaN are left out
    source    : turning points whose prominence reaches the noise; ours
    """
    seen = medial[np.isfinite(medial)]
    if seen.size < 3:
        return 0
    return sum(find_peaks(sign * seen, prominence=noise_mm)[0].size for sign in (1.0, -1.0))


def path_measures(
    position: FloatArray, start: int, bottom: int, end: int, rate_hz: float, noise_mm: float = 5.0
) -> PathMeasures:
    """Everything that is measured on the paths of points through one repetition.

    position  : (T, P, 3) [mm] forward, up, medial of the stance side
    start     : () [frame] start of the repetition
    bottom    : () [frame] bottom
    end       : () [frame] end
    rate_hz   : () [Hz] frames per second
    noise_mm  : () [mm] swings that count as a reversal
    returns   : PathMeasures, (P,) [mm, deg, %, 1] each; lateral is negative; path_length and range are medio-lateral,
                from start to end; path_ratio is path_length over |travel| (in and straight back out is 2)
    undefined : path_ratio where the net travel is under 1 mm; path angles of a path shorter than 1 mm: NaN
    missing   : a measure whose own frame is missing is NaN, and peaks and range where a gap may hold them (extremes);
                path_length, path_ratio, reversals and sparc need every frame
    source    : distance, displacement: Weeks, Carty & Horan 2015; SPARC: Balasubramanian et al. 2015; the rest ours
    """
    part = position[start : end + 1]
    medial, up = part[..., 2], part[..., 1]
    low, last = bottom - start, end - start
    away = medial - medial[0]
    whole = np.isfinite(part).all(axis=(0, 2))
    travel = away[low]
    length = np.abs(np.diff(medial, axis=0)).sum(axis=0)
    peak = extremes(medial, low)
    span = peak.high - peak.low
    furthest = np.where(np.isnan(away), -1.0, np.abs(away)).argmax(axis=0)
    speed = np.sqrt((np.diff(part, axis=0) ** 2).sum(axis=-1)) * rate_hz
    net = np.where(np.abs(travel) >= 1.0, np.abs(travel), np.nan)
    turns = np.array([reversals(medial[:, k], noise_mm) for k in range(medial.shape[1])], dtype=float)
    return PathMeasures(
        travel=travel,
        range=span,
        path_length=length,
        peak_medial=peak.high - medial[0],
        peak_lateral=peak.low - medial[0],
        peak_percent=np.where(
            np.isnan(span + medial[0]), np.nan, np.interp(furthest, [0, low, last], [0.0, 50.0, 100.0])
        ),
        path_angle_descent=path_angle(travel, up[0] - up[low]),
        path_angle_ascent=path_angle(medial[low] - medial[last], up[last] - up[low]),
        end_offset=away[last],
        path_ratio=length / net,
        reversals=np.where(whole, turns, np.nan),
        sparc=np.where(whole, sparc(speed.T, rate_hz), np.nan),
    )


def medial_frame(position: FloatArray, side: str, heading: FloatArray | float = 0.0) -> FloatArray:
    """Positions as forward, up, medial of a side, by a heading of their own.

    position  : (..., 3) [mm] participant frame: forward, up, right
    side      : word [1] left or right
    heading   : (...) [rad] turn about the vertical that the forward axis has in the participant frame
    returns   : (..., 3) [mm] forward, up, medial
    undefined : nowhere
    missing   : NaN
    source    : definition
    """
    cosine, sine = np.cos(heading), np.sin(heading)
    x, z = position[..., 0], position[..., 2]
    right = x * sine + z * cosine
    return np.stack([x * cosine - z * sine, position[..., 1], right if side == "left" else -right], axis=-1)


def medial_of_line(position: FloatArray, heel: FloatArray, toe: FloatArray) -> FloatArray:
    """How far a point lies medial of the foot's long axis, seen from above.

    position  : (..., 3) [mm] forward, up, medial
    heel      : (..., 3) [mm] hind end of the line
    toe       : (..., 3) [mm] fore end of the line
    returns   : (...) [mm] square to the line, positive is medial
    undefined : heel and toe above one another: NaN
    missing   : NaN
    source    : definition
    """
    along = (toe - heel)[..., [0, 2]]
    away = (position - heel)[..., [0, 2]]
    length = np.hypot(along[..., 0], along[..., 1])
    length = np.where(length > 1e-9, length, np.nan)
    return np.asarray((along[..., 0] * away[..., 1] - along[..., 1] * away[..., 0]) / length)


def segment_tilt(upper: FloatArray, lower: FloatArray, axis: int) -> FloatArray:
    """Tilt of a segment against the vertical in one plane.

    upper     : (..., 3) [mm] forward, up, medial
    lower     : (..., 3) [mm] likewise
    axis      : () [1] 2 for the frontal plane, 0 for the sagittal plane
    returns   : (...) [deg] positive where the lower end lies medial (forward) of the upper one
    undefined : ends at one place give 0
    missing   : NaN
    source    : definition
    """
    return np.asarray(np.rad2deg(np.arctan2(lower[..., axis] - upper[..., axis], upper[..., 1] - lower[..., 1])))
