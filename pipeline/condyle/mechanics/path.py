"""How does a point travel through a squat, seen from the front?"""

from typing import NamedTuple

import numpy as np
from scipy.signal import find_peaks

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.smoothness import sparc


class PathMeasures(NamedTuple):
    """The measures of one point's path through one repetition, in mm, degrees, percent and counts."""

    travel: float
    range: float
    path_length: float
    peak_medial: float
    peak_lateral: float
    peak_percent: float
    path_angle_descent: float
    path_angle_ascent: float
    end_offset: float
    path_ratio: float
    reversals: float
    sparc: float


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


def percent_of(frame: int, start: int, bottom: int, end: int) -> float:
    """Where a frame lies within its repetition.

    frame     : () [frame] from start to end
    start     : () [frame] 0 percent
    bottom    : () [frame] 50 percent
    end       : () [frame] 100 percent
    returns   : () [%] linear in time on the way down and on the way up
    undefined : a way down or up without length gives 50
    missing   : not applicable
    source    : ours
    """
    if frame <= bottom:
        return 50.0 * (frame - start) / (bottom - start) if bottom > start else 50.0
    return 50.0 + 50.0 * (frame - bottom) / (end - bottom)


def path_measures(
    position: FloatArray, start: int, bottom: int, end: int, rate_hz: float, noise_mm: float = 5.0
) -> PathMeasures:
    """Everything that is measured on the path of one point through one repetition.

    position  : (T, 3) [mm] forward, up, medial of the stance side
    start     : () [frame] start of the repetition
    bottom    : () [frame] bottom
    end       : () [frame] end
    rate_hz   : () [Hz] frames per second
    noise_mm  : () [mm] swings that count as a reversal
    returns   : PathMeasures [mm, deg, %, 1]; lateral is negative; path_length and range are medio-lateral, from start
                to end; path_ratio is path_length over |travel| (in and straight back out is 2)
    undefined : path_ratio where the net travel is under 1 mm; path angles of a path shorter than 1 mm: NaN
    missing   : a measure whose own frame is missing is NaN; peaks and range are taken over what is seen; path_length,
                path_ratio, reversals and sparc need every frame
    source    : distance, displacement: Weeks, Carty & Horan 2015; SPARC: Balasubramanian et al. 2015; the rest ours
    """
    part = position[start : end + 1]
    medial, up = part[:, 2], part[:, 1]
    low, last = bottom - start, end - start
    away = medial - medial[0]
    seen = np.isfinite(away)
    whole = bool(seen.all())
    travel, end_offset = float(away[low]), float(away[last])
    most, least, when = np.nan, np.nan, np.nan
    if seen.any():
        most, least = float(np.nanmax(away)), float(np.nanmin(away))
        when = percent_of(start + int(np.nanargmax(np.abs(away))), start, bottom, end)
    length = float(np.abs(np.diff(medial)).sum())
    visible = medial[np.isfinite(medial)]
    down, back = path_angle(
        np.array([travel, medial[low] - medial[last]]), np.array([up[0] - up[low], up[last] - up[low]])
    ).tolist()
    step = np.diff(part, axis=0) * rate_hz
    return PathMeasures(
        travel=travel,
        range=float(np.ptp(visible)) if visible.size else np.nan,
        path_length=length,
        peak_medial=most,
        peak_lateral=least,
        peak_percent=when,
        path_angle_descent=down,
        path_angle_ascent=back,
        end_offset=end_offset,
        path_ratio=length / abs(travel) if abs(travel) >= 1.0 else np.nan,
        reversals=float(reversals(medial, noise_mm)) if whole else np.nan,
        sparc=float(sparc(np.sqrt((step**2).sum(axis=1)), rate_hz)) if whole else np.nan,
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
