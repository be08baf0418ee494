"""Every fault of a recording, at several sizes: names, single markers, whole segments, time."""

from tests.fault_case import Kind
from tests.faults_of_markers import (
    flicker,
    ghost_between_gaps,
    marker_knocked,
    marker_moved,
    marker_pulled,
    markers_lost,
    segment_hidden,
    spikes,
)
from tests.faults_of_names import (
    another_person,
    exchange_between_segments,
    exchange_clusters,
    exchange_in_both_files,
    exchange_in_segment,
    exchange_left_right,
    exchange_legs,
    exchange_rider,
    exchange_riders_sides,
    left_handed,
    standing_pair_exchanged,
)
from tests.faults_of_segments import (
    cluster_remounted,
    cluster_slides,
    cluster_turned,
    epicondyles_turned,
    landmark_back_elsewhere,
    landmark_leaps,
    landmark_misplaced,
    pelvis_slides,
    segment_leaps,
)
from tests.faults_of_time import (
    frames_doubled,
    frames_dropped,
)

KINDS = (
    Kind("two markers of a segment exchanged", exchange_in_segment, (0.1, 0.5, 0), "s (0: all)"),
    Kind("left and right landmark exchanged", exchange_left_right, (0.1, 0.5, 0), "s (0: all)"),
    Kind("thigh and shank marker exchanged", exchange_between_segments, (0.1, 0.5, 0), "s (0: all)"),
    Kind("plates of both legs exchanged", exchange_clusters, (0.5, 2, 0), "s (0: all)"),
    Kind("legs exchanged", exchange_legs, (0.5, 2, 0), "s (0: all)"),
    Kind("landmarks exchanged in both files", exchange_in_both_files, (0,), "", "every"),
    Kind("left and right exchanged, tracking nothing", exchange_riders_sides, (0.5, 2, 0), "s (0: all)", "every"),
    Kind("landmark and neighbour exchanged", exchange_rider, (0.5, 2, 0), "s (0: all)", "every"),
    Kind("segment hidden at a bottom", segment_hidden, (0.3, 0.6, 1.0), "s"),
    Kind("two markers of a segment lost", markers_lost, (20, 50, 100), "%"),
    Kind("marker flickers", flicker, (2, 4), "1/s"),
    Kind("marker knocked", marker_knocked, (10, 20, 40), "mm"),
    Kind("marker off its place for a while", marker_pulled, (15, 30, 60), "mm"),
    Kind("marker put back elsewhere", marker_moved, (10, 20, 40), "mm"),
    Kind("plate put back, marker by marker", cluster_remounted, (5, 10, 20), "mm"),
    Kind("spike at a bottom", spikes, (15, 30, 100), "mm"),
    Kind("ghost between two gaps", ghost_between_gaps, (8, 20, 60), "mm"),
    Kind("another person's standing trial", another_person, (0,), ""),
    Kind("pair exchanged in the standing trial", standing_pair_exchanged, (0,), ""),
    Kind("left-handed axes", left_handed, (0,), ""),
    Kind("frames dropped", frames_dropped, (1, 3), "frames", "smallest"),
    Kind("frames doubled", frames_doubled, (1, 3), "frames", "smallest"),
    Kind("plate turned as a whole", cluster_turned, (3, 6, 9, 12, 15), "deg", "smallest"),
    Kind("plate slides over the trial", cluster_slides, (3, 6, 10, 20), "mm", "smallest"),
    Kind("segment leaps as a whole", segment_leaps, (10, 15, 25, 40), "mm", "smallest"),
    Kind("pelvis slides over the trial", pelvis_slides, (10, 20, 40, 60), "mm", "smallest"),
    Kind("landmark that tracks nothing leaps", landmark_leaps, (20, 30, 50, 80), "mm", "smallest"),
    Kind("kneecap elsewhere after a gap", landmark_back_elsewhere, (20, 40, 60, 80), "mm", "smallest"),
    Kind("landmark misplaced", landmark_misplaced, (10, 20, 40, 60, 80, 100), "mm", "smallest"),
    Kind("epicondyles turned about the thigh", epicondyles_turned, (15, 25, 35, 45), "deg", "smallest"),
)
