"""What the words in the results mean: sources and causes, and the keys of the manifest."""

SOURCES: dict[str, str] = {
    "sagittal": "the squat itself: pelvis tilt, hip and knee flexion, with the other angles held at the baseline",
    "pelvis_rotation": "the pelvis turning about the vertical",
    "pelvis_obliquity": "the pelvis dropping or hiking on the free side",
    "hip_adduction": "the thigh adducting in the pelvis",
    "hip_internal_rotation": "the thigh rotating internally in the pelvis",
    "knee_adduction": "the shank adducting on the thigh (varus; valgus is negative)",
    "knee_internal_rotation": "the shank rotating internally on the thigh",
    "foot_on_floor": "from below: the foot rolling, pivoting or lifting on the floor",
    "ankle": "from below: the shank on the foot; with a one-piece foot this is pronation",
    "knee": "from below: the thigh on the shank",
    "remainder": "measured less modelled: soft tissue and joint translation, which the angles do not explain",
}
CAUSES: dict[str, str] = {
    "none": "the change's whole interval lies within the limit of `little_deg` (or `little_mm`)",
    "at_the_hip": "the leg is named, and within it the hip leads",
    "with_the_pelvis": "the pelvis (rotation and obliquity) is named",
    "in_the_leg": "the leg (hip and knee) is named, and hip and knee are not told apart",
    "mixed": "pelvis and leg both contribute a large share",
    "not_separable": "the parts cannot be told apart with these markers and this uncertainty: a result, not a failure",
}
CAUSES_BELOW: dict[str, str] = {
    "little": "little motion to explain",
    "foot_on_floor": "the foot moved on the floor",
    "ankle": "the shank moved on the foot",
    "knee": "the thigh moved on the shank",
    "mixed": "more than one of them",
    "not_separable": "cannot be told apart",
    "not_measured": "the marker set does not show it",
}
MANIFEST: dict[str, str] = {
    "participant, session": "pseudonym and name of the session",
    "condyle": "version, and SHA-256 over the program's sources",
    "versions, platform": "versions of Python and of the libraries that numbers depend on",
    "inputs": "each file read: trial, file (empty where the trial has a `name:`), SHA-256",
    "settings_sha256": "one SHA-256 over session file, marker set and pipeline; results of other settings are not overwritten",
    "settings": (
        "session file, marker set and pipeline as they were used, every default written out; the file of a trial that has a "
        "`name:` is given as `sha256:...`, and folders whose names are no pseudonyms are left out"
    ),
    "session_folder": "the session's folder, relative to the results; empty where a folder's name is no pseudonym",
    "pipeline_file": "the lab's own pipeline, relative to the results; empty for a shipped one and in a person's folder",
    "corrections, accepted": "every correction by hand and every finding let through, each with its reason",
    "warnings": "every finding that is not `pass`; `times_s` has from and to of each moment that it is about",
    "trials": "each trial: `processed` or `rejected`",
    "outputs": "the files written",
    "seconds": "time that each stage took",
}
