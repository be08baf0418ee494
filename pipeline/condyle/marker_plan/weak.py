"""Weak geometry: segments whose landmarks make a narrow cluster, or that have no marker to spare."""

from condyle.body_names import SEGMENTS
from condyle.findings import Finding
from condyle.marker_plan.worn import Wearer, trial_of
from condyle.mechanics.rigid_fit import second_spread
from condyle.stages.body import tracking_names

WEAK_MM = 25.0  # ours: a cluster this narrow turns by 1.6 degrees for 1 mm of noise on three markers


def weak_geometry(wearer: Wearer) -> list[Finding]:
    """Segments whose landmarks alone make a narrow cluster; the places of other markers are not known from the set."""
    out = []
    trial = trial_of(wearer, wearer.static, "static", "both", ())
    names = [str(n) for n in trial["marker"].values]
    for segment, points in tracking_names(trial).items():
        if segment not in SEGMENTS or len(points) < 3:
            continue
        unknown = [n for n in points if n not in names or n not in wearer.markers.landmarks]
        if unknown:
            if len(points) == 3:
                words = "three tracking points only: one that is lost takes the segment with it."
                out.append(Finding("spare tracking points", segment, 3.0, 4.0, "1", "review", words))
            continue
        spread = float(second_spread(wearer.static[0, [names.index(n) for n in points]]))
        if spread < WEAK_MM:
            words = "the tracking points lie nearly on one line, so that noise turns the segment; spread them."
            out.append(Finding("narrow cluster", segment, spread, WEAK_MM, "mm", "review", words))
        if len(points) == 3:
            words = "three tracking points only: one that is lost takes the segment with it."
            out.append(Finding("spare tracking points", segment, 3.0, 4.0, "1", "review", words))
    return out
