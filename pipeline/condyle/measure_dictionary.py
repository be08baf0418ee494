"""Every measure of a repetition: name, unit, sign, definition, source. The output dictionary comes from this table."""

from typing import NamedTuple

from condyle.body_names import ANGLE_WORDS, JOINT_ANGLES

POINTS = ("knee", "patella", "pelvis", "shoulders", "lateral_epicondyle")
POINT_WORDS = {
    "knee": "knee centre, carried by the thigh",
    "patella": "patella marker",
    "pelvis": "mid-point of the ASIS, carried by the pelvis",
    "shoulders": "mid-point of the acromion markers",
    "lateral_epicondyle": "lateral knee marker, where the set gives no knee centre",
}


class Measure(NamedTuple):
    """One measure: what a reader of a table must know about it."""

    name: str
    unit: str
    positive: str
    definition: str
    source: str


_ANGLE_SUFFIX = {  # suffix: unit, definition
    "at_start": ("deg", "at the start of the repetition"),
    "start_from_static": ("deg", "at the start of the repetition less the standing trial"),
    "at_bottom": ("deg", "at the bottom (peak knee flexion)"),
    "at_60_knee_flexion": ("deg", "where the knee passes 60 degrees of flexion on the way down"),
    "change": ("deg", "at the bottom less at the start"),
    "max": ("deg", "largest value from start to end"),
    "min": ("deg", "smallest value from start to end"),
    "max_percent": ("%", "when the largest value is reached: 0 start, 50 bottom, 100 end"),
    "range": ("deg", "largest less smallest value from start to end"),
}
_POINT_SUFFIX = {  # suffix: unit, positive, definition, source
    "travel": ("mm", "medial", "medio-lateral travel from start to bottom", "ours"),
    "range": (
        *("mm", "always", "largest less smallest medio-lateral position from start to end"),
        "displacement of Weeks, Carty & Horan 2015, BMC Musculoskelet Disord 16:271",
    ),
    "path_length": (
        *("mm", "always", "whole medio-lateral path from start to end"),
        "distance travelled of Weeks, Carty & Horan 2015, BMC Musculoskelet Disord 16:271",
    ),
    "peak_medial": ("mm", "medial", "most medial position from start to end, less the start", "ours"),
    "peak_lateral": ("mm", "medial", "most lateral position from start to end, less the start; negative", "ours"),
    "peak_percent": ("%", "always", "when the point is furthest from its start: 0 start, 50 bottom, 100 end", "ours"),
    "path_angle_descent": (
        "deg",
        "medial",
        "straight line start to bottom against the vertical, frontal plane",
        "ours",
    ),
    "path_angle_ascent": ("deg", "medial", "straight line end to bottom against the vertical, frontal plane", "ours"),
    "end_offset": ("mm", "medial", "medio-lateral position at the end less at the start", "ours"),
    "path_ratio": ("1", "always", "path_length over |travel|; in and straight back out is 2", "ours"),
    "reversals": ("1", "always", "medio-lateral turns larger than the noise; in and back out is 1", "ours"),
    "sparc": (
        *("1", "never", "spectral arc length of the speed from start to end; nearer to 0 is smoother"),
        "Balasubramanian et al. 2015, J NeuroEng Rehabil 12:112",
    ),
}
_FOOT_LINE = "of the line heel - second metatarsal, seen from above"
_OTHERS = (
    Measure("knee_travel_percent_leg", "%", "medial", "knee_travel over the leg length", "ours"),
    Measure("hip_centre_shift", "mm", "medial", "medio-lateral travel of the hip centre, start to bottom", "ours"),
    Measure("knee_relative_to_hip_travel", "mm", "medial", "knee_travel less hip_centre_shift", "ours"),
    Measure("knee_over_foot_start", "mm", "medial", f"knee centre medial {_FOOT_LINE}, at the start", "ours"),
    Measure("knee_over_foot_bottom", "mm", "medial", f"knee centre medial {_FOOT_LINE}, at the bottom", "ours"),
    Measure("knee_over_foot_peak", "mm", "medial", f"knee centre most medial {_FOOT_LINE}, start to end", "ours"),
    Measure("thigh_tilt", "deg", "knee medial of the hip", "thigh in the frontal plane, at the bottom", "ours"),
    Measure("shank_tilt", "deg", "knee medial of the ankle", "shank in the frontal plane, at the bottom", "ours"),
    Measure("shank_forward_lean", "deg", "knee before the ankle", "shank in the sagittal plane, at the bottom", "ours"),
    Measure("heel_lift", "mm", "up", "highest place of the heel marker from start to end, less the start", "ours"),
    Measure(
        "foot_axis_to_heading", "deg", "toes in", "line heel - second metatarsal to the heading, at the start", "ours"
    ),
    Measure(
        *("pelvis_over_foot_at_start", "deg", "stance side forward"),
        *("pelvis turned on the stance foot before the bout's first repetition, less the standing trial", "ours"),
    ),
    Measure("depth", "mm", "down", "drop of the hip centre from start to bottom", "ours"),
    Measure("descent_time", "s", "always", "start to bottom", "ours"),
    Measure("ascent_time", "s", "always", "bottom to end", "ours"),
    Measure(
        *("com_offset_start", "mm", "medial", f"centre of mass medial {_FOOT_LINE}, at the start"),
        "de Leva 1996, J Biomech 29:1223",
    ),
    Measure(
        *("com_offset_bottom", "mm", "medial", f"centre of mass medial {_FOOT_LINE}, at the bottom"),
        "de Leva 1996, J Biomech 29:1223",
    ),
    Measure(
        *("cop_offset_start", "mm", "medial", f"centre of pressure medial {_FOOT_LINE}, at the start"),
        "force plates of the file, extracted by ezc3d",
    ),
    Measure(
        *("cop_offset_bottom", "mm", "medial", f"centre of pressure medial {_FOOT_LINE}, at the bottom"),
        "force plates of the file, extracted by ezc3d",
    ),
)
_PLANAR = "planar; never to be mixed with `fppa`, which stands on joint centres in the participant's frontal plane"
_LATER = (  # given by the stage `contributions`
    Measure(
        "fppa_pelvis_plane_at_bottom",
        "deg",
        "knee medial",
        f"FPPA in the pelvis' own frontal plane ({_PLANAR})",
        "ours",
    ),
    Measure(
        *(
            "fppa_asis_at_bottom",
            "deg",
            "knee medial",
            f"FPPA from the ASIS marker in place of the hip centre ({_PLANAR})",
        ),
        "Willson & Davis 2008, J Orthop Sports Phys Ther 38:606 (from memory)",
    ),
    Measure("fppa_camera_at_bottom", "deg", "knee medial", f"FPPA through the virtual camera ({_PLANAR})", "ours"),
    Measure(
        *("kneecap_camera_travel", "mm", "medial"),
        *(
            "travel of the patella marker (else the knee) through the virtual camera, at the stance foot's distance",
            "ours",
        ),
    ),
    Measure(
        *("kneecap_camera_path_angle", "deg", "medial"),
        *("its path from start to bottom against the vertical, through the virtual camera", "ours"),
    ),
    Measure(
        *("leg_shown_at_bottom", "%", "always"),
        *("least share of thigh and shank length that the frontal plane shows; under 30 % FPPA has no value", "ours"),
    ),
    Measure(
        *("leg_shown_pelvis_plane_at_bottom", "%", "always"),
        *("the same in the pelvis' own frontal plane; under 30 % fppa_pelvis_plane_at_bottom has no value", "ours"),
    ),
    Measure(
        *("leg_shown_asis_at_bottom", "%", "always"),
        "the same for the lines ASIS to knee and knee to ankle in the frontal plane; under 30 % fppa_asis_at_bottom has no "
        "value",
        "ours",
    ),
    Measure(
        *("leg_shown_camera_at_bottom", "%", "always"),
        *("the same across the virtual camera's line of sight; under 30 % fppa_camera_at_bottom has no value", "ours"),
    ),
    Measure(
        *("com_outside_foot_bottom", "mm", "outside"),
        *("centre of mass outside the polygon of the stance foot's markers, at the bottom; negative inside", "ours"),
    ),
    Measure(
        *("hip_adduction_by_pelvis", "deg", "adduction"),
        *("part of hip_adduction_change that the pelvis' moving makes (two-factor Shapley value)", "ours"),
    ),
    Measure(
        *("hip_adduction_by_thigh", "deg", "adduction"),
        *("part of hip_adduction_change that the thigh's moving makes (two-factor Shapley value)", "ours"),
    ),
    Measure(
        *("thigh_twist_range", "deg", "always"),
        *(
            "twist check: range of the turn about the thigh's axis that would keep knee adduction as at the start",
            "ours",
        ),
    ),
    Measure(
        *("fppa_from_hip_rotation_and_knee_adduction", "deg", "knee medial"),
        "contributions of hip internal rotation and knee adduction to FPPA, as a sum, which a twist of the thigh's markers "
        "leaves as it is; given where the twist check is beyond its limit",
        "ours",
    ),
)
ANGLE_SUFFIXES = tuple(_ANGLE_SUFFIX)
POINT_SUFFIXES = tuple(_POINT_SUFFIX)
OTHER_NAMES = tuple(m.name for m in _OTHERS)


def _angle_measures() -> list[Measure]:
    out = []
    for angle in JOINT_ANGLES:
        what, _, sign = ANGLE_WORDS[angle].partition("; positive is ")
        positive, _, how = sign.partition("; ")
        for suffix, (unit, words) in _ANGLE_SUFFIX.items():
            sign = "always" if suffix in ("max_percent", "range") else positive
            definition = f"{what}{f' ({how})' if how else ''}, {words}"
            out.append(Measure(f"{angle}_{suffix}", unit, sign, definition, "angles as in the stage `angles`"))
    return out


def _point_measures() -> list[Measure]:
    return [
        Measure(f"{point}_{suffix}", unit, positive, f"{POINT_WORDS[point]}: {words}", source)
        for point in POINTS
        for suffix, (unit, positive, words, source) in _POINT_SUFFIX.items()
    ]


MEASURES: dict[str, Measure] = {m.name: m for m in (*_angle_measures(), *_point_measures(), *_OTHERS, *_LATER)}
MEASURE_NAMES: tuple[str, ...] = tuple(MEASURES)
